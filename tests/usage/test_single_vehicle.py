"""One vehicle in plain floats gives the same figures as the arrays, and loads no numpy."""

from __future__ import annotations

import math
import subprocess
import sys
from datetime import date, timedelta

import numpy as np
import pytest

from fleetcare.quantities import DateSpan
from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import PaceState, assimilate_all, dispersion, start
from fleetcare.usage.priors import SHIPPED_SEASON, Priors
from fleetcare.usage.running_days import RunningDays, season_days
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import AheadOf, Pace, own_dispersion, start_pace, with_increment, with_increments
from tests.house.tree import ROOT
from tests.usage.test_pace_filter import GOLDEN

SHIPPED = Priors()
VEHICLES, MOST = 5000, 24
SEED = 20261
HAIR = 1e-9


def drawn_increments(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """(MOST, VEHICLES) distances and operational days: 0 to 24 increments each, with standstill and wild ones."""
    shape = (MOST, VEHICLES)
    days = np.exp(rng.uniform(np.log(0.02), np.log(3000.0), shape))
    usual = rng.random(shape) < 0.8
    days[usual] = rng.uniform(5.0, 60.0, shape)[usual]
    km = days * np.exp(rng.normal(SHIPPED.m0, 0.7, shape))
    km[rng.random(shape) < 0.1] = 0.0
    km *= np.where(rng.random(shape) < 0.03, 10.0 ** rng.uniform(-3, 4, shape), 1.0)
    days[np.arange(MOST)[:, None] >= rng.integers(0, MOST + 1, VEHICLES)] = 0.0
    return km, days


def drawn_distances(rng: np.random.Generator) -> np.ndarray:
    """(VEHICLES,) from nothing and less over tiny to huge and never."""
    km = np.exp(rng.uniform(np.log(1.0), np.log(50_000.0), VEHICLES))
    wild = rng.random(VEHICLES) < 0.2
    km[wild] = (10.0 ** rng.uniform(-6, 12, VEHICLES))[wild]
    km[:40], km[40:80], km[80:120] = 0.0, -km[40:80], np.inf
    return km


def near(one: float, other: float) -> bool:
    """Equal to 1e-9, of the larger of the two or of 1."""
    return one == other or abs(one - other) <= HAIR * max(1.0, abs(one), abs(other))


@pytest.fixture(scope="module")
def both() -> tuple[list[Pace], PaceState, np.ndarray, np.random.Generator]:
    """5000 vehicles, seed 20261, taken through their increments both ways; and what each has to go."""
    rng = np.random.default_rng(SEED)
    km, days = drawn_increments(rng)
    fleet = assimilate_all(start(SHIPPED, m0=np.full(VEHICLES, SHIPPED.m0), s0=SHIPPED.s0), km, days, SHIPPED)
    first = start_pace(SHIPPED)
    single = [
        with_increments(first, zip(km[:, one].tolist(), days[:, one].tolist(), strict=True), SHIPPED)
        for one in range(VEHICLES)
    ]
    return single, fleet, drawn_distances(rng), rng


def test_paces_are_the_same_both_ways(both: tuple[list[Pace], PaceState, np.ndarray, np.random.Generator]) -> None:
    single, fleet, _, _ = both
    for name in PaceState.__slots__:
        for pace, other in zip(single, getattr(fleet, name).tolist(), strict=True):
            assert near(getattr(pace, name), other), (name, pace)
    for pace, other in zip(single, dispersion(fleet, SHIPPED).tolist(), strict=True):
        assert near(own_dispersion(pace, SHIPPED), other)


def test_days_to_a_distance_are_the_same_both_ways(
    both: tuple[list[Pace], PaceState, np.ndarray, np.random.Generator],
) -> None:
    single, fleet, distance, rng = both
    shift, spread = rng.normal(0, 0.2, VEHICLES), rng.uniform(0, 0.3, VEHICLES)
    for levels in (LEVELS, (-1.644853626951473, -0.5, 0.25, 1.644853626951473)):
        law = DistanceLaw.of(fleet, SHIPPED, shift=shift, spread=spread)
        days = law.days_to(distance, levels)
        for one, pace in enumerate(single):
            ahead = AheadOf.of(pace, SHIPPED, shift=float(shift[one]), spread=float(spread[one]))
            found = ahead.days_to(float(distance[one]), levels)
            assert all(near(a, b) for a, b in zip(found, days[:, one].tolist(), strict=True)), (one, pace)


def test_the_law_of_the_distance_ahead_is_the_same_both_ways(
    both: tuple[list[Pace], PaceState, np.ndarray, np.random.Generator],
) -> None:
    single, fleet, _, rng = both
    law = DistanceLaw.of(fleet, SHIPPED)
    days = np.exp(rng.uniform(np.log(0.01), np.log(5000.0), VEHICLES))
    mean, variance = law.moments(days)
    busy = law.quantile(days, 1.2)
    z = law.z_at(days, np.full(VEHICLES, 5000.0))
    for one, pace in enumerate(single):
        ahead, u = AheadOf.of(pace, SHIPPED), float(days[one])
        m, v = ahead.moments(u)
        assert near(m, mean[one])
        assert near(v, variance[one])
        assert near(ahead.quantile(u, 1.2), busy[one])
        assert near(ahead.z_at(u, 5000.0), z[one])
    assert AheadOf.of(single[0], SHIPPED).quantile(0.0, 1.0) == 0.0


@pytest.mark.parametrize("case", GOLDEN["cases"], ids=lambda case: case["name"])
def test_one_vehicle_meets_the_worked_cases(case: dict[str, list[float]]) -> None:
    days, km = case["t"], case["d"]
    pace = start_pace(SHIPPED)
    for i in range(1, len(days)):
        pace = with_increment(pace, km[i] - km[i - 1], days[i] - days[i - 1], SHIPPED)
    for name in PaceState.__slots__:
        assert getattr(pace, name) == pytest.approx(case[name], rel=1e-6, abs=1e-12), name
    found = AheadOf.of(pace, SHIPPED).days_to(float(case["r"]))  # type: ignore[arg-type]
    assert np.abs(np.array(found) - np.array(case["due"])).max() < 0.05


def test_the_clock_is_the_same_both_ways() -> None:
    # 300 vehicles, seed 20262: up to six spells that may overlap, days inside and outside of the calendar kept.
    rng = np.random.default_rng(20262)
    for season in (SHIPPED_SEASON, (0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0)):
        for _ in range(150):
            begins = [date(2020, 1, 1) + timedelta(days=int(d)) for d in rng.integers(0, 4000, rng.integers(0, 7))]
            spells = [DateSpan(begin, begin + timedelta(days=int(rng.integers(1, 900)))) for begin in begins]
            single = SingleClock.of(season, spells)
            arrays = RunningDays.of(season_days(season), spells)
            days = np.concatenate(
                (rng.uniform(730_000, 745_000, 30), [-5.0, 0.0, 1e6], *([b.toordinal()] for b in begins))
            )
            passed = arrays.at(days)
            for day, operational in zip(days.tolist(), passed.tolist(), strict=True):
                assert abs(single.at(day) - operational) <= HAIR * max(1.0, operational)
            asked = np.concatenate((rng.uniform(50_000, 60_000, 30), passed[30:32], [1e9, np.inf]))
            for operational, day in zip(asked.tolist(), arrays.ordinals_at(asked).tolist(), strict=True):
                assert near(single.ordinal_at(operational), day)


def test_the_clock_and_its_inverse_agree_and_a_year_has_365_days() -> None:
    clock = SingleClock.of(SHIPPED_SEASON, [DateSpan(date(2026, 11, 1), date(2027, 3, 1))])
    for day in range(date(2024, 1, 1).toordinal(), date(2029, 1, 1).toordinal(), 3):
        operational = clock.at(day)
        assert clock.at(clock.ordinal_at(operational)) == pytest.approx(operational, abs=1e-9)
    year = clock.at(date(2026, 1, 1).toordinal()) - clock.at(date(2025, 1, 1).toordinal())
    assert year == pytest.approx(365.0, abs=1e-9)


def test_an_increment_over_no_days_changes_nothing() -> None:
    pace = with_increment(start_pace(SHIPPED), 1200.0, 30.0, SHIPPED)
    assert with_increment(pace, 500.0, 0.0, SHIPPED) == pace
    assert with_increment(pace, 500.0, -1.0, SHIPPED) == pace


def test_a_pace_may_begin_with_a_rate_of_its_own() -> None:
    pace = start_pace(SHIPPED, m0=math.log(60.0), s0=0.35)
    assert (pace.mu, pace.pmm, pace.pxx) == (math.log(60.0), 0.35 * 0.35, SHIPPED.sig**2)


def test_one_vehicle_is_reckoned_without_numpy() -> None:
    probe = (
        "import sys; from fleetcare.usage.single_pace import *; from fleetcare.usage.single_clock import SingleClock;"
        "p = Priors(); SingleClock.of(p.season).at(738000.0);"
        "print(AheadOf.of(with_increment(start_pace(p), 1200.0, 30.0, p), p).days_to(8000.0));"
        "assert 'numpy' not in sys.modules, 'numpy came along'; import numpy; assert 'numpy' in sys.modules"
    )
    run = subprocess.run([sys.executable, "-c", probe], cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
