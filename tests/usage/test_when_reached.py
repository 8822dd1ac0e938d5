"""When a distance is reached: the fast way against the slow one, and laws of the answer."""

from __future__ import annotations

import math
from datetime import date
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq

from fleetcare.quantities import DateSpan
from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import assimilate_all, start
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import AheadOf, Pace, start_pace, with_increment, with_increments
from fleetcare.usage.when_reached import PORTION
from tests.usage.test_single_vehicle import drawn_increments

SHIPPED = Priors()
SPANS = st.lists(st.tuples(st.floats(0, 6000), st.floats(1, 120)), max_size=10)
SCALES = st.floats(math.log(5.0), math.log(40_000.0)).map(math.exp)


@lru_cache(maxsize=1)
def many_laws() -> DistanceLaw:
    """5000 vehicles with 0 to 24 increments, standstill and wild ones among them; seed 77."""
    km, days = drawn_increments(np.random.default_rng(77))
    count = km.shape[1]
    return DistanceLaw.of(
        assimilate_all(start(SHIPPED, m0=np.full(count, SHIPPED.m0), s0=SHIPPED.s0), km, days, SHIPPED), SHIPPED
    )


def test_the_fast_way_is_within_a_twentieth_of_a_day_of_the_root_for_any_vehicle() -> None:
    """From 1 to 2000 days, at levels from 5 to 95 %, for vehicles that stood still or ran wild as well."""
    law = many_laws()
    count = len(law.mu)
    distance = np.exp(law.mu + np.random.default_rng(78).uniform(0, np.log(2500), count))
    levels = stats.norm.ppf([0.05, 0.10, 0.25, 0.5, 0.75, 0.90, 0.95])
    found = law.days_to(distance, levels)
    checked = 0
    for row, z in enumerate(levels):
        # Second method: halving between 1 and 2000 days, 60 times, on the chance to have reached the distance.
        low, high = np.zeros(count), np.full(count, np.log(2000.0))
        inside = (law.z_at(np.exp(low), distance) < z) & (law.z_at(np.exp(high), distance) > z)
        for _ in range(60):
            middle = (low + high) / 2
            reached = law.z_at(np.exp(middle), distance) >= z
            high, low = np.where(reached, middle, high), np.where(reached, low, middle)
        off = np.abs(found[row] - np.exp(high))[inside]
        assert off.max() < 0.05
        # ... and hardly ever a hundredth off.
        assert np.quantile(off, 0.999) < 0.01
        checked += int(inside.sum())
    assert checked > 5 * count


def test_the_slow_way_agrees_with_a_root_finder() -> None:
    # Oracle: scipy.optimize.brentq on the law of one vehicle.
    law = many_laws()
    for column in range(0, 5000, 250):
        one = law.rows(np.array([column]))
        distance = float(np.exp(law.mu[column])) * 300.0

        def off(y: float, one: DistanceLaw = one, r: float = distance) -> float:
            return float(one.z_at(np.array([np.exp(y)]), np.array([r]))[0])

        if off(0.0) < 0 < off(np.log(2000.0)):
            root = math.exp(brentq(off, 0.0, np.log(2000.0), xtol=1e-13))
            assert one.days_to(np.array([distance]), [0.0])[0, 0] == pytest.approx(root, abs=0.01)


def test_portions_make_no_difference() -> None:
    law = many_laws()
    rows = np.arange(2 * PORTION + 17) % 5000
    distance = np.exp(law.mu[rows]) * np.random.default_rng(5).uniform(0.5, 900, len(rows))
    whole = law.rows(rows).days_to(distance)
    halves = [law.rows(rows[part]).days_to(distance[part]) for part in (slice(0, 5000), slice(5000, None))]
    assert np.allclose(whole, np.concatenate(halves, axis=1), rtol=1e-12)


def test_nothing_left_is_now_and_what_is_out_of_reach_is_never() -> None:
    law = many_laws().rows(np.array([0, 1, 2, 3, 4]))
    days = law.days_to(np.array([0.0, -5.0, np.inf, 1e300, 1e-9]))
    assert (days[:, :2] == 0.0).all()
    assert np.isinf(days[:, 2:4]).all()
    assert (days[:, 4] == 0.0).all()
    assert law.rows(np.empty(0, dtype=np.intp)).days_to(np.empty(0)).shape == (3, 0)


def after(spans: list[tuple[float, float]]) -> Pace:
    return with_increments(start_pace(SHIPPED), spans, SHIPPED)


