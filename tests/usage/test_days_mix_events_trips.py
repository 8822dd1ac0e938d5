"""Operational days, mix, rare events, trips and the numbers themselves."""

from __future__ import annotations

import math
import tomllib
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special, stats

from fleetcare.errors import BadSettings
from fleetcare.fleet.duty import ALL_DAILY, DutySplit
from fleetcare.quantities import DateSpan
from fleetcare.usage.mix import mix_forecast
from fleetcare.usage.priors import SHIPPED_SEASON, Priors
from fleetcare.usage.rare_events import EventRate
from fleetcare.usage.running_days import RunningDays, season_days
from fleetcare.usage.trips import days_with_trips

SEASON = season_days(SHIPPED_SEASON)
WINTER = DateSpan(date(2025, 12, 1), date(2026, 3, 1))


def test_the_shipped_file_holds_the_numbers_of_the_program() -> None:
    path = Path(__file__).parents[2] / "config" / "forecast.toml"
    assert Priors.from_tables(tomllib.loads(path.read_text())) == Priors()


def test_the_average_vehicle_drives_what_the_highway_statistics_say() -> None:
    # FHWA Highway Statistics 2009, Table VM-1M (April 2011): 16 704 km a year for short-wheelbase light vehicles,
    # 18 698 km for all vehicles.
    yearly = np.exp(Priors().m0 + Priors().s0 ** 2 / 2) * 365.25
    assert 16_704 < yearly < 18_698


def test_an_unknown_number_and_one_given_twice_are_refused_with_their_name() -> None:
    with pytest.raises(BadSettings, match="m00"):
        Priors.from_tables({"pace": {"m00": 1.0}})
    with pytest.raises(BadSettings, match="twice"):
        Priors.from_tables({"pace": {"s0": 1.0}, "s0": 1.0})


@pytest.mark.parametrize(
    "wrong",
    [{"s0": 0}, {"psi": -1}, {"q": -0.1}, {"m0": 99}, {"season": [1.0] * 11}, {"season": [0.0] * 12}, {"tau": "long"},
     {"look_late_days": 3}],
)  # fmt: skip
def test_a_number_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(BadSettings):
        Priors.from_tables(wrong)


def test_a_plain_year_has_365_operational_days_wherever_it_begins() -> None:
    clock = RunningDays.of(SEASON)
    for first, end in ((date(2025, 1, 1), date(2026, 1, 1)), (date(2025, 3, 1), date(2026, 3, 1))):
        passed = clock.at([first.toordinal(), end.toordinal()])
        assert passed[1] - passed[0] == pytest.approx(365.0, abs=1e-9)


def test_a_july_day_counts_more_than_a_january_day_as_the_traffic_counts_have_it() -> None:
    # FHWA Traffic Volume Trends 2004: 1.057 in July over 0.884 in January.
    clock = RunningDays.of(SEASON)
    july = np.diff(clock.at([date(2025, 7, 10).toordinal(), date(2025, 7, 11).toordinal()]))[0]
    january = np.diff(clock.at([date(2025, 1, 10).toordinal(), date(2025, 1, 11).toordinal()]))[0]
    assert july / january == pytest.approx(1.057 / 0.884, rel=1e-9)


@settings(max_examples=200, deadline=None)
@given(st.floats(date(1990, 1, 1).toordinal(), date(2190, 1, 1).toordinal()))
def test_the_clock_and_its_inverse_agree(day: float) -> None:
    for spells in (
        (),
        (WINTER, DateSpan(date(2026, 2, 1), date(2026, 4, 1)), DateSpan(date(2030, 1, 1), date(2031, 1, 1))),
    ):
        clock = RunningDays.of(SEASON, spells)
        operational = clock.at(day)
        assert clock.at(clock.ordinals_at(operational)) == pytest.approx(float(operational), abs=1e-9)
        laid_up = any(span.first.toordinal() <= day <= span.end.toordinal() for span in spells)
        if not laid_up:
            assert float(clock.ordinals_at(operational)) == pytest.approx(day, abs=1e-6)


