"""A fleet worked out by columns comes to the same dates as each of its vehicles the long way."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.due.columns import FleetColumns, known_paces, packed, state_of_words, state_words
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.line_inputs import VehicleInputs
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.due.pace import KnownPace
from fleetcare.due.reckon import WorkedOut, work_out
from fleetcare.fleet.booking import CHANGED_HANDS
from fleetcare.fleet.component import History
from fleetcare.quantities import DateSpan
from fleetcare.usage.priors import Priors
from fleetcare.work.record import WorkDone
from tests.due.facts import DUTIES, PRIORS, TODAY, booking, done, event, monthly, row, vehicle
from tests.due.test_laws import SLOW, driven, rows

OTHER = replace(
    PRIORS,
    m0=3.2,
    s0=0.4,
    psi=3.0,
    sig=0.3,
    tau=55.0,
    q=0.05,
    season=(0.7, 0.7, 0.9, 1, 1, 1.2, 1.3, 1.3, 1, 1, 1, 0.9),
)
"""Numbers that a fit may have come to."""
LAST = TODAY - timedelta(days=9)
"""Day of the last reading. A line that begins today stands alone: tomorrow it would begin tomorrow."""


MAYBE = st.booleans()


@st.composite
def fleets(draw: st.DrawFn) -> tuple[list[VehicleFacts], IntervalBook]:
    """One to five vehicles with one line each, of every history; the row is the same for all."""
    line: BookRow = draw(rows())
    fleet = []
    for number in range(draw(st.integers(1, 5))):
        one = vehicle(history=draw(st.sampled_from(History)))
        readings = draw(driven())
        work: tuple[WorkDone, ...] = ()
        if draw(MAYBE) and readings:
            read = draw(st.sampled_from(readings))
            work = (done(read.on, int(read.value) if draw(MAYBE) else None),)
        named = draw(st.none() | st.floats(500, 60_000))
        fleet.append(
            VehicleFacts(replace(one, mark=one.mark, name=f"{number}", yearly_km=named), readings=readings, work=work)
        )
    return fleet, IntervalBook({line.key: line})


def columns_of(worked_out: list[WorkedOut]) -> FleetColumns:
    return FleetColumns.of([packed(each.inputs, 0) for each in worked_out if each.inputs.whole])


def by_columns(worked_out: list[WorkedOut], priors: Priors) -> list[object]:
    """Windows and reasons of all lines that have inputs, in the order of their vehicles and keys."""
    columns = columns_of(worked_out)
    return [state_of_words(words) for words in columns.windows(priors, columns.states(priors))]


def long_way(worked_out: list[WorkedOut]) -> list[object]:
    return [line.state for each in worked_out for line in each.inputs.lines]


@SLOW
@given(fleets())
def test_columns_and_the_long_way_come_to_the_same_day(drawn: tuple[list[VehicleFacts], IntervalBook]) -> None:
    fleet, book = drawn
    worked_out = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY))
    assert by_columns(worked_out, PRIORS) == long_way(worked_out)


@SLOW
@given(fleets())
def test_inputs_packed_under_other_numbers_come_to_the_dates_of_the_new_ones(
    drawn: tuple[list[VehicleFacts], IntervalBook],
) -> None:
    fleet, book = drawn
    before = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY))
    after = list(work_out(fleet, book=book, duties=DUTIES, priors=OTHER, today=TODAY))
    both = [(a, b) for a, b in zip(before, after, strict=True) if a.inputs.whole]
    assert all(b.inputs.whole for _, b in both), "whether a vehicle stands alone does not hang on the numbers"
    assert by_columns([a for a, _ in both], OTHER) == long_way([b for _, b in both])


@SLOW
@given(fleets(), st.integers(0, 900))
def test_what_is_packed_does_not_change_as_days_go_by(
    drawn: tuple[list[VehicleFacts], IntervalBook], days: int
) -> None:
    fleet, book = drawn
    then = TODAY + timedelta(days=days)
    today = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY))
    later = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=then))
    for one, same in zip(today, later, strict=True):
        if one.inputs.whole:
            assert packed(one.inputs, 0) == packed(same.inputs, 0)


def test_states_by_columns_are_those_of_the_filter_run_vehicle_by_vehicle() -> None:
    book = IntervalBook({"x": row(mi=5_000)})
    fleet = [
        VehicleFacts(vehicle(), readings=monthly(LAST, 40_000, 700 + 90 * count, count)) for count in (1, 2, 3, 14, 40)
    ]
    worked_out = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY))
    wanted = [each.inputs.tracks[0].state for each in worked_out if each.inputs.whole]
    assert len(wanted) == 5
    assert columns_of(worked_out).states(PRIORS) == pytest.approx(np.array(wanted), rel=1e-9, abs=1e-12)


def test_a_vehicle_whose_dates_hang_on_more_than_its_pace_stands_alone() -> None:
    book = IntervalBook({"x": row(mi=5_000)})
    plain = VehicleFacts(vehicle(), readings=monthly(TODAY, 40_000, 900, 8))
    ahead = booking(TODAY + timedelta(days=20), TODAY + timedelta(days=22), 400)
    rest = DateSpan(TODAY + timedelta(days=5), TODAY + timedelta(days=60))
    cases = {
        "plain": (plain, False),
        "a trip ahead": (replace(plain, bookings=(ahead,)), True),
        "laid up": (replace(plain, vehicle=replace(plain.vehicle, laid_up=(rest,))), True),
        "leaves soon": (replace(plain, vehicle=replace(plain.vehicle, out_of_fleet_on=TODAY + timedelta(9))), True),
        "is gone": (replace(plain, vehicle=replace(plain.vehicle, out_of_fleet_on=TODAY)), False),
        "changed hands": (replace(plain, events=(event(CHANGED_HANDS, TODAY - timedelta(100)),)), True),
    }
    found = {
        name: not work_out([facts], book=book, duties=DUTIES, priors=PRIORS, today=TODAY)[0].inputs.whole
        for name, (facts, _) in cases.items()
    }
    assert found == {name: alone for name, (_, alone) in cases.items()}


def test_every_window_and_reason_survives_being_written_down() -> None:
    states = [
        *NoDate,
        *(DueWindow(TODAY, TODAY + timedelta(days=3), TODAY + timedelta(days=90), cause) for cause in Cause),
    ]
    assert [state_of_words(state_words(state)) for state in states] == states


def test_put_writes_states_and_windows_where_they_are_read() -> None:
    book = IntervalBook({"x": row(mi=5_000, months=30)})
    fleet = [VehicleFacts(vehicle(), readings=monthly(LAST, 40_000, 900, count)) for count in (3, 1, 8)]
    worked_out = list(work_out(fleet, book=book, duties=DUTIES, priors=PRIORS, today=TODAY))
    columns = columns_of(worked_out)
    states = columns.states(OTHER)
    windows = columns.windows(OTHER, states)
    again = FleetColumns.of(columns.put(7, states, windows))
    assert again.fits.tolist() == [7, 7, 7]
    assert np.array_equal(again.tracks[:, 5:], states)
    assert np.array_equal(again.stored, windows)
    assert np.array_equal(again.spans, columns.spans)
    assert np.array_equal(again.limits, columns.limits)


def _seen(count: int, **more: object) -> VehicleFacts:
    return VehicleFacts(vehicle(), readings=monthly(LAST, 40_000, 900, 20)[:count], **more)  # type: ignore[arg-type]


def _after(facts: VehicleFacts, known: tuple[KnownPace, ...]) -> tuple[float, ...]:
    book = IntervalBook({"x": row(mi=5_000)})
    found = work_out([facts], book=book, duties=DUTIES, priors=PRIORS, today=TODAY, known={"AN": known})
    return found[0].inputs.tracks[0].state


def test_a_new_reading_takes_the_pace_up_where_it_was_left() -> None:
    """What was worked out before is falsified here, so that one can see that it, and not the readings, was gone by."""
    (before,) = known_paces(packed(_inputs(_seen(19)), 3), fit=3)
    assert len(before.spans) == 18
    assert _after(_seen(20), (before,)) == pytest.approx(_after(_seen(20), ()), rel=1e-12)
    falsified = replace(before, pace=replace(before.pace, mu=before.pace.mu + 1.0))
    assert _after(_seen(20), (falsified,)) != pytest.approx(_after(_seen(20), ()), rel=1e-3)
    assert known_paces(packed(_inputs(_seen(19)), 3), fit=4) == ()


@pytest.mark.parametrize(
    "changed",
    {
        "a reading taken back": _seen(20),
        "a trip that was driven": _seen(20, bookings=(booking(LAST - timedelta(200), LAST - timedelta(198), 150),)),
        "other hands": _seen(20, events=(event(CHANGED_HANDS, LAST - timedelta(100)),)),
    }.items(),
    ids=lambda case: case[0],
)
def test_a_change_in_the_past_is_worked_out_from_the_start(changed: tuple[str, VehicleFacts]) -> None:
    name, facts = changed
    if name == "a reading taken back":
        facts = replace(facts, readings=(*facts.readings[:7], *facts.readings[8:]))
    (before,) = known_paces(packed(_inputs(_seen(19)), 0), fit=0)
    falsified = replace(before, pace=replace(before.pace, mu=before.pace.mu + 1.0))
    assert _after(facts, (falsified,)) == _after(facts, ())


def _inputs(facts: VehicleFacts) -> VehicleInputs:
    book = IntervalBook({"x": row(mi=5_000)})
    return work_out([facts], book=book, duties=DUTIES, priors=PRIORS, today=TODAY)[0].inputs
