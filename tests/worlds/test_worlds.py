"""The invented worlds are tied to published figures, and what is seen of them is what a person would write down."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest
from scipy import stats

from tests.worlds import world_a, world_b
from tests.worlds.cells import cell_of, remaining_km, seen_in
from tests.worlds.slips_made import LASTING, SlipMade, slips_in
from tests.worlds.world import DAYS, FIRST_DAY, Floats, World

CARS = 1500
SURVEYED = 960
"""Day of the panel on which odometer and age are asked for; in the year in which the last readings fall."""
TRAFFIC_2004 = (0.884, 0.906, 1.002, 1.030, 1.022, 1.059, 1.057, 1.045, 0.997, 1.015, 0.996, 0.984)
"""Distance a day by month over the mean. Source: FHWA Traffic Volume Trends 2004, all systems."""


@pytest.fixture(scope="module", params=[world_a, world_b], ids=["A", "B"])
def world(request: pytest.FixtureRequest) -> World:
    """One world with 1,500 cars."""
    return made_by(request.param.make_world)


@cache
def made_by(make_world: Callable[[int, int], World]) -> World:
    """The world of one maker, made once."""
    return make_world(CARS, 3)


def months_of(world: World) -> Floats:
    """Distance a day by month over the mean, over eight whole years of all cars."""
    whole = (date(FIRST_DAY.year + 8, 1, 1) - FIRST_DAY).days
    month = np.array([(FIRST_DAY + timedelta(days=day)).month for day in range(whole)])
    a_day = world.daily_km[:, :whole].mean(axis=0, dtype=np.float64)
    return np.asarray([a_day[month == m].mean() / a_day.mean() for m in range(1, 13)])


def test_yearly_distance_is_spread_over_cars_as_the_survey_found_it(world: World) -> None:
    # Source: US National Household Travel Survey 2017, vehicle file: odometer over age of some 200,000 vehicles.
    yearly = world.km_a_year(world.first + SURVEYED)
    assert yearly.mean() == pytest.approx(16_981, rel=0.02)
    assert yearly.std() / yearly.mean() == pytest.approx(0.517, abs=0.03)
    # Skewness of 1,500 values is known to some sqrt(6/1500) = .06, more with a tail as long as this.
    assert stats.skew(np.log(yearly)) == pytest.approx(-1.26, abs=0.25)


def test_world_a_has_the_published_season_and_world_b_has_none() -> None:
    assert np.abs(months_of(made_by(world_a.make_world)) - TRAFFIC_2004).max() < 0.03
    assert np.abs(months_of(made_by(world_b.make_world)) - 1.0).max() < 0.03


def test_the_same_seed_gives_the_same_world_and_another_one_another() -> None:
    for made in (world_a, world_b):
        one, same, other = made.make_world(20, 5), made.make_world(20, 5), made.make_world(20, 6)
        assert np.array_equal(one.daily_km, same.daily_km)
        assert np.array_equal(one.in_service, same.in_service)
        assert not np.array_equal(one.daily_km, other.daily_km)


def test_neither_world_follows_the_law_of_the_forecast(world: World) -> None:
    # That law makes the log of a month's distance normal; ours have standing months, or days of many kinds.
    yearly = world.through[:, 1325] - world.through[:, 960]
    assert stats.skew(np.log(np.maximum(yearly, 1.0))) < -0.5
    assert stats.normaltest(np.log(np.maximum(yearly, 1.0))).pvalue < 1e-6


def test_readings_are_whole_km_about_a_month_apart_and_never_fall(world: World) -> None:
    ordinals, dial = world.readings(7, 24)
    assert np.issubdtype(dial.dtype, np.integer)
    assert (np.diff(dial) >= 0).all()
    assert set(np.diff(ordinals)) <= set(range(24, 37))
    all_days = world.read_on(24)
    assert np.array_equal(all_days[7], ordinals)
    months = {date.fromordinal(int(last)).month for last in all_days[:, -1]}
    assert len(months) == 12, "last readings fall in every month"
    assert all_days[:, -1].max() + 1800 <= world.first + DAYS


def test_the_day_on_which_a_distance_is_reached_is_found_as_a_person_would_count_it(world: World) -> None:
    start = np.full(world.vehicles, world.first + 800, dtype=np.int64)
    days = world.days_until(start, np.full(world.vehicles, 5000.0))
    for row in range(0, 60, 7):
        gone, day = 0.0, 0
        while gone + world.daily_km[row, 800 + day] < 5000.0:
            gone += float(world.daily_km[row, 800 + day])
            day += 1
        part = (5000.0 - gone) / float(world.daily_km[row, 800 + day])
        assert days[row] == pytest.approx(day + part, abs=1e-3)
    assert np.isinf(world.days_until(start, np.full(world.vehicles, 1e9))).all()


def test_what_is_asked_follows_from_what_is_seen_alone(world: World) -> None:
    seen = seen_in(world)
    other_future = World.of(world.name, world.daily_km.copy(), world.in_service, world.dial_at_first)
    for row, last in enumerate(seen.last):
        other_future.daily_km[row, last - world.first :] *= 3.0
    again = World.of(world.name, other_future.daily_km, world.in_service, world.dial_at_first)
    for n in (1, 3, 12):
        before, after = cell_of(world, seen, n, 91), cell_of(again, seen_in(again), n, 91)
        assert np.array_equal(before.remaining, after.remaining)
        assert np.median(before.truth) > 1.3 * np.median(after.truth)
    # One reading says nothing of pace: 91 * 16981 / 365.25 = 4230.7 km for everybody.
    assert set(remaining_km(seen.newest(1), 91)) == {4231.0}


@pytest.mark.parametrize("kind", list(SlipMade))
def test_a_slip_changes_what_it_says_and_nothing_else(kind: SlipMade) -> None:
    world = world_a.make_world(60, 2)
    days = world.read_on(24)
    rows = (days, world.dial(np.arange(60)[:, None], days))
    made = slips_in(kind, rows, 6, 200, seed=4)
    assert [one.values.tolist() for one in made] == [
        one.values.tolist() for one in slips_in(kind, rows, 6, 200, seed=4)
    ]
    for one in made:
        wrong, right = int(one.values[one.place]), one.right
        assert one.place == 7
        assert wrong != right
        assert (np.diff(one.true) >= 0).all()
        assert np.array_equal(one.values[: one.place], one.true[: one.place])
        goes_on = np.array_equal(np.diff(one.values[one.place :]), np.diff(one.true[one.place :]))
        assert goes_on == (kind in LASTING) or np.array_equal(one.values[8:], one.true[8:])
        if kind is SlipMade.DIGIT_MISSING:
            assert str(right) in _one_more(str(wrong).zfill(len(str(right)) - 1))
        elif kind is SlipMade.DIGIT_EXTRA:
            assert str(wrong) in _one_more(str(right))
        elif kind is SlipMade.TRANSPOSED:
            differ = [k for k in range(len(str(right))) if str(wrong).zfill(len(str(right)))[k] != str(right)[k]]
            assert len(differ) == 2
            assert differ[1] == differ[0] + 1
        elif kind is SlipMade.WRONG_DIGIT:
            pairs = zip(str(wrong).zfill(len(str(right))), str(right), strict=True)
            assert sum(a != b for a, b in pairs) == 1
        elif kind is SlipMade.OTHER_UNIT:
            assert wrong == pytest.approx(right / 1.609344, abs=1)
        elif kind is SlipMade.ROLLED_OVER:
            assert wrong == right - 100_000
            assert one.values[one.place - 1] > 90_000 or right - one.true[one.place - 1] > 10_000
        elif kind is SlipMade.TURNED_BACK:
            assert 0.0 < (right - wrong) / right <= 0.31
        elif kind is SlipMade.REPLACED:
            assert one.replaced_on is not None
            assert one.ordinals[one.place - 1] <= one.replaced_on <= one.ordinals[one.place]
            assert 0 <= wrong <= right - one.true[one.place - 1]
        else:
            assert wrong <= 501


def _one_more(digits: str) -> set[str]:
    """Every number with one digit more, at any place."""
    return {digits[:k] + more + digits[k:] for k in range(len(digits) + 1) for more in "0123456789"}
