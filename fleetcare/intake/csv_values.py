"""From the rows of readings, work, bookings, events and bay visits to values, with every fault and its line."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from functools import partial
from typing import TypeVar

from fleetcare.errors import BadInput, Fault, shown
from fleetcare.fleet.bay_visit import BayVisit, VisitState, laid_end_to_end
from fleetcare.fleet.booking import CHANGED_HANDS, Booking, UseEvent
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.intake.chains import parse_chain
from fleetcare.intake.csv_files import Columns, CsvRow, CsvTable
from fleetcare.intake.dates import parse_day, parse_instant
from fleetcare.intake.known import Roster, nearest, unknown
from fleetcare.intake.numbers import parse_amount, parse_decimal, plain
from fleetcare.intake.splits import parse_split
from fleetcare.intake.text import clean_text
from fleetcare.intake.toml_models import is_key
from fleetcare.language import saying
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.wording import grouped
from fleetcare.work.record import Finding, WorkDone

T = TypeVar("T")
EnumT = TypeVar("EnumT", bound=StrEnum)

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

MOST_FAULTS = 200
"""Of one file; then reading it stops, and says so."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the files a value stands."""

    file: str
    line: int

    def fault(self, what: str, instead: str) -> Fault:
        """A fault at that place."""
        return Fault(self.file, self.line, what, instead)

    def seen_from(self, other: Place) -> str:
        """How this place is called in a sentence that stands at another."""
        return f"line {self.line}" if self.file == other.file else f"{self.file}, line {self.line}"


@dataclass(slots=True)
class Found:
    """What is gathered while rows are read: faults stop the file, warnings do not."""

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)


