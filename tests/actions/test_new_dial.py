"""A person's word about the dial becomes the right fact: changed, rolled over, last time's was wrong; and back."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleetcare.actions.ports import Change
from fleetcare.actions.record_reading import Doubtful, Given, Really, Recorded, record_reading, take_back
from fleetcare.due.vehicle_state import dial_by_reckoning
from fleetcare.errors import BadReading
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import MeterUnit
from tests.actions.garages import BASE_URL, Stage, small
from tests.actions.test_screening import NOW, START, brought, pocket


def near_the_nines() -> Stage:
    """Pocket reads 99 000 km after six months of 1 000 km; its dial is put down with six digits."""
    stage = small()
    with stage.store.write(Change("test", "another start", NOW)) as unit:
        for reading in unit.readings(("PO",)):
            unit.set_reading_state(reading.id or 0, ReadingState.SUPERSEDED)
    brought(stage, *(pocket(30 * n, 93_000 + 1_000 * n) for n in range(7)))
    return stage


def given(stage: Stage, value: int, really: Really | None, *, day: int = 210) -> Recorded | Doubtful:
    what = Given("PO", Decimal(value), "noor", Door.PHONE, on=START + timedelta(days=day), really=really)
    return record_reading(stage.store, stage.rules, what, now=NOW, base_url=BASE_URL)


def meter(stage: Stage) -> Meter:
    return _vehicle(stage).meters[0]


def _vehicle(stage: Stage) -> Vehicle:
    with stage.store.read() as view:
        return view.vehicles(("PO",))[0]


def used(stage: Stage) -> list[tuple[date, Decimal]]:
    with stage.store.read() as view:
        return [(r.on, r.value) for r in view.readings(("PO",)) if r.state is ReadingState.USED]


def test_a_dial_that_rolled_over_has_as_many_digits_as_it_showed_and_goes_on() -> None:
    stage = near_the_nines()
    before = meter(stage)
    assert isinstance(given(stage, 20, None), Doubtful)
    assert meter(stage) == before
    came = given(stage, 20, Really.ROLLED_OVER)
    assert isinstance(came, Recorded)
    assert (meter(stage).digits, meter(stage).rolls_over) == (5, True)
    # 99 000 to 100 000, and 20 more: 1 020 km in 30 days, and the next month goes on from there.
    outlook = came.settled.outlooks[0]
    assert outlook.readings_used == 8
    after = given(stage, 1_020, None, day=240)
    assert isinstance(after, Recorded)
    assert after.reading.state is ReadingState.USED


def test_sent_again_it_is_one_turn() -> None:
    stage = near_the_nines()
    given(stage, 20, Really.ROLLED_OVER)
    once = meter(stage), used(stage)
    again = given(stage, 20, Really.ROLLED_OVER)
    assert isinstance(again, Recorded)
    assert again.known
    assert (meter(stage), used(stage)) == once


def test_taken_back_the_dial_is_put_down_as_before() -> None:
    stage = near_the_nines()
    before, readings = meter(stage), used(stage)
    came = given(stage, 20, Really.ROLLED_OVER)
    assert isinstance(came, Recorded)
    take_back(
        stage.store, stage.rules, mark="PO", reading_id=came.reading.id or 0, who="noor", now=NOW, base_url=BASE_URL
    )
    assert (meter(stage), used(stage)) == (before, readings)


@pytest.mark.parametrize(
    ("value", "told"),
    [(98_000, "after all its nines"), (99_500, "shows less than last time"), (60_000, "after all its nines")],
)
def test_a_dial_that_was_not_near_its_nines_did_not_roll_over(value: int, told: str) -> None:
    stage = near_the_nines()
    before, readings = meter(stage), used(stage)
    with pytest.raises(BadReading, match=told):
        given(stage, value, Really.ROLLED_OVER)
    assert (meter(stage), used(stage)) == (before, readings)


def test_a_turn_further_than_can_be_driven_is_asked_about_and_changes_nothing() -> None:
    """49 000 after 99 000 is a turn of 50 000 km in one day; the most is 1 600."""
    stage = near_the_nines()
    before, readings = meter(stage), used(stage)
    assert isinstance(given(stage, 48_000, Really.ROLLED_OVER, day=181), Doubtful)
    assert (meter(stage), used(stage)) == (before, readings)


def test_last_times_was_wrong_is_an_answer_to_a_value_over_the_daily_cap() -> None:
    """Last time 10 900 was typed for 19 900 and believed; now 21 000 is 10 100 km in two days."""
    stage = small()
    brought(stage, *(pocket(30 * n, 12_000 + 1_000 * n) for n in range(8)))
    # Last time somebody insisted on a slip; today's figure is out of reach from there.
    with stage.store.write(Change("test", "believed", NOW)) as unit:
        (last,) = [r for r in unit.readings(("PO",)) if r.value == 19_000]
        unit.set_reading_state(last.id or 0, ReadingState.SUPERSEDED)
        low = replace(pocket(210, 18_010), vouched_by="noor")
        unit.add_readings((low,))
    asked = given(stage, 21_300, None, day=212)
    assert isinstance(asked, Doubtful)
    assert asked.doubt.cap_per_day is not None
    came = given(stage, 21_300, Really.WRONG_LAST, day=212)
    assert isinstance(came, Recorded)
    assert came.reading.state is ReadingState.USED
    assert (START + timedelta(days=210), Decimal(18_010)) not in used(stage)


def test_a_changed_meter_and_a_turn_are_told_apart_by_the_dial_reckoned_since() -> None:
    """After a turn the dial is reckoned to show its own few digits, not the true distance."""
    stage = near_the_nines()
    came = given(stage, 20, Really.ROLLED_OVER)
    assert isinstance(came, Recorded)
    from fleetcare.actions.gather import facts_of

    with stage.store.read() as view:
        (facts,) = facts_of(view, ("PO",))
    shown = dial_by_reckoning(facts, stage.rules.priors, START + timedelta(days=240))
    assert shown is not None
    assert Decimal(500) < shown < Decimal(2_500)


def test_a_reading_in_the_other_unit_is_compared_in_the_dials_own() -> None:
    """12 mi are 19 km: past the nines of a dial in km, whatever unit it was typed in."""
    stage = near_the_nines()
    what = Given(
        "PO",
        Decimal(12),
        "noor",
        Door.PHONE,
        on=START + timedelta(days=210),
        unit=MeterUnit.MI,
        really=Really.ROLLED_OVER,
    )
    came = record_reading(stage.store, stage.rules, what, now=NOW, base_url=BASE_URL)
    assert isinstance(came, Recorded)
    assert isinstance(came.reading, Reading)
    assert came.reading.unit is MeterUnit.MI
    assert meter(stage).rolls_over
