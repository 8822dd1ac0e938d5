"""Writing: one unit of work that sees its own writes, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

import sqlalchemy as sa

from fleetcare.actions.ports import Change, LineState, PackedInputs, Receipt
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.sought import sought_person, sought_vehicle
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.store import (
    bay_rows,
    cells,
    receipt_rows,
    translate_calendars,
    translate_facts,
    translate_log,
    translate_people,
    translate_vehicle,
)
from fleetcare.store.feed_writes import FeedWrites
from fleetcare.store.gate import gated
from fleetcare.store.letter_writes import LetterWrites, is_number
from fleetcare.store.reading import SqlView
from fleetcare.store.row_reads import (
    BOOKING,
    COMPONENT,
    EVENT,
    FACT_STAMP,
    FINDING,
    FITTED,
    GARAGE,
    LINE,
    LINE_INPUTS,
    LOG,
    METER,
    MOST_MARKS,
    OUTSIDE_CALENDAR,
    PERSON,
    READING,
    VEHICLE,
    WINDOW,
    WORK,
)
from fleetcare.store.row_writes import gated_row
from fleetcare.store.sentences import kept_text
from fleetcare.store.shelf_access import ShelfWrites
from fleetcare.store.straight import Straight
from fleetcare.store.work_access import WorkWrites
from fleetcare.usage.learned import Fitted
from fleetcare.work.record import WorkDone
from fleetcare.work.sought import sought_notes

_COUNT_UP = Straight(
    sa.text("INSERT INTO stand (id, version) VALUES (1, 1) ON CONFLICT (id) DO UPDATE SET version = stand.version + 1")
)
_LOG = Straight(sa.insert(LOG), columns=[column.name for column in LOG.columns if column.name != "id"])


class SqlUnit(FeedWrites, LetterWrites, WorkWrites, ShelfWrites, SqlView):
    """Implements `WriteUnit`. `wrote` says whether anything was written; putting the same value again counts."""

    def __init__(self, connection: sa.Connection, change: Change) -> None:
        super().__init__(connection)
        self._change = change

    def put_garage(self, garage: Garage) -> None:
        """The garage, new or in place of what was there."""
        self._put(GARAGE, translate_people.garage_columns(garage))
        self._garage.clear()

    def put_person(self, person: Person) -> None:
        """A person, new or in place of the one with that key."""
        self._put(PERSON, translate_people.person_columns(person))
        self._keep_words([sought_person(person)])

    def put_vehicle(self, vehicle: Vehicle) -> None:
        """A whole vehicle, new (at the end of the garage's order) or in place of the one with that mark."""
        for meter in vehicle.meters:
            for value in (meter.delivery_value, *(v for c in meter.changes for v in (c.old_end, c.new_start))):
                cells.tenths(value)  # refuses what no dial shows
        there = self._connection.execute(
            sa.select(VEHICLE.c.position).where(VEHICLE.c.mark == gated(vehicle.mark))
        ).scalar_one_or_none()
        position = there
        if position is None:
            last = self._connection.execute(sa.select(sa.func.max(VEHICLE.c.position))).scalar_one_or_none()
            position = 0 if last is None else last + 1
        self._put(VEHICLE, translate_vehicle.vehicle_columns(vehicle, position))
        self._inputs_are_old({vehicle.mark})
        for table in (LINE, COMPONENT, METER):
            self._run(sa.delete(table).where(table.c.mark == vehicle.mark))
        mark = vehicle.mark
        self._add(METER, [translate_vehicle.meter_columns(mark, m, i) for i, m in enumerate(vehicle.meters)])
        self._add(
            COMPONENT, [translate_vehicle.component_columns(mark, c, i) for i, c in enumerate(vehicle.components)]
        )
        lines = [(c.key, line) for c in vehicle.components for line in c.lines]
        self._add(LINE, [translate_vehicle.line_columns(mark, key, line, i) for i, (key, line) in enumerate(lines)])
        self._keep_words([sought_vehicle(vehicle)])

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Those that are not there yet; how many were new."""
        rows = [translate_facts.reading_columns(reading) for reading in readings]
        marks = {row["mark"] for row in rows}
        self._vehicles_are_there(marks)
        new = self._add_new(READING, rows)
        self._inputs_are_old(marks if new else set())
        return new

    def set_reading_state(
        self, reading_id: int, state: ReadingState, note: str = "", *, vouched_by: str | None = None
    ) -> None:
        """Sets whether a reading counts, and who vouches for it. Raises NotFound."""
        table = READING
        settled = (
            sa.update(table)
            .where(table.c.id == reading_id)
            .values(state=state.value, note=gated(str(note)), note_said=gated(kept_text(note)))
        )
        if vouched_by is not None:
            settled = settled.values(vouched_by=gated(vouched_by))
        if not is_number(reading_id) or self._run(settled) != 1:
            raise NotFound("reading", str(reading_id))
        of = sa.select(table.c.mark).where(table.c.id == reading_id)
        self._inputs_are_old({self._connection.execute(of).scalar_one()})

    def add_work(self, work: Sequence[WorkDone]) -> int:
        """Those that are not there yet, with their findings; how many were new."""
        new = 0
        marks = {record.line.mark for record in work}
        self._vehicles_are_there(marks)
        for record in work:
            if record.at is not None and record.unit is None:
                raise BadInput("What the dial showed has no unit.", remedy="Say km, mi or h.", field="unit")
            row = translate_facts.work_columns(record)
            if record.at is None:
                row["unit"] = ""
            if not self._add_new(WORK, [row]):
                continue
            new += 1
            same = [WORK.c[name] == row[name] for name in _SAME_WORK]
            number = self._connection.execute(sa.select(WORK.c.id).where(*same)).scalar_one()
            findings = [translate_facts.finding_columns(number, found, i) for i, found in enumerate(record.findings)]
            self._add(FINDING, findings)
            if findings:
                self._keep_words(sought_notes(replace(record, id=number)))
        self._inputs_are_old(marks if new else set())
        return new

    def add_events(self, events: Sequence[UseEvent]) -> int:
        """Those that are not there yet; how many were new."""
        marks = {event.mark for event in events}
        self._vehicles_are_there(marks)
        new = self._add_new(EVENT, [translate_facts.event_columns(event) for event in events])
        self._inputs_are_old(marks if new else set())
        return new

    def put_booking(self, booking: Booking) -> None:
        """A booking, new or in place of the one with that key."""
        self._vehicles_are_there(set(booking.marks))
        query = sa.select(BOOKING).where(BOOKING.c.key == gated(booking.key))
        before = self._connection.execute(query).first()
        self._inputs_are_old({*booking.marks, *(translate_facts.booking(before).marks if before is not None else ())})
        self._put(BOOKING, translate_facts.booking_columns(booking))

    def drop_bookings(self, keys: Iterable[str]) -> int:
        """Forgets bookings; how many were there."""
        named = BOOKING.c.key.in_(sorted(gated(key) for key in keys))
        found = [translate_facts.booking(row) for row in self._connection.execute(sa.select(BOOKING).where(named))]
        self._inputs_are_old({mark for booking in found for mark in booking.marks})
        return self._run(sa.delete(BOOKING).where(named))

    def put_bay_visit(self, visit: BayVisit) -> None:
        """A visit, new or in place of the one with that mark and number. Dates do not follow from it."""
        self._vehicles_are_there({visit.mark})
        self._put(bay_rows.BAY_VISIT, bay_rows.visit_columns(visit))

    def put_calendar(self, source: CalendarSource) -> None:
        """A calendar read by its URL, new or in place of the one with that key."""
        self._put(OUTSIDE_CALENDAR, translate_calendars.calendar_columns(source))

    def drop_calendar(self, key: str) -> bool:
        """Forgets a calendar; True if it was there."""
        table = OUTSIDE_CALENDAR
        return self._run(sa.delete(table).where(table.c.key == gated(key))) == 1

    def put_windows(self, windows: dict[LineKey, LineState]) -> None:
        """These; the others stay."""
        self._vehicles_are_there({key.mark for key in windows})
        self._put(WINDOW, *(translate_facts.window_columns(key, state) for key, state in windows.items()))

    def drop_windows(self, lines: Iterable[LineKey]) -> None:
        """Forgets these."""
        table = WINDOW
        for line in lines:
            same = (table.c.mark == line.mark, table.c.component == line.component, table.c.service == line.service)
            self._run(sa.delete(table).where(*same))

    def put_line_inputs(self, inputs: Iterable[PackedInputs]) -> None:
        """Each new or in place of what that vehicle had."""
        rows = [
            {"mark": each.mark, "rules": each.rules, "whole": each.whole, "numbers": each.numbers} for each in inputs
        ]
        self._put(LINE_INPUTS, *rows)

    def add_fit(self, fit: Fitted) -> None:
        """Numbers learned anew, beside those before."""
        self._add(FITTED, [translate_log.fit_columns(fit)])
        self._fit.clear()

    def put_receipt(self, receipt: Receipt) -> None:
        """What was answered; raises Clash if there is one of that key."""
        if not self._add_new(receipt_rows.RECEIPT, [receipt_rows.columns(receipt)]):
            raise Clash("Something was answered under that key already.")

    def drop_receipts(self, made_before: datetime) -> int:
        """Forgets what was answered long ago; how many."""
        return self._run(sa.delete(receipt_rows.RECEIPT).where(receipt_rows.before(made_before)))

    def log_change(self, subject: str, what: str, before: str, after: str) -> None:
        """One line in the log, under this unit's change."""
        line = gated_row(translate_log.log_columns(self._change, subject, what, before, after))
        _LOG.changed(self._connection, line)
        self.wrote = True

    def log_changes(self, lines: Iterable[tuple[str, str, str, str]]) -> None:
        """Many lines in the log, under this unit's change."""
        self._add(LOG, [translate_log.log_columns(self._change, *line) for line in lines])

    def count_up(self) -> None:
        """The version rises by one if this unit wrote anything."""
        if not self.wrote:
            return
        _COUNT_UP.changed(self._connection, {})

    def _inputs_are_old(self, marks: set[str]) -> None:
        """What was made of facts that change now is not whole any more, until the dates are worked out again."""
        table = LINE_INPUTS
        named = sorted(marks)
        for start in range(0, len(named), MOST_MARKS):
            some = named[start : start + MOST_MARKS]
            self._connection.execute(sa.update(table).where(table.c.mark.in_(some)).values(whole=False))
        if marks:
            version = self.version() + 1
            self._put(FACT_STAMP, *({"mark": mark, "version": version} for mark in sorted(self._exchanging(marks))))

    def _exchanging(self, marks: set[str]) -> set[str]:
        """These, and if any of them has exchanged a component, all that have: what was found goes along with it."""
        have = {mark for move in self.moves() for mark in (move.from_mark, move.to_mark)}
        return marks | have if marks & have else marks

    def _vehicles_are_there(self, marks: set[str]) -> None:
        """Raises NotFound for a mark that no vehicle has."""
        column, wanted = VEHICLE.c.mark, sorted(gated(mark) for mark in marks)
        query = sa.select(column)
        few = len(wanted) <= MOST_MARKS
        there = set(self._connection.execute(query.where(column.in_(wanted)) if few else query).scalars())
        for mark in wanted:
            if mark not in there:
                raise NotFound("vehicle", mark, self.marks())


_SAME_WORK = ("mark", "component", "service", "day", "value_tenths", "unit")