@dataclass(slots=True)
class _Row:
    """One row while it is read: `take` notes what is wrong with a cell and goes on."""

    table: CsvTable
    row: CsvRow
    found: Found
    is_whole: bool = True

    @property
    def place(self) -> Place:
        return Place(self.table.file, self.row.line)

    def take(self, column: str, read: Callable[[str], T], *, blank: T | None = None) -> T | None:
        """The cell as `read` gives it; `blank` for an empty cell that is not needed; None if there is a fault."""
        text = self.row[column]
        if not text and column not in self.table.columns.needed:
            return blank
        try:
            return read(text)
        except BadInput as bad:
            self.blame(column, bad.what, bad.remedy)
            return None

    def blame(self, column: str, what: str, instead: str) -> None:
        self.is_whole = False
        self.found.faults.append(self.place.fault(saying("{column}: {what}", column=column, what=what), instead))

    def text(self, column: str, *, required: bool = False) -> str:
        taken = self.take(column, lambda text: clean_text(text, field=column, required=required), blank="")
        return taken or ""

    def day(self, column: str, today: date | None) -> date | None:
        """A day; one that is still to come is refused if `today` is given."""
        day = self.take(column, parse_day)
        if day is not None and today is not None and day > today:
            self.blame(
                column, saying("{row} is still to come.", row=shown(self.row[column], 30)), "Write the day it happened."
            )
        return day

    def amount(self, column: str) -> Decimal | None:
        style = self.table.decimal_comma
        if style is None:
            return self.take(column, parse_amount)
        return self.take(column, lambda text: parse_decimal(text, decimal_comma=style, places=1))


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

    for row in _rows(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        meter = _meter(row, roster, vehicle)
        on, value = row.day("date", today), row.amount("value")
        unit = row.take("unit", _one_of(MeterUnit), blank=meter.unit if meter else None)
        split = row.take("split", split_of)
        door = row.take("door", _one_of(Door), blank=Door.FILE)
        state = row.take("state", _one_of(ReadingState), blank=ReadingState.USED)
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
            _note_repeat(row, earlier, reading, f"the reading of {vehicle.name}")
    return list(first.values())


def work_in(
    tables: Sequence[CsvTable], roster: Roster, *, today: date | None, found: Found
) -> list[tuple[WorkDone, Place]]:
    """The work of these tables, each with the place of its first row; rows alike but for the finding are one."""
    done: dict[tuple[LineKey, date, Decimal | None], tuple[WorkDone, Place]] = {}
    for row in _rows(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        component = _component(row, roster, vehicle)
        service = _service(row, roster, vehicle, component)
        on, at = row.day("date", today), row.amount("value")
        default = MeterUnit(vehicle.unit.value) if vehicle is not None and at is not None else None
        unit = row.take("unit", _one_of(MeterUnit), blank=default)
        by, note = row.text("by"), row.text("note")
        findings = _findings(row)
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
    for row in _rows(tables, found):
        key = row.take("key", _a_key)
        title = row.text("title", required=True)
        first_day, last_day = row.take("first_day", parse_day), row.take("last_day", parse_day)
        vehicles = row.take("vehicles", lambda text: _several(text, roster))
        distance = row.amount("distance")
        common = {vehicle.unit for vehicle in vehicles or ()}
        default = next(iter(common)) if len(common) == 1 else (roster.unit if not common else None)
        unit = row.take("unit", _one_of(DistanceUnit), blank=default)
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
        _check_event(row, roster, event)
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
    for row in _rows(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        component = _component(row, roster, vehicle) if row.row["component"] else None
        kind, note, on = row.text("event", required=True), row.text("note"), row.day("date", today)
        _check_event(row, roster, kind)
        if not row.is_whole or vehicle is None or on is None or (row.row["component"] and component is None):
            continue
        event = UseEvent(vehicle.mark, kind, on, component.key if component else "", note)
        earlier = first.setdefault((event.mark, event.kind, event.on, event.component), (event, row.place))
        if earlier[1] != row.place:
            _note_repeat(row, earlier, event, f"the {kind} of {vehicle.name}")
    return list(first.values())


def _rows(tables: Sequence[CsvTable], found: Found) -> Iterator[_Row]:
    """Each row of these tables; a table with too many faults is left with a word about it."""
    for table in tables:
        _warn_of_thousands(table, found)
        before = len(found.faults)
        for csv_row in table.rows:
            row = _Row(table, csv_row, found)
            yield row
            if len(found.faults) - before >= MOST_FAULTS:
                what = saying(
                    "There are {most_faults} faults up to here; what follows was not looked at.",
                    most_faults=MOST_FAULTS,
                )
                found.faults.append(Fault(table.file, csv_row.line + 1, what, "Put these right first."))
                break


def _warn_of_thousands(table: CsvTable, found: Found) -> None:
    """Says how 84,210 was read where nothing else in the file shows what the comma means."""
    unsure = set(table.unsure)
    for row in table.rows:
        if row.line not in unsure:
            continue
        for column in table.columns.numbers:
            text = row[column]
            try:
                value = parse_amount(text)
            except BadInput:
                continue
            what = saying(
                "{column}: {text_} was taken for {value}.",
                column=column,
                text_=shown(text, 30),
                value=partial(grouped, value),
            )
            found.warnings.append(
                Fault(table.file, row.line, what, saying("Write {value} to leave no doubt.", value=plain(value)))
            )


def _note_repeat(row: _Row, earlier: tuple[object, Place], again: object, what: str) -> None:
    value, where = earlier[0], earlier[1].seen_from(row.place)
    if value == again:
        found = row.place.fault(saying("This row repeats {where}, {what}.", where=where, what=what), "It counts once.")
        row.found.warnings.append(found)
    else:
        row.blame(
            "date",
            saying("There is {what} in {where} already, and not alike.", what=what, where=where),
            "Take one of the two away.",
        )


def _findings(row: _Row) -> tuple[Finding, ...]:
    text = row.text("finding")
    again, settled = row.take("look_again_on", parse_day), row.take("settled_on", parse_day)
    if text:
        return (Finding(text, again, settled),)
    if again is not None or settled is not None:
        row.blame("finding", "There is a day for a finding, but no finding.", "Write what was found.")
    return ()


def _meter(row: _Row, roster: Roster, vehicle: Vehicle | None) -> Meter | None:
    if vehicle is None:
        return None
    return (
        row.take("meter", lambda text: roster.meter(vehicle, text)) if row.row["meter"] else _only(row, vehicle, roster)
    )


def _only(row: _Row, vehicle: Vehicle, roster: Roster) -> Meter | None:
    try:
        return roster.meter(vehicle, "")
    except BadInput as bad:
        row.blame("meter", bad.what, bad.remedy)
        return None


def _component(row: _Row, roster: Roster, vehicle: Vehicle | None) -> Component | None:
    if vehicle is None:
        return None
    return row.take("component", lambda text: roster.component(vehicle, text))


def _service(row: _Row, roster: Roster, vehicle: Vehicle | None, component: Component | None) -> str:
    text = row.row["service"].casefold()
    if not text:
        row.blame("service", "There is no service.", "Write the key of its row in the interval book.")
    if vehicle is None or component is None or not text:
        return text
    carried = [line.service for line in component.lines]
    if text in carried:
        return text
    if roster.book is not None and text in roster.book.rows:
        what = saying(
            "The {key} of {name} does not have the service {text_}.", key=component.key, name=vehicle.name, text_=text
        )
        row.blame("service", what, "Add it to `services` of that component, or name one it has.")
    else:
        bad = unknown(f"service on the {component.key} of {vehicle.name}", row.row["service"], carried)
        row.blame("service", bad.what, bad.remedy)
    return text


def _several(text: str, roster: Roster) -> tuple[Vehicle, ...]:
    """Vehicles by mark, blanks or commas between them; one alone may be given by its name."""
    whole = roster.called.get(text.strip().casefold())
    if whole is not None:
        return (whole,)
    words = text.replace(",", " ").replace(";", " ").split()
    if not words:
        raise BadInput("There is no vehicle.", remedy="Write marks with blanks between them: AN BE.", field="vehicles")
    return tuple(vehicle for vehicle in map(roster.vehicle, words) if vehicle is not None)


def _check_event(row: _Row, roster: Roster, kind: str) -> None:
    """A misspelt event is a fault, because nothing would follow it; one that no service follows is only said."""
    events = roster.events()
    if not kind or not events or kind in events or kind == CHANGED_HANDS:
        return
    near = nearest(kind, events)
    if near is not None:
        row.blame(
            "event",
            saying("No service follows {kind}.", kind=shown(kind, 40)),
            saying("Did you mean {near}?", near=near),
        )
    else:
        row.found.warnings.append(
            row.place.fault(saying("No service follows the event {kind}.", kind=shown(kind, 40)), "It is kept.")
        )


def _one_of(enum: type[EnumT]) -> Callable[[str], EnumT]:
    def read(text: str) -> EnumT:
        try:
            return enum(text.strip().casefold())
        except ValueError:
            choices = [member.value for member in enum]
            near = nearest(text, choices)
            remedy = (
                saying("Did you mean {near}?", near=near)
                if near
                else saying("Write {choices} or {last}.", choices=", ".join(choices[:-1]), last=choices[-1])
            )
            raise BadInput(saying("It cannot be {text_}.", text_=shown(text, 40)), remedy=remedy) from None

    return read


def _a_key(text: str) -> str:
    if not is_key(text):
        raise BadInput(
            saying("{text_} cannot be a key.", text_=shown(text, 40)),
            remedy="Use lower case letters, digits and hyphens.",
        )
    return text


def visits_in(tables: Sequence[CsvTable], roster: Roster, *, found: Found) -> list[tuple[BayVisit, Place]]:
    """The visits to the bay of these tables, each with its place; two with one vehicle and number are a fault."""
    first: dict[tuple[str, int], tuple[BayVisit, Place]] = {}
    for row in _rows(tables, found):
        vehicle = row.take("vehicle", roster.vehicle)
        number = row.take("number", _a_count)
        state = row.take("state", _one_of(VisitState), blank=VisitState.PENCILLED)
        begins_at = row.take("begins", lambda text: parse_instant(text, field="begins"))
        lines = () if vehicle is None else row.take("services", partial(_lines_of, vehicle=vehicle))
        parts = row.take("takes", parse_chain)
        hands = row.take("hands", lambda text: _person(text, roster), blank="") or ""
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


def _lines_of(text: str, vehicle: Vehicle) -> tuple[LineKey, ...]:
    """Service lines written as component/service, blanks between them."""
    known = {f"{each.key}/{line.service}": each for each in vehicle.components for line in each.lines}
    words = text.replace(",", " ").casefold().split()
    for word in words:
        if word not in known:
            raise unknown(f"service on {vehicle.name}", word, known)
    if not words:
        raise BadInput("There is no service.", remedy="Write component/service, as in rear-axle/axle-vents.")
    return tuple(dict.fromkeys(LineKey(vehicle.mark, *word.split("/", 1)) for word in words))


def _person(text: str, roster: Roster) -> str:
    if text not in roster.people:
        raise unknown("person", text, sorted(roster.people))
    return text


def _a_count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6 and int(text) > 0):
        raise BadInput(saying("{text_} is no number of a visit.", text_=shown(text, 20)), remedy="Count them from 1.")
    return int(text)
