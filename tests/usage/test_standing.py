"""A spell of rest that is over is passed over; rest that goes on, and rest that is a vehicle's way, are not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import AheadOf, rested, start_pace, with_increment
from fleetcare.usage.standing import LEAST_DAYS, spells_passed_over

MONTH = 30.0


def over(*gained: float, days: float = MONTH) -> list[int]:
    return sorted(spells_passed_over(gained, [days] * len(gained)))


def test_a_winter_in_the_shed_is_passed_over_once_the_car_is_driven_again() -> None:
    assert over(1000, 900, 1100, 0, 0, 0) == []
    assert over(1000, 900, 1100, 0, 0, 0, 40) == [3, 4, 5]
    assert over(1000, 900, 1100, 0, 3, 0, 950, 0, 1000) == [3, 4, 5, 7]


def test_a_vehicle_that_stands_most_of_its_time_is_taken_as_it_is() -> None:
    """Two days of driving in a year, read each month: to leave the rest out would be to say that it runs every day."""
    assert over(*([0, 0, 0, 0, 0, 300] * 3)) == []
    assert over(0, 200, 0, 210, 0, 190, 0, 205) == []


def test_four_months_of_every_winter_are_passed_over_however_many_winters() -> None:
    year = [800, 900, 1000, 1000, 1000, 900, 900, 800, 0, 0, 0, 0]
    for years in (2, 3, 8):
        found = over(*(year * years), 850)
        assert len(found) == 4 * years


def test_a_weekend_is_part_of_how_a_vehicle_runs() -> None:
    days = [60, 55, 70, 65, 60, 0, 0] * 6
    assert over(*days, days=1.0) == []
    fortnight_off = [60.0] * 30 + [0.0] * 14 + [60.0] * 30
    assert over(*fortnight_off, days=1.0) == []
    six_weeks_off = [60.0] * 60 + [0.0] * 42 + [60.0] * 30
    assert over(*six_weeks_off, days=1.0) == list(range(60, 102))


def test_with_fewer_than_three_spans_nothing_is_passed_over() -> None:
    assert over() == []
    assert over(0, 900) == []
    assert over(900, 0, 900) == [1]


@given(st.lists(st.tuples(st.integers(0, 3000) | st.just(0), st.floats(0, 90)), max_size=30))
def test_what_is_passed_over_stood_long_enough_and_was_driven_after(spans: list[tuple[int, float]]) -> None:
    gained, days = [float(km) for km, _ in spans], [span for _, span in spans]
    found = spells_passed_over(gained, days)
    mean = sum(gained) / sum(days) if sum(days) > 0 else 0.0
    for index in found:
        assert gained[index] <= 0.05 * mean * days[index] + 1e-9
        assert any(gained[later] > 0 for later in range(index + 1, len(gained)))
        first = min(i for i in range(index + 1) if all(j in found for j in range(i, index + 1)))
        last = max(i for i in range(index, len(gained)) if all(j in found for j in range(index, i + 1)))
        assert sum(days[first : last + 1]) >= LEAST_DAYS


@given(st.lists(st.integers(1, 3000), min_size=1, max_size=20))
def test_a_vehicle_that_never_stood_keeps_every_span(gained: list[int]) -> None:
    even = [float(km) for km in gained]
    assert spells_passed_over(even, [km / float(np.mean(even)) * MONTH for km in even]) == frozenset()


def test_a_vehicle_back_from_its_rest_is_believed_at_once() -> None:
    """Eight months of 1 000 km, four of nothing, one of 1 000 again: it runs on as in the months driven."""
    priors = Priors()
    gained = [1000.0] * 8 + [0.0] * 4 + [1000.0]
    believed, all_counted = start_pace(priors), start_pace(priors)
    passed = spells_passed_over(gained, [MONTH] * len(gained))
    for index, km in enumerate(gained):
        all_counted = with_increment(all_counted, km, MONTH, priors)
        believed = rested(believed, MONTH) if index in passed else with_increment(believed, km, MONTH, priors)
    (likely,) = AheadOf(believed, priors).days_to(5000.0, (0.0,))
    (late,) = AheadOf(all_counted, priors).days_to(5000.0, (0.0,))
    assert likely == pytest.approx(150, abs=8)
    assert late > 1.25 * likely