def test_the_clock_stands_while_a_vehicle_is_laid_up() -> None:
    clock = RunningDays.of(SEASON, [WINTER])
    passed = clock.at([WINTER.first.toordinal(), date(2026, 1, 15).toordinal(), WINTER.end.toordinal()])
    assert passed[0] == passed[1] == passed[2]
    free = RunningDays.of(SEASON)
    for day in (date(2025, 11, 1), date(2026, 3, 1), date(2027, 1, 1)):
        lost = free.at(day.toordinal()) - clock.at(day.toordinal())
        expected = (
            0.0
            if day < WINTER.first
            else float(np.diff(free.at([WINTER.first.toordinal(), WINTER.end.toordinal()]))[0])
        )
        assert lost == pytest.approx(expected, abs=1e-9)


def test_more_days_than_the_calendar_has_are_never() -> None:
    clock = RunningDays.of(SEASON)
    assert np.isinf(clock.ordinals_at(1e9))


def test_wear_by_an_uncertain_mix_has_the_moments_of_drawn_shares() -> None:
    # Second method: 400 000 draws of the Dirichlet law, seed 4.
    mix = mix_forecast(DutySplit.from_parts({"towing": 5, "daily": 3}), {"towing": 900.0, "track": 300.0}, Priors())
    wear = {"towing": 1 / 48000, "track": 1 / 3200, "daily": 1 / 80000}
    mean, cv2 = mix.wear_moments(wear)
    shares = np.array([share for _, share in mix.split.shares])
    draws = np.random.default_rng(4).dirichlet(mix.concentration * shares, 400_000)
    values = draws @ np.array([wear[duty] for duty, _ in mix.split.shares])
    assert mean == pytest.approx(values.mean(), rel=4 * values.std() / values.mean() / np.sqrt(400_000))
    assert cv2 == pytest.approx(values.var() / values.mean() ** 2, rel=0.02)


def test_the_mix_counts_the_usual_split_like_two_thousand_km() -> None:
    mix = mix_forecast(ALL_DAILY, {"towing": 2000.0}, Priors())
    assert mix.split.share("towing") == pytest.approx(0.5)
    assert mix.concentration == pytest.approx(4000 / 250)


def test_duties_that_do_not_wear_add_none() -> None:
    assert mix_forecast(ALL_DAILY, {}, Priors()).wear_moments({"track": 1.0}) == (0.0, 0.0)


def test_event_chances_are_the_incomplete_beta_function() -> None:
    # I_{120/210}(3, 4) = 0.778995147; oracles: scipy.special.betainc and scipy.stats.nbinom.
    rate = EventRate(4.0, 90.0)
    assert rate.chance(3, 120.0) == pytest.approx(0.778995147, abs=1e-9)
    assert rate.chance(3, 120.0) == pytest.approx(stats.nbinom.sf(2, 4, 90 / 210), rel=1e-12)
    for m, a, b, u in ((1, 0.5, 365.0, 30.0), (2, 6.5, 900.0, 365.0), (7, 12.0, 100.0, 50.0)):
        assert EventRate(a, b).chance(m, u) == pytest.approx(special.betainc(m, a, u / (u + b)), rel=1e-10)


@pytest.mark.parametrize(("m", "a", "b"), [(1, 0.5, 365.0), (1, 2.7, 779.2), (2, 6.5, 900.0), (5, 14.0, 5200.0)])
@pytest.mark.parametrize("level", [0.1, 0.5, 0.9])
def test_the_wait_for_the_mth_event_has_the_quantiles_of_a_beta_prime_law(
    m: int, a: float, b: float, level: float
) -> None:
    # A gamma wait whose rate is gamma follows the beta-prime law, scaled by b; oracle: scipy.stats.betaprime.
    days = float(stats.betaprime.ppf(level, m, a, scale=b))
    assert EventRate(a, b).chance(m, days) == pytest.approx(level, rel=1e-10)


