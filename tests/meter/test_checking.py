"""Readings of one meter sorted out: order, changes, rollovers, units, misfits."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter, MeterChange
from fleetcare.meter.checking import CheckedMeter, Misfit, check_meter, dial_from_true, true_from_dial
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit

KM = Meter("odometer", MeterUnit.KM)
MI = Meter("odometer", MeterUnit.MI)
DAY = date(2025, 1, 1)


def reading(day: int, value: int | str, unit: MeterUnit = MeterUnit.KM, hour: int = 8, **more: object) -> Reading:
    on = DAY + timedelta(days=day)
    return Reading(
        "AN",
        str(more.pop("meter", "odometer")),
        on,
        Decimal(value),
        unit,
        datetime(on.year, on.month, on.day, hour, tzinfo=UTC),
        **more,  # type: ignore[arg-type]
    )


def values(checked: CheckedMeter) -> list[int]:
    return [int(r.value) for r in checked.readings]


def test_distance_is_in_km_whatever_the_dial_counts() -> None:
    # NIST SP 811 (2008), Appendix B.8: 1 mi = 1.609 344 km exactly.
    checked = check_meter([reading(0, 1000, MeterUnit.MI), reading(30, 2000, MeterUnit.MI)], MI)
    assert checked.distances.tolist() == pytest.approx([1609.344, 3218.688], rel=1e-12)
    assert checked.ordinals.tolist() == [DAY.toordinal(), DAY.toordinal() + 30]


def test_a_reading_in_the_other_unit_is_converted() -> None:
    checked = check_meter([reading(0, 83365, MeterUnit.MI), reading(33, 135523, MeterUnit.KM)], MI)
    assert checked.distances[1] == pytest.approx(135523)
    assert not checked.findings


def test_rounding_between_units_is_no_fall() -> None:
    # 84 210 mi is 135 522.9 km: the second reading only seems to fall by less than one unit of the dial.
    checked = check_meter([reading(0, 84210, MeterUnit.MI), reading(1, 135522, MeterUnit.KM)], MI)
    assert not checked.findings
    assert checked.distances[1] == checked.distances[0]


def test_of_several_readings_on_a_day_the_last_accepted_counts() -> None:
    checked = check_meter([reading(0, 100), reading(9, 900, hour=17), reading(9, 800, hour=9)], KM)
    assert values(checked) == [100, 900]


def test_only_used_readings_of_this_meter_are_looked_at() -> None:
    states = [ReadingState.HELD, ReadingState.SUPERSEDED, ReadingState.TAKEN_BACK]
    others = [reading(5 + i, 50 + i, state=state) for i, state in enumerate(states)]
    checked = check_meter([reading(0, 100), *others, reading(4, 7, meter="hours"), reading(30, 900)], KM)
    assert values(checked) == [100, 900]
    assert not checked.findings


def test_readings_after_the_day_asked_for_are_left_out() -> None:
    assert values(check_meter([reading(0, 100), reading(30, 900)], KM, as_of=DAY)) == [100]


def test_a_reading_that_runs_backwards_is_set_aside() -> None:
    checked = check_meter([reading(0, 1000), reading(30, 900), reading(60, 3000), reading(90, 4000)], KM)
    assert values(checked) == [1000, 3000, 4000]
    assert [(f.kind, int(f.reading.value)) for f in checked.findings] == [(Misfit.RUNS_BACKWARDS, 900)]


def test_one_wild_reading_hides_none_of_the_good_ones_after_it() -> None:
    checked = check_meter([reading(0, 1000), reading(30, 99999), reading(60, 3000), reading(90, 4000)], KM)
    assert values(checked) == [1000, 3000, 4000]
    assert checked.findings[0].kind is Misfit.TOO_FAST


def test_of_two_that_contradict_each_other_the_first_stands() -> None:
    assert values(check_meter([reading(0, 1000), reading(30, 900)], KM)) == [1000]


def test_more_than_the_daily_cap_does_not_fit() -> None:
    fast = [reading(0, 1000), reading(1, 2700), reading(2, 2800), reading(3, 2900)]
    # 1 700 km in a day is too much, 1 800 km in two are not.
    assert values(check_meter(fast, KM)) == [1000, 2800, 2900]
    assert check_meter(fast, KM).findings[0].kind is Misfit.TOO_FAST
    assert values(check_meter(fast, KM, max_km_per_day=2000)) == [1000, 2700, 2800, 2900]


def test_hours_are_not_taken_for_distance() -> None:
    checked = check_meter([reading(0, 100), reading(30, 200, MeterUnit.HOURS)], KM)
    assert values(checked) == [100]
    assert checked.findings[0].kind is Misfit.WRONG_KIND


def test_an_hour_meter_runs_no_more_than_24_hours_a_day() -> None:
    meter = Meter("hours", MeterUnit.HOURS)
    given = [reading(d, v, MeterUnit.HOURS, meter="hours") for d, v in ((0, 100), (1, 200), (2, 110), (3, 120))]
    assert values(check_meter(given, meter)) == [100, 110, 120]


CHANGED = Meter("odometer", MeterUnit.MI, changes=(MeterChange(DAY + timedelta(days=60), Decimal(81200), Decimal(0)),))


def test_true_distance_runs_on_over_a_change_of_the_meter() -> None:
    given = [reading(0, 80000, MeterUnit.MI), reading(90, 800, MeterUnit.MI)]
    checked = check_meter(given, CHANGED)
    # 80 000, then 1 200 to the end of the old dial and 800 on the new one.
    assert (checked.distances / 1.609344).tolist() == pytest.approx([80000, 82000])


def test_on_the_day_of_the_change_the_nearer_dial_is_meant() -> None:
    old = check_meter([reading(0, 80000, MeterUnit.MI), reading(60, 81199, MeterUnit.MI)], CHANGED)
    new = check_meter([reading(0, 80000, MeterUnit.MI), reading(60, 3, MeterUnit.MI)], CHANGED)
    assert old.distances[1] / 1.609344 == pytest.approx(81199)
    assert new.distances[1] / 1.609344 == pytest.approx(81203)


FIVE = Meter("odometer", MeterUnit.KM, digits=5, rolls_over=True)


def test_a_five_digit_dial_rolls_over_after_99_999() -> None:
    # Maryland COMAR 11.12.01.19 names 99 999 as the last figure of a five-digit counter.
    checked = check_meter([reading(0, 98500), reading(30, 99700), reading(60, 900), reading(90, 2100)], FIVE)
    assert checked.distances.tolist() == [98500, 99700, 100900, 102100]
    assert not checked.findings


def test_a_slip_on_a_dial_that_rolls_over_is_no_rollover() -> None:
    checked = check_meter([reading(0, 98500), reading(30, 970), reading(60, 99700), reading(90, 900)], FIVE)
    assert values(checked) == [98500, 99700, 900]
    assert checked.distances.tolist() == [98500, 99700, 100900]


def test_a_dial_that_does_not_roll_over_only_falls() -> None:
    assert values(check_meter([reading(0, 99700), reading(30, 900)], Meter("odometer", MeterUnit.KM, digits=5))) == [
        99700
    ]


def test_the_dial_can_be_told_from_the_true_distance() -> None:
    rolled = check_meter([reading(0, 99700), reading(30, 900)], FIVE)
    assert dial_from_true(rolled, 101500, DAY + timedelta(days=40)) == 1500
    changed = check_meter([reading(0, 80000, MeterUnit.MI), reading(90, 800, MeterUnit.MI)], CHANGED)
    assert dial_from_true(changed, 82500 * 1.609344, DAY + timedelta(days=100)) == 1300
    assert dial_from_true(changed, 80600 * 1.609344, DAY + timedelta(days=30)) == 80600


def test_a_dial_value_of_some_day_can_be_told_as_true_distance() -> None:
    changed = check_meter([reading(0, 80000, MeterUnit.MI), reading(90, 800, MeterUnit.MI)], CHANGED)
    on = DAY + timedelta(days=60)
    for value, true in ((81200, 81200), (0, 81200), (5, 81205)):
        found = true_from_dial(changed, Decimal(value), MeterUnit.MI, on, near=81200 * 1.609344)
        assert found / 1.609344 == pytest.approx(true)
    rolled = check_meter([reading(0, 99700), reading(30, 900)], FIVE)
    assert true_from_dial(rolled, Decimal(99990), MeterUnit.KM, DAY + timedelta(days=30), near=100000) == 99990


def test_splits_belong_to_the_span_before_their_reading() -> None:
    split = DutySplit.from_parts({"towing": 3, "daily": 1})
    checked = check_meter([reading(30, 900, split=split), reading(0, 100)], KM)
    assert checked.splits == (None, split)


def test_no_reading_is_a_meter_too() -> None:
    checked = check_meter([], KM)
    assert checked.last is None
    assert checked.distances.shape == (0,)


@st.composite
def garage_readings(draw: st.DrawFn) -> list[Reading]:
    count = draw(st.integers(0, 14))
    return [
        reading(
            draw(st.integers(0, 200)),
            draw(st.integers(0, 120_000)),
            draw(st.sampled_from([MeterUnit.KM, MeterUnit.KM, MeterUnit.MI])),
            id=index,
        )
        for index in range(count)
    ]


@settings(max_examples=150, deadline=None)
@given(garage_readings(), st.randoms(use_true_random=False), st.booleans())
def test_shuffled_readings_give_the_same_meter_and_distance_never_falls(
    given_readings: list[Reading], order: random.Random, rolls: bool
) -> None:
    meter = Meter("odometer", MeterUnit.KM, digits=5, rolls_over=rolls)
    checked = check_meter(given_readings, meter)
    shuffled = list(given_readings)
    order.shuffle(shuffled)
    again = check_meter(shuffled, meter)
    assert again.readings == checked.readings
    assert np.array_equal(again.distances, checked.distances)
    assert (np.diff(checked.distances) >= 0).all()
    assert (np.diff(checked.ordinals) > 0).all()
    assert len(checked.readings) + len(checked.findings) == len({r.on for r in given_readings})
