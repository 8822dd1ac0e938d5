"""From the rows of readings, work, bookings, events and bay visits to values, with every fault and its line."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from functools import partial

from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import BayVisit, VisitState, laid_end_to_end
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.duty import DutySplit
from fleetcare.intake.chains import parse_chain
from fleetcare.intake.csv_cells import (
    a_count,
    a_key,
    check_event,
    component_in,
    findings_in,
    lines_in,
    meter_in,
    one_of,
    person_in,
    service_in,
    several_vehicles,
)
from fleetcare.intake.csv_files import Columns, CsvTable
from fleetcare.intake.csv_rows import Found, Place, note_repeat, rows_of
from fleetcare.intake.dates import parse_day, parse_instant
from fleetcare.intake.known import Roster
from fleetcare.intake.splits import parse_split
from fleetcare.language import saying
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.work.record import WorkDone

READINGS = Columns(
    "readings",
    ("vehicle", "meter", "date", "value", "unit", "split", "by", "door", "state", "note", "entered_at", "vouched_by"),
    frozenset({"vehicle", "date", "value"}),
    frozenset({"value"}),
)
WORK = Columns(
    "work",
    (
        "vehicle",
        "component",
        "service",
        "date",
        "value",
        "unit",
        "by",
        "note",
        "finding",
        "look_again_on",
        "settled_on",
    ),
    frozenset({"vehicle", "component", "service", "date"}),
    frozenset({"value"}),
)
BOOKINGS = Columns(
    "bookings",
    ("key", "title", "first_day", "last_day", "vehicles", "distance", "unit", "duty", "event"),
    frozenset({"key", "title", "first_day", "last_day", "vehicles"}),
    frozenset({"distance"}),
)
EVENTS = Columns(
    "events",
    ("vehicle", "component", "event", "date", "note"),
    frozenset({"vehicle", "event", "date"}),
)
VISITS = Columns(
    "bay visits",
    ("vehicle", "number", "state", "begins", "services", "takes", "hands", "why"),
    frozenset({"vehicle", "number", "begins", "services", "takes"}),
)
TABLES = (READINGS, WORK, BOOKINGS, EVENTS, VISITS)


def readings_in(
    tables: Sequence[CsvTable], roster: Roster, *, entered_at: datetime, today: date | None, found: Found
) -> list[tuple[Reading, Place]]:
    """The readings of these tables, each with its place. Rows alike count once, with a warning.

    A reading that differs from an earlier one only in its note, state, person or split is a fault.
    """
    first: dict[object, tuple[Reading, Place]] = {}
    splits: dict[str, DutySplit] = {}

    def split_of(text: str) -> DutySplit:
        if text not in splits:
            splits[text] = parse_split(text, duties=roster.duties)
        return splits[text]

    for row in rows_of(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        meter = meter_in(row, roster, vehicle)
        on, value = row.day("date", today), row.amount("value")
        unit = row.take("unit", one_of(MeterUnit), blank=meter.unit if meter else None)
        split = row.take("split", split_of)
        door = row.take("door", one_of(Door), blank=Door.FILE)
        state = row.take("state", one_of(ReadingState), blank=ReadingState.USED)
        given_at = row.take("entered_at", parse_instant, blank=entered_at)
        by, note = row.text("by"), row.text("note")
        if meter is not None and unit is not None and (unit is MeterUnit.HOURS) != (meter.unit is MeterUnit.HOURS):
            row.blame(
                "unit",
                saying("The {key} counts {unit}, not {given}.", key=meter.key, unit=meter.unit, given=unit),
                saying("Write {unit}.", unit=meter.unit),
            )
        if not row.is_whole or vehicle is None or meter is None or on is None or value is None:
            continue
        assert unit is not None  # the row is whole
        assert door is not None
        assert state is not None
        assert given_at is not None
        vouched = row.text("vouched_by")
        reading = Reading(vehicle.mark, meter.key, on, value, unit, given_at, by, door, split, state, note, vouched)
        earlier = first.setdefault(reading.identity, (reading, row.place))
        if earlier[1] != row.place:
            note_repeat(row, earlier, reading, f"the reading of {vehicle.name}")
    return list(first.values())


def work_in(
    tables: Sequence[CsvTable], roster: Roster, *, today: date | None, found: Found
) -> list[tuple[WorkDone, Place]]:
    """The work of these tables, each with the place of its first row; rows alike but for the finding are one."""
    done: dict[tuple[LineKey, date, Decimal | None], tuple[WorkDone, Place]] = {}
    for row in rows_of(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        component = component_in(row, roster, vehicle)
        service = service_in(row, roster, vehicle, component)
        on, at = row.day("date", today), row.amount("value")
        default = MeterUnit(vehicle.unit.value) if vehicle is not None and at is not None else None
        unit = row.take("unit", one_of(MeterUnit), blank=default)
        by, note = row.text("by"), row.text("note")
        findings = findings_in(row)
        if not row.is_whole or vehicle is None or component is None or on is None:
            continue
        work = WorkDone(LineKey(vehicle.mark, component.key, service), on, at, unit, by, note, findings)
        key = (work.line, on, at)
        if key not in done:
            done[key] = (work, row.place)
            continue
        earlier, place = done[key]
        if (work.unit, work.by, work.note) != (earlier.unit, earlier.by, earlier.note):
            what = saying(
                "The same work stands in {seen_from} with another unit, person or note.",
                seen_from=place.seen_from(row.place),
            )
            row.blame("service", what, "Repeat that row exactly for another finding, or take one away.")
        elif not findings or findings[0] in earlier.findings:
            found.warnings.append(
                row.place.fault(
                    saying("This row repeats {seen_from}.", seen_from=place.seen_from(row.place)), "It counts once."
                )
            )
        else:
            done[key] = (dataclasses.replace(earlier, findings=earlier.findings + findings), place)
    return list(done.values())


def bookings_in(tables: Sequence[CsvTable], roster: Roster, *, found: Found) -> list[tuple[Booking, Place]]:
    """The bookings of these tables, each with its place; two with one key are a fault."""
    first: dict[str, tuple[Booking, Place]] = {}
    for row in rows_of(tables, found):
        key = row.take("key", a_key)
        title = row.text("title", required=True)
        first_day, last_day = row.take("first_day", parse_day), row.take("last_day", parse_day)
        vehicles = row.take("vehicles", lambda text: several_vehicles(text, roster))
        distance = row.amount("distance")
        common = {vehicle.unit for vehicle in vehicles or ()}
        default = next(iter(common)) if len(common) == 1 else (roster.unit if not common else None)
        unit = row.take("unit", one_of(DistanceUnit), blank=default)
        duty = row.take("duty", roster.duty, blank="") or ""
        event = row.text("event")
        if first_day is not None and last_day is not None and last_day < first_day:
            row.blame(
                "last_day",
                saying("{last_day} is before the first day, {first_day}.", last_day=last_day, first_day=first_day),
                "Write the last day itself.",
            )
        if distance is not None and unit is None and row.is_whole and vehicles:
            row.blame("unit", "The vehicles count in km and in mi.", "Write km or mi.")
        check_event(row, roster, event)
        if not row.is_whole or key is None or first_day is None or last_day is None or vehicles is None:
            continue
        if key in first:
            what = saying(
                "The key {key} stands in {seen_from} already.", key=key, seen_from=first[key][1].seen_from(row.place)
            )
            row.blame("key", what, "Give each booking a key of its own.")
            continue
        days = DateSpan.of_days(first_day, last_day)
        marks = tuple(dict.fromkeys(vehicle.mark for vehicle in vehicles))
        booking = Booking(key, title, days, marks, distance, unit or DistanceUnit.KM, duty, event)
        first[key] = (booking, row.place)
    return list(first.values())


def events_in(
    tables: Sequence[CsvTable], roster: Roster, *, today: date | None, found: Found
) -> list[tuple[UseEvent, Place]]:
    """The events of these tables, each with its place. Rows alike count once, with a warning."""
    first: dict[object, tuple[UseEvent, Place]] = {}
    for row in rows_of(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        component = component_in(row, roster, vehicle) if row.row["component"] else None
        kind, note, on = row.text("event", required=True), row.text("note"), row.day("date", today)
        check_event(row, roster, kind)
        if not row.is_whole or vehicle is None or on is None or (row.row["component"] and component is None):
            continue
        event = UseEvent(vehicle.mark, kind, on, component.key if component else "", note)
        earlier = first.setdefault((event.mark, event.kind, event.on, event.component), (event, row.place))
        if earlier[1] != row.place:
            note_repeat(row, earlier, event, f"the {kind} of {vehicle.name}")
    return list(first.values())


def visits_in(tables: Sequence[CsvTable], roster: Roster, *, found: Found) -> list[tuple[BayVisit, Place]]:
    """The visits to the bay of these tables, each with its place; two with one vehicle and number are a fault."""
    first: dict[tuple[str, int], tuple[BayVisit, Place]] = {}
    for row in rows_of(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        number = row.take("number", a_count)
        state = row.take("state", one_of(VisitState), blank=VisitState.PENCILLED)
        begins_at = row.take("begins", lambda text: parse_instant(text, field="begins"))
        lines = () if vehicle is None else row.take("services", partial(lines_in, vehicle=vehicle))
        parts = row.take("takes", parse_chain)
        hands = row.take("hands", lambda text: person_in(text, roster), blank="") or ""
        why = row.text("why")
        if not row.is_whole or vehicle is None or number is None or begins_at is None or not parts or not lines:
            continue
        assert state is not None  # the row is whole
        try:
            visit = BayVisit(vehicle.mark, number, lines, laid_end_to_end(begins_at, parts), state, hands, why)
        except BadInput as bad:
            row.blame(bad.field or "takes", bad.what, bad.remedy)
            continue
        if visit.key in first:
            what = saying(
                "Visit {number} of {name} stands in {seen_from} already.",
                number=number,
                name=vehicle.name,
                seen_from=first[visit.key][1].seen_from(row.place),
            )
            row.blame("number", what, "Give each visit of a vehicle a number of its own.")
            continue
        first[visit.key] = (visit, row.place)
    return list(first.values())