@settings(max_examples=300, deadline=None)
@given(SPANS, SCALES)
def test_early_likely_and_late_come_in_that_order(spans: list[tuple[float, float]], distance: float) -> None:
    early, likely, late = AheadOf.of(after(spans), SHIPPED).days_to(distance)
    assert early <= likely <= late


@settings(max_examples=300, deadline=None)
@given(SPANS, SCALES, st.floats(1.0, 3.0))
def test_more_to_go_is_never_reached_earlier(spans: list[tuple[float, float]], distance: float, factor: float) -> None:
    ahead = AheadOf.of(after(spans), SHIPPED)
    for less, more in zip(ahead.days_to(distance), ahead.days_to(distance * factor), strict=True):
        # What is never reached is reached no earlier with more to go; infinite days less a part of them are no number.
        assert more == less or more >= less - 1e-4 * max(1.0, less)


@settings(max_examples=200, deadline=None)
@given(SPANS, SCALES, st.integers(0, 900), st.integers(1, 400))
def test_a_spell_without_use_never_makes_it_earlier(
    spans: list[tuple[float, float]], distance: float, begins: int, length: int
) -> None:
    today = 738_000
    plain = SingleClock.of(SHIPPED.season)
    spell = DateSpan.of_days(_day(today + begins), _day(today + begins + length))
    stands = SingleClock.of(SHIPPED.season, [spell])
    for days in AheadOf.of(after(spans), SHIPPED).days_to(distance):
        assert stands.ordinal_at(stands.at(today) + days) >= plain.ordinal_at(plain.at(today) + days) - 1e-6


@settings(max_examples=200, deadline=None)
@given(SPANS, SCALES)
def test_miles_and_kilometres_give_the_same_day(spans: list[tuple[float, float]], distance: float) -> None:
    # In miles the mean log rate is lower by log(1.609344); NIST SP 811 for the factor.
    per = 1.609344
    miles = start_pace(SHIPPED, m0=SHIPPED.m0 - math.log(per))
    in_miles = with_increments(miles, [(far / per, days) for far, days in spans], SHIPPED)
    one = AheadOf.of(after(spans), SHIPPED).days_to(distance)
    other = AheadOf.of(in_miles, SHIPPED).days_to(distance / per)
    for km, mi in zip(one, other, strict=True):
        assert mi == pytest.approx(km, rel=1e-9, abs=1e-6)


def expected_gain(pace: Pace, days: float) -> float:
    """What the filter expects over the next operational days: the rate in the middle of its window."""
    fade = math.exp(-(pace.back + days / 2) / SHIPPED.tau) if pace.n else 1.0
    w = days / SHIPPED.tau
    weight = 2 * (w + math.expm1(-w)) / w**2
    return days * math.exp(pace.mu + weight * fade * pace.x)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.floats(7, 90), max_size=12), st.floats(7, 60), st.floats(14, 670))
def test_a_reading_exactly_as_expected_moves_the_likely_day_by_less_than_a_day(
    gaps: list[float], gap: float, beyond: float
) -> None:
    """It holds where use has not been wandering (below 0.05 in the log of the rate; here every reading came as
    expected), readings lie 1 to 12 weeks apart, and the likely day at least two weeks behind the last. While use is
    far off its level, a reading that confirms the way back there is news, and moves the day by up to a week."""
    pace = start_pace(SHIPPED)
    for days in gaps:
        pace = with_increment(pace, expected_gain(pace, days), days, SHIPPED)
    before = AheadOf.of(pace, SHIPPED)
    assert abs(before.x) < 0.05
    left = before.quantile(gap + beyond, 0.0)
    gain = expected_gain(pace, gap)
    then = gap + AheadOf.of(with_increment(pace, gain, gap, SHIPPED), SHIPPED).days_to(left - gain)[1]
    assert abs(then - before.days_to(left)[1]) < 1.0


@settings(max_examples=200, deadline=None)
@given(SPANS, SCALES, st.floats(0, 5000))
def test_driving_on_never_leaves_more_days_at_the_same_pace(
    spans: list[tuple[float, float]], distance: float, driven: float
) -> None:
    ahead = AheadOf.of(after(spans), SHIPPED)
    for all_of_it, rest in zip(ahead.days_to(distance), ahead.days_to(distance - driven), strict=True):
        assert rest <= all_of_it + 1e-4 * max(1.0, all_of_it)


def test_levels_may_be_any_that_rise() -> None:
    law = many_laws()
    distance = np.exp(law.mu) * 120.0
    some = law.days_to(distance, LEVELS)
    for row, z in enumerate(LEVELS):
        assert np.abs(law.days_to(distance, [z])[0] - some[row]).max() < 0.05


def _day(ordinal: int) -> date:
    return date.fromordinal(ordinal)
