"""Readings, work, events, bookings and what was worked out as rows, and back."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from fleetcare.actions.ports import LineState
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.store.cells import (
    NOT_READ,
    Columns,
    as_json,
    day_or_none,
    day_text,
    figure_text,
    from_tenths,
    instant_of,
    instant_text,
    split_of,
    split_text,
    tenths,
)
from fleetcare.store.sentences import kept_text, told_again
from fleetcare.work.record import Finding, WorkDone


def reading_columns(reading: Reading) -> Columns:
    """A reading on its way in."""
    return {
        "mark": reading.mark,
        "meter": reading.meter,
        "day": reading.on.isoformat(),
        "value_tenths": tenths(reading.value),
        "unit": reading.unit.value,
        "entered_at": instant_text(reading.entered_at),
        "by": reading.by,
        "door": reading.door.value,
        "split": split_text(reading.split),
        "state": reading.state.value,
        "note": str(reading.note),
        "vouched_by": reading.vouched_by,
        "note_said": kept_text(reading.note),
    }


_UNITS = {unit.value: unit for unit in MeterUnit}


_DOORS = {door.value: door for door in Door}


_STATES = {state.value: state for state in ReadingState}


def reading(row: Any) -> Reading:
    """A reading on its way out. row: in the order of the table's columns (plain tuples, for there are many)."""
    number, mark, meter, day, value_tenths, unit, entered_at, by, door, split, state, note, vouched_by, said = row
    return Reading(
        mark=mark,
        meter=meter,
        on=date.fromisoformat(day),
        value=from_tenths(value_tenths),
        unit=_UNITS[unit],
        entered_at=instant_of(entered_at),
        by=by,
        door=_DOORS[door],
        split=None if split is None else split_of(split),
        state=_STATES[state],
        note=told_again(note, said),
        vouched_by=vouched_by,
        id=number,
    )


def work_columns(work: WorkDone) -> Columns:
    """Work on its way in, without its findings."""
    return {
        "mark": work.line.mark,
        "component": work.line.component,
        "service": work.line.service,
        "day": work.on.isoformat(),
        "value_tenths": NOT_READ if work.at is None else tenths(work.at),
        "unit": "" if work.unit is None else work.unit.value,
        "by": work.by,
        "note": work.note,
    }


def finding_columns(work_id: int, finding: Finding, position: int) -> Columns:
    """A finding on its way in."""
    return {
        "work_id": work_id,
        "position": position,
        "text": finding.text,
        "look_again_on": day_text(finding.look_again_on),
        "settled_on": day_text(finding.settled_on),
    }


def work(row: Any, findings: Sequence[Any]) -> WorkDone:
    """Work on its way out. findings: its rows in order."""
    return WorkDone(
        line=LineKey(row.mark, row.component, row.service),
        on=date.fromisoformat(row.day),
        at=None if row.value_tenths == NOT_READ else from_tenths(row.value_tenths),
        unit=MeterUnit(row.unit) if row.unit else None,
        by=row.by,
        note=row.note,
        findings=tuple(
            Finding(each.text, day_or_none(each.look_again_on), day_or_none(each.settled_on)) for each in findings
        ),
        id=row.id,
    )


def event_columns(event: UseEvent) -> Columns:
    """An event on its way in."""
    return {
        "mark": event.mark,
        "day": event.on.isoformat(),
        "kind": event.kind,
        "component": event.component,
        "note": event.note,
    }


def event(row: Any) -> UseEvent:
    """An event on its way out."""
    return UseEvent(row.mark, row.kind, date.fromisoformat(row.day), row.component, row.note)


def booking_columns(booking: Booking) -> Columns:
    """A booking on its way in."""
    return {
        "key": booking.key,
        "title": booking.title,
        "first_day": booking.days.first.isoformat(),
        "end_day": booking.days.end.isoformat(),
        "marks": as_json(booking.marks),
        "distance": figure_text(booking.distance),
        "unit": booking.unit.value,
        "duty": booking.duty,
        "event": booking.event,
    }


def booking(row: Any) -> Booking:
    """A booking on its way out."""
    return Booking(
        key=row.key,
        title=row.title,
        days=DateSpan(date.fromisoformat(row.first_day), date.fromisoformat(row.end_day)),
        marks=tuple(json.loads(row.marks)),
        distance=None if row.distance is None else Decimal(row.distance),
        unit=DistanceUnit(row.unit),
        duty=row.duty,
        event=row.event,
    )


def window_columns(key: LineKey, state: LineState) -> Columns:
    """A window, or why there is none, on its way in."""
    window = state if isinstance(state, DueWindow) else None
    return {
        "mark": key.mark,
        "component": key.component,
        "service": key.service,
        "early": day_text(window.early) if window else None,
        "likely": day_text(window.likely) if window else None,
        "late": day_text(window.late) if window else None,
        "cause": window.cause.value if window else None,
        "no_date": state.value if isinstance(state, NoDate) else None,
    }


def window(row: Any) -> tuple[LineKey, LineState]:
    """A line with its window, or why there is none, on its way out."""
    key = LineKey(row.mark, row.component, row.service)
    if row.early is None:
        return key, NoDate(row.no_date)
    early, likely, late = (date.fromisoformat(day) for day in (row.early, row.likely, row.late))
    return key, DueWindow(early, likely, late, Cause(row.cause))