def test_events_by_a_day_have_the_published_chance_and_in_the_limit_that_of_a_known_rate() -> None:
    # I_{b/(b+r)}(a, m) with a = 14, b = 5200, r = 9000, m = 18 is 0.210067579: scipy.stats.betaprime.sf.
    assert stats.betaprime.sf(9000.0, 18, 14, scale=5200.0) == pytest.approx(0.210067579, abs=1e-9)
    assert EventRate(14.0, 5200.0).chance(18, 9000.0) == pytest.approx(1 - 0.210067579, abs=1e-9)
    # As a and b grow with a/b fixed, counts become Poisson; oracle: scipy.stats.poisson.
    for m, mean in ((1, 0.3), (4, 2.5), (9, 12.0)):
        sure = EventRate(1e9 * mean / 100.0, 1e9)
        assert sure.chance(m, 100.0) == pytest.approx(stats.poisson.sf(m - 1, mean), rel=1e-5)


def test_the_wait_for_the_mth_event_agrees_with_simulation() -> None:
    # 400 000 waits drawn step by step: a rate from the gamma law, then the wait at that rate. Four standard errors.
    draws, m, a, b = 400_000, 2, 6.5, 900.0
    chance = np.random.default_rng(20240607)
    waits = chance.gamma(m, size=draws) / (chance.gamma(a, size=draws) / b)
    for days in (60.0, 200.0, 500.0):
        seen = float((waits <= days).mean())
        error = math.sqrt(seen * (1 - seen) / draws)
        assert EventRate(a, b).chance(m, days) == pytest.approx(seen, abs=4 * error)


def test_the_posterior_of_an_event_rate_adds_counts_and_days() -> None:
    # NIST/SEMATECH e-Handbook 8.4.6: gamma prior (a, b), r events in T: posterior (a + r, b + T).
    assert EventRate(0.5, 365.0).having_seen(3, 730.0) == EventRate(3.5, 1095.0)
    assert EventRate(3.5, 1095.0).mean_per_day == pytest.approx(3.5 / 1095)


def test_claims_of_next_year_follow_the_gamma_mean() -> None:
    # Efron and Hastie, Computer Age Statistical Inference, Table 6.1 (counts); shape 0.7015, scale 0.3056, recomputed.
    # Mean next year after y claims in one year: (a + y)/(b + 1), b = 1/scale.
    for claims, expected in enumerate((0.164, 0.398, 0.632, 0.866, 1.100, 1.334, 1.568)):
        rate = EventRate(0.7015, 1 / 0.3056).having_seen(claims, 1.0)
        assert rate.mean_per_day == pytest.approx(expected, abs=1e-3)


def test_at_least_no_event_is_certain_and_none_comes_in_no_time() -> None:
    assert EventRate(1.0, 1.0).chance(0, 5.0) == 1.0
    assert EventRate(1.0, 1.0).chance(1, 0.0) == 0.0


def test_a_trip_brings_the_limit_forward_but_not_before_its_own_day() -> None:
    # Without a trip 60, 80, 100 days; with it done 30, 40, 50; the trip is on day 45.
    days = np.array([[60.0, 30.0], [80.0, 40.0], [100.0, 50.0]])
    assert days_with_trips(days, np.array([0.0, 45.0])).tolist() == [45.0, 45.0, 50.0]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(1, 500), min_size=2, max_size=6), st.lists(st.floats(0, 500), min_size=5, max_size=5))
def test_another_trip_never_makes_it_later(days: list[float], trips: list[float]) -> None:
    left = np.sort(np.array(days))[::-1]
    on = np.concatenate(([0.0], np.sort(np.array(trips))[: len(days) - 1]))
    all_of_them = days_with_trips(left[np.newaxis, :], on)
    without_last = days_with_trips(left[np.newaxis, :-1], on[:-1])
    assert all_of_them[0] <= without_last[0]
