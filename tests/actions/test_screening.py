"""Readings held and released by the write that comes after them, in whatever order, and settled by a person."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.actions.bring_in import Arrivals, BroughtIn, Place, bring_in
from fleetcare.actions.gather import outlooks_of
from fleetcare.actions.record_reading import Doubtful, Given, Really, Recorded, record_reading, take_back
from fleetcare.actions.settle_held import How, held_reading, settle_held
from fleetcare.errors import BadInput, BadReading, NotFound
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import MeterUnit
from tests.actions.garages import BASE_URL, Stage, log_of, small

START = date(2021, 3, 3)
NOW = datetime(2022, 3, 1, 12, tzinfo=UTC)
BEFORE = datetime(2021, 2, 20, tzinfo=UTC)


def pocket(day: int, value: int | str, **more: object) -> Reading:
    on = START + timedelta(days=day)
    return Reading("PO", "odometer", on, Decimal(value), MeterUnit.KM, BEFORE, "noor", Door.FILE, **more)  # type: ignore[arg-type]


MONTHLY = tuple(pocket(30 * n, 12_000 + 1_000 * n) for n in range(7))
"""Pocket showed 11 000 km on 1 February 2021, and goes on with 1,000 km in 30 days: 18 000 km on day 180."""


def brought(stage: Stage, *readings: Reading) -> BroughtIn:
    places = tuple(Place("readings.csv", n) for n, _ in enumerate(readings, start=2))
    return bring_in(
        stage.store,
        stage.rules,
        stage.keys,
        Arrivals(readings=readings, reading_places=places),
        now=NOW,
        base_url=BASE_URL,
        who="noor",
        why="brought in",
    )


def stored(stage: Stage) -> tuple[Reading, ...]:
    with stage.store.read() as view:
        return view.readings(("PO",))


def held(stage: Stage) -> list[Decimal]:
    return [r.value for r in stored(stage) if r.state is ReadingState.HELD]


def one(stage: Stage, value: int) -> Reading:
    (found,) = [r for r in stored(stage) if r.value == value]
    return found


def settled(stage: Stage, value: int, how: How) -> None:
    reading = one(stage, value)
    settle_held(
        stage.store,
        stage.rules,
        mark="PO",
        reading_id=reading.id or 0,
        how=how,
        who="noor",
        now=NOW,
        base_url=BASE_URL,
    )


def given_at_the_door(stage: Stage, value: int, really: Really | None = None) -> Recorded | Doubtful:
    given = Given("PO", Decimal(value), "noor", Door.COMMAND, on=START + timedelta(days=210), really=really)
    return record_reading(stage.store, stage.rules, given, now=NOW, base_url=BASE_URL)


def test_a_file_with_a_wrong_reading_is_taken_and_the_reading_is_held_with_the_reason() -> None:
    stage = small()
    came = brought(stage, *MONTHLY, pocket(210, 29_100))
    assert held(stage) == [Decimal(29_100)]
    (screened,) = came.held
    assert screened.reading.value == 29_100
    note = one(stage, 29_100).note
    assert note.startswith("Held: 29 100 km makes 11 100 km in 30 days; about 9")
    assert note.endswith("With a 1 in first place it is 19 100.")
    (entry,) = [e for e in log_of(stage.store, "reading") if e.after.startswith("held: ")]
    assert entry.before == "29100 km on 2021-09-29"


def test_a_reading_that_is_held_is_in_no_date_and_shown_as_held() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 43_000))
    with stage.store.read() as view:
        (outlook,) = outlooks_of(view, stage.rules, START + timedelta(days=215), ("PO",))
    assert [r.value for r in outlook.held] == [Decimal(43_000)]
    assert outlook.reckoned_dial is not None
    assert 18_500 < outlook.reckoned_dial < 20_500


def test_the_next_reading_releases_what_was_held_and_the_log_says_which() -> None:
    stage = small()
    brought(stage, *MONTHLY)
    brought(stage, pocket(210, 29_100))
    assert held(stage) == [Decimal(29_100)]
    came = brought(stage, pocket(240, 30_100), pocket(270, 31_100))
    assert held(stage) == []
    assert [(each.reading.value, each.why) for each in came.screened] == [
        (Decimal(29_100), "released by the reading of 29 October 2021")
    ]
    assert one(stage, 29_100).note == ""


def test_what_slipped_through_is_held_once_later_readings_tell() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 20_400))
    assert held(stage) == []
    came = brought(stage, pocket(240, 19_900), pocket(270, 20_900), pocket(300, 21_900))
    assert held(stage) == [Decimal(20_400)]
    assert [each.reading.value for each in came.held] == [Decimal(20_400)]


def test_the_persons_own_note_survives_being_held_and_released() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 29_100, note="after the long tour"))
    assert one(stage, 29_100).note.startswith("after the long tour Held: ")
    brought(stage, pocket(240, 30_100), pocket(270, 31_100))
    assert one(stage, 29_100).note == "after the long tour"


def test_a_meter_that_goes_on_from_a_low_figure_runs_on_in_the_dates() -> None:
    stage = small()
    low = [pocket(210 + 30 * n, 40 + 1_000 * n) for n in range(5)]
    brought(stage, *MONTHLY, *low)
    assert held(stage) == [Decimal(40)]
    with stage.store.read() as view:
        (outlook,) = outlooks_of(view, stage.rules, low[-1].on, ("PO",))
    assert outlook.reckoned_dial == Decimal(4_040), "the dial that is there now"
    (line,) = outlook.lines
    assert line.window is not None


@settings(max_examples=25, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 4))
def test_the_same_readings_in_any_order_and_any_batches_give_the_same_states(
    order: random.Random, batches: int
) -> None:
    odd = (
        pocket(95, 51_000),
        pocket(210, 29_100),
        pocket(240, 40),
        pocket(270, 1_040),
        pocket(300, 2_040),
        pocket(330, 30_400),
        pocket(330, 3_040),
    )
    readings = [*MONTHLY, *odd]
    at_once = small()
    brought(at_once, *readings)
    order.shuffle(readings)
    in_parts = small()
    for part in range(batches):
        brought(in_parts, *readings[part::batches])
    assert _states(in_parts) == _states(at_once)


def _states(stage: Stage) -> list[tuple[date, Decimal, str, str]]:
    return sorted((r.on, r.value, r.state.value, r.note) for r in stored(stage))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.builds(
            pocket,
            st.integers(-60, 360),
            st.integers(0, 9_999_999) | st.sampled_from(["0.0", "0.1", "999999", "1000000"]),
            state=st.sampled_from(ReadingState),
            vouched_by=st.sampled_from(["", "noor"]),
        ),
        max_size=12,
        unique_by=lambda r: r.identity,
    )
)
def test_hostile_files_are_taken_whole_and_end_in_states_that_stand_when_walked_again(readings: list[Reading]) -> None:
    stage = small()
    brought(stage, *readings)
    before = _states(stage)
    settled_by_hand = [r for r in readings if r.state in (ReadingState.SUPERSEDED, ReadingState.TAKEN_BACK)]
    for reading in settled_by_hand:
        assert one_of(stage, reading).state is reading.state
    brought(stage, *readings)
    assert _states(stage) == before


def one_of(stage: Stage, reading: Reading) -> Reading:
    (found,) = [r for r in stored(stage) if r.identity == reading.identity]
    return found


def test_one_vehicle_of_which_nothing_fits_keeps_no_other_from_being_screened() -> None:
    stage = small()
    with stage.store.read() as view:
        (vehicle,) = view.vehicles()
    other = replace(vehicle, mark="QU", name="Quarto")
    nonsense = [
        replace(pocket(n, value), mark="QU") for n, value in enumerate((999_999, 1, 555_555, 3, 777_777, 0, 88))
    ]
    arrivals = Arrivals(vehicles=(other,), readings=(*nonsense, *MONTHLY, pocket(240, 43_000)))
    arrivals = replace(arrivals, reading_places=tuple(Place("r.csv", n) for n, _ in enumerate(arrivals.readings)))
    bring_in(stage.store, stage.rules, stage.keys, arrivals, now=NOW, base_url=BASE_URL, who="noor", why="brought in")
    assert held(stage) == [Decimal(43_000)]


def test_at_a_door_the_word_of_a_person_is_kept_with_the_reading() -> None:
    stage = small()
    brought(stage, *MONTHLY)
    doubtful = given_at_the_door(stage, 29_100)
    assert isinstance(doubtful, Doubtful)
    assert not [r for r in stored(stage) if r.value == 29_100]
    recorded = given_at_the_door(stage, 29_100, Really.AS_READ)
    assert isinstance(recorded, Recorded)
    assert (recorded.reading.state, recorded.reading.vouched_by) == (ReadingState.USED, "noor")
    usual = given_at_the_door(small(), 18_000)
    assert isinstance(usual, Recorded)
    assert usual.reading.vouched_by == ""


def test_taking_a_reading_back_screens_the_others_again() -> None:
    stage = small()
    brought(stage, *MONTHLY)
    recorded = given_at_the_door(stage, 29_100, Really.AS_READ)
    assert isinstance(recorded, Recorded)
    brought(stage, pocket(213, 29_200))
    assert held(stage) == []
    take_back(
        stage.store,
        stage.rules,
        mark="PO",
        reading_id=recorded.reading.id or 0,
        who="noor",
        now=NOW,
        base_url=BASE_URL,
    )
    assert held(stage) == [Decimal(29_200)]


def test_a_held_reading_said_to_be_right_is_used_for_good() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 29_100))
    settled(stage, 29_100, How.RIGHT)
    assert held(stage) == []
    assert one(stage, 29_100).vouched_by == "noor"
    brought(stage, pocket(240, 30_000))
    assert held(stage) == []


def test_a_held_reading_said_to_be_wrong_is_set_aside_for_good() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 29_100))
    settled(stage, 29_100, How.WRONG)
    brought(stage, pocket(240, 30_100), pocket(270, 31_100))
    assert one(stage, 29_100).state is ReadingState.SUPERSEDED
    assert one(stage, 29_100).note == "set aside by noor"


def test_the_value_that_was_guessed_is_entered_in_place_of_a_held_one() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(210, 91_000))
    assert held(stage) == [Decimal(91_000)]
    settled(stage, 91_000, How.GUESS)
    assert one(stage, 91_000).state is ReadingState.SUPERSEDED
    (instead,) = [r for r in stored(stage) if r.on == START + timedelta(days=210) and r.state is ReadingState.USED]
    assert instead.value == 19_000
    assert instead.vouched_by == "noor"
    assert f"in favour of {instead.value}" in one(stage, 91_000).note


def test_what_cannot_be_settled_so_is_refused_and_changes_nothing() -> None:
    stage = small()
    brought(stage, *MONTHLY, pocket(95, 43_000), pocket(210, 7))
    before = _states(stage)
    with pytest.raises(BadReading, match="does not lie between"):
        settled(stage, 43_000, How.RIGHT)
    with pytest.raises(BadReading, match="no good guess"):
        settled(stage, 7, How.GUESS)
    with pytest.raises(BadReading, match="not held"):
        settled(stage, 12_000, How.WRONG)
    with pytest.raises(NotFound):
        settle_held(
            stage.store,
            stage.rules,
            mark="PO",
            reading_id=10**6,
            how=How.WRONG,
            who="noor",
            now=NOW,
            base_url=BASE_URL,
        )
    with pytest.raises(NotFound):
        held_reading(stored(stage), Decimal(5), None)
    twice = (*stored(stage), replace(one(stage, 7), on=START))
    with pytest.raises(BadInput, match="More than one"):
        held_reading(twice, Decimal(7), None)
    assert _states(stage) == before
