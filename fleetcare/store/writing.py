"""Writing: one unit of work that sees its own writes, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from fleetcare.actions.ports import Change, LineState, PackedInputs, Receipt
from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, number_of
from fleetcare.digest.values import Delivery, LetterPlace
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.sought import sought_person, sought_vehicle
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.store import (
    bay_rows,
    delivery_rows,
    feed_rows,
    receipt_rows,
    translate,
    translate_calendars,
    translate_feeds,
)
from fleetcare.store import reading as stored
from fleetcare.store.gate import gated
from fleetcare.store.reading import SqlView
from fleetcare.store.shelf_access import ShelfWrites
from fleetcare.store.sought_access import SoughtWrites
from fleetcare.store.straight import Straight
from fleetcare.store.work_access import WorkWrites
from fleetcare.usage.learned import Fitted
from fleetcare.work.record import WorkDone
from fleetcare.work.sought import sought_notes

BLOCK = 10_000
"""Rows handed to the driver at a time."""

_COUNT_UP = Straight(
    sa.text("INSERT INTO stand (id, version) VALUES (1, 1) ON CONFLICT (id) DO UPDATE SET version = stand.version + 1")
)
_LOG = Straight(sa.insert(stored.LOG), columns=[column.name for column in stored.LOG.columns if column.name != "id"])
_TEXTS: dict[tuple[str, str, str, tuple[str, ...]], tuple[str, tuple[str, ...] | None]] = {}
"""Statements as drivers take them, with the order of their values; None where the driver takes names."""


class SqlUnit(WorkWrites, ShelfWrites, SoughtWrites, SqlView):
    """Implements `WriteUnit`. `wrote` says whether anything was written; putting the same value again counts."""

    def __init__(self, connection: sa.Connection, change: Change) -> None:
        super().__init__(connection)
        self._change = change
        self.wrote = False

    def put_garage(self, garage: Garage) -> None:
        """The garage, new or in place of what was there."""
        self._put(stored.GARAGE, translate.garage_columns(garage))
        self._garage.clear()

    def put_person(self, person: Person) -> None:
        """A person, new or in place of the one with that key."""
        self._put(stored.PERSON, translate.person_columns(person))
        self._keep_words([sought_person(person)])

    def put_vehicle(self, vehicle: Vehicle) -> None:
        """A whole vehicle, new (at the end of the garage's order) or in place of the one with that mark."""
        for meter in vehicle.meters:
            for value in (meter.delivery_value, *(v for c in meter.changes for v in (c.old_end, c.new_start))):
                translate.tenths(value)  # refuses what no dial shows
        there = self._connection.execute(
            sa.select(stored.VEHICLE.c.position).where(stored.VEHICLE.c.mark == gated(vehicle.mark))
        ).scalar_one_or_none()
        position = there
        if position is None:
            last = self._connection.execute(sa.select(sa.func.max(stored.VEHICLE.c.position))).scalar_one_or_none()
            position = 0 if last is None else last + 1
        self._put(stored.VEHICLE, translate.vehicle_columns(vehicle, position))
        self._inputs_are_old({vehicle.mark})
        for table in (stored.LINE, stored.COMPONENT, stored.METER):
            self._run(sa.delete(table).where(table.c.mark == vehicle.mark))
        mark = vehicle.mark
        self._add(stored.METER, [translate.meter_columns(mark, m, i) for i, m in enumerate(vehicle.meters)])
        self._add(stored.COMPONENT, [translate.component_columns(mark, c, i) for i, c in enumerate(vehicle.components)])
        lines = [(c.key, line) for c in vehicle.components for line in c.lines]
        self._add(stored.LINE, [translate.line_columns(mark, key, line, i) for i, (key, line) in enumerate(lines)])
        self._keep_words([sought_vehicle(vehicle)])

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Those that are not there yet; how many were new."""
        rows = [translate.reading_columns(reading) for reading in readings]
        marks = {row["mark"] for row in rows}
        self._vehicles_are_there(marks)
        new = self._add_new(stored.READING, rows)
        self._inputs_are_old(marks if new else set())
        return new

    def set_reading_state(
        self, reading_id: int, state: ReadingState, note: str = "", *, vouched_by: str | None = None
    ) -> None:
        """Sets whether a reading counts, and who vouches for it. Raises NotFound."""
        table = stored.READING
        settled = sa.update(table).where(table.c.id == reading_id).values(state=state.value, note=gated(note))
        if vouched_by is not None:
            settled = settled.values(vouched_by=gated(vouched_by))
        if not _is_number(reading_id) or self._run(settled) != 1:
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
            row = translate.work_columns(record)
            if record.at is None:
                row["unit"] = ""
            if not self._add_new(stored.WORK, [row]):
                continue
            new += 1
            same = [stored.WORK.c[name] == row[name] for name in _SAME_WORK]
            number = self._connection.execute(sa.select(stored.WORK.c.id).where(*same)).scalar_one()
            findings = [translate.finding_columns(number, found, i) for i, found in enumerate(record.findings)]
            self._add(stored.FINDING, findings)
            if findings:
                self._keep_words(sought_notes(replace(record, id=number)))
        self._inputs_are_old(marks if new else set())
        return new

    def add_events(self, events: Sequence[UseEvent]) -> int:
        """Those that are not there yet; how many were new."""
        marks = {event.mark for event in events}
        self._vehicles_are_there(marks)
        new = self._add_new(stored.EVENT, [translate.event_columns(event) for event in events])
        self._inputs_are_old(marks if new else set())
        return new

    def put_booking(self, booking: Booking) -> None:
        """A booking, new or in place of the one with that key."""
        self._vehicles_are_there(set(booking.marks))
        query = sa.select(stored.BOOKING).where(stored.BOOKING.c.key == gated(booking.key))
        before = self._connection.execute(query).first()
        self._inputs_are_old({*booking.marks, *(translate.booking(before).marks if before is not None else ())})
        self._put(stored.BOOKING, translate.booking_columns(booking))

    def drop_bookings(self, keys: Iterable[str]) -> int:
        """Forgets bookings; how many were there."""
        named = stored.BOOKING.c.key.in_(sorted(gated(key) for key in keys))
        found = [translate.booking(row) for row in self._connection.execute(sa.select(stored.BOOKING).where(named))]
        self._inputs_are_old({mark for booking in found for mark in booking.marks})
        return self._run(sa.delete(stored.BOOKING).where(named))

    def put_bay_visit(self, visit: BayVisit) -> None:
        """A visit, new or in place of the one with that mark and number. Dates do not follow from it."""
        self._vehicles_are_there({visit.mark})
        self._put(bay_rows.BAY_VISIT, bay_rows.visit_columns(visit))

    def put_calendar(self, source: CalendarSource) -> None:
        """A calendar read by its URL, new or in place of the one with that key."""
        self._put(stored.OUTSIDE_CALENDAR, translate_calendars.calendar_columns(source))

    def drop_calendar(self, key: str) -> bool:
        """Forgets a calendar; True if it was there."""
        table = stored.OUTSIDE_CALENDAR
        return self._run(sa.delete(table).where(table.c.key == gated(key))) == 1

    def put_windows(self, windows: dict[LineKey, LineState]) -> None:
        """These; the others stay."""
        self._vehicles_are_there({key.mark for key in windows})
        self._put(stored.WINDOW, *(translate.window_columns(key, state) for key, state in windows.items()))

    def drop_windows(self, lines: Iterable[LineKey]) -> None:
        """Forgets these."""
        table = stored.WINDOW
        for line in lines:
            same = (table.c.mark == line.mark, table.c.component == line.component, table.c.service == line.service)
            self._run(sa.delete(table).where(*same))

    def put_line_inputs(self, inputs: Iterable[PackedInputs]) -> None:
        """Each new or in place of what that vehicle had."""
        rows = [
            {"mark": each.mark, "rules": each.rules, "whole": each.whole, "numbers": each.numbers} for each in inputs
        ]
        self._put(stored.LINE_INPUTS, *rows)

    def put_key(self, key: AccessKey) -> None:
        """A key; one that was revoked stays so."""
        before = self.key(key.hash)
        row = translate_feeds.key_columns(key)
        if before is not None and before.revoked_at is not None:
            row["revoked_at"] = translate.instant_text(before.revoked_at)
        self._put(stored.KEY, row)

    def revoke_keys(self, at: datetime, *, purpose: Purpose, person: str = "", mark: str = "") -> int:
        """Ends the keys of that purpose with that person and mark; how many."""
        table = stored.KEY
        theirs = (table.c.purpose == purpose.value, table.c.person == gated(person), table.c.mark == gated(mark))
        alive = (*theirs, table.c.revoked_at.is_(None))
        return self._run(sa.update(table).where(*alive).values(revoked_at=translate.instant_text(at)))

    def use_up_key(self, key_hash: str, at: datetime) -> bool:
        """Ends one key; True if it was this call that did."""
        table = stored.KEY
        alive = (table.c.hash == gated(key_hash), table.c.revoked_at.is_(None))
        return self._run(sa.update(table).where(*alive).values(revoked_at=translate.instant_text(at))) == 1

    def add_revisions(self, entries: Sequence[PublishedEntry]) -> tuple[int, ...]:
        """Their ids, in the same order."""
        rows = {number_of(entry.digest): translate_feeds.revision_columns(entry) for entry in entries}
        there = self.revisions(rows)
        if any(there[number].digest != rows[number]["digest"] for number in there):
            raise Clash("Two entries of a calendar cannot be told apart. Change one of their texts.")
        self._add(feed_rows.REVISION, [row for number, row in rows.items() if number not in there])
        return tuple(number_of(entry.digest) for entry in entries)

    def drop_revisions(self, ids: Iterable[int]) -> None:
        """Forgets these."""
        table = feed_rows.REVISION
        wanted = sorted(ids)
        for start in range(0, len(wanted), feed_rows.AT_ONCE):
            self._run(sa.delete(table).where(table.c.id.in_(wanted[start : start + feed_rows.AT_ONCE])))

    def put_feed(self, contents: FeedContents) -> None:
        """What is served from now on."""
        self._put(feed_rows.FEED, translate_feeds.contents_columns(contents))

    def put_shown_lines(self, shown: dict[LineKey, Shown]) -> None:
        """These; the others stay."""
        self._put(feed_rows.SHOWN, *(translate_feeds.shown_columns(line, each) for line, each in shown.items()))

    def drop_shown_lines(self, lines: Iterable[LineKey]) -> None:
        """Forgets these."""
        table = feed_rows.SHOWN
        for line in lines:
            same = (table.c.mark == line.mark, table.c.component == line.component, table.c.service == line.service)
            self._run(sa.delete(table).where(*same))

    def put_feed_choice(self, person: str, choice: FeedChoice) -> None:
        """What that person wants from now on."""
        self._put(feed_rows.CHOICE, translate_feeds.choice_columns(person, choice))

    def owe_feeds(self, marks: Iterable[str]) -> None:
        """The change of these vehicles stands in no calendar yet."""
        self._add_new(feed_rows.OWED, [{"mark": gated(mark)} for mark in sorted(set(marks))])

    def feeds_given(self, marks: Iterable[str] | None = None) -> None:
        """It does now; of all if None."""
        table, wanted = feed_rows.OWED, None if marks is None else sorted(set(marks))
        if wanted is None:
            self._run(sa.delete(table))
            return
        for start in range(0, len(wanted), feed_rows.AT_ONCE):
            self._run(sa.delete(table).where(table.c.mark.in_(wanted[start : start + feed_rows.AT_ONCE])))

    def put_feed_era(self, era: int) -> None:
        """How many restores there were."""
        self._put(feed_rows.ERA, {"id": 1, "era": era})

    def put_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """The last fetch by a key; it counts as no write."""
        wrote = self.wrote
        self._put(feed_rows.FETCH, translate_feeds.fetch_columns(key_hash, fetch))
        self.wrote = wrote

    def put_farewell(self, key_hash: str, body: FeedBody) -> None:
        """What a replaced address answers with."""
        self._put(feed_rows.FAREWELL, translate_feeds.farewell_columns(key_hash, body))

    def add_delivery(self, delivery: Delivery) -> bool:
        """False, and nothing stored, if that letter is there already."""
        is_new = self._add_new(stored.DELIVERY, [translate.delivery_columns(delivery)]) == 1
        if is_new:
            delivery_rows.add_body(self._connection, delivery)
        return is_new

    def set_delivery(self, delivery: Delivery | LetterPlace) -> None:
        """How far a letter is; what it says never changes. Raises NotFound."""
        if not _is_number(delivery.id) or delivery_rows.set_progress(self._connection, delivery) != 1:
            raise NotFound("letter", str(delivery.id))
        self.wrote = True

    def end_lease(self, letter: LetterPlace, leased_until: datetime) -> bool:
        """How far a letter is, if the lease until then still holds; True if it did."""
        held = delivery_rows.end_lease(self._connection, letter, leased_until) == 1
        self.wrote = self.wrote or held
        return held

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        """Takes a letter for sending if nobody else has it and it is due."""
        taken = delivery_rows.lease(self._connection, delivery_id, now, until) if _is_number(delivery_id) else None
        self.wrote = self.wrote or taken is not None
        return taken

    def add_fit(self, fit: Fitted) -> None:
        """Numbers learned anew, beside those before."""
        self._add(stored.FITTED, [translate.fit_columns(fit)])
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
        line = _gated_row(translate.log_columns(self._change, subject, what, before, after))
        _LOG.changed(self._connection, line)
        self.wrote = True

    def log_changes(self, lines: Iterable[tuple[str, str, str, str]]) -> None:
        """Many lines in the log, under this unit's change."""
        self._add(stored.LOG, [translate.log_columns(self._change, *line) for line in lines])

    def count_up(self) -> None:
        """The version rises by one if this unit wrote anything."""
        if not self.wrote:
            return
        _COUNT_UP.changed(self._connection, {})

    def _inputs_are_old(self, marks: set[str]) -> None:
        """What was made of facts that change now is not whole any more, until the dates are worked out again."""
        table = stored.LINE_INPUTS
        named = sorted(marks)
        for start in range(0, len(named), stored.MOST_MARKS):
            some = named[start : start + stored.MOST_MARKS]
            self._connection.execute(sa.update(table).where(table.c.mark.in_(some)).values(whole=False))
        if marks:
            version = self.version() + 1
            self._put(
                stored.FACT_STAMP, *({"mark": mark, "version": version} for mark in sorted(self._exchanging(marks)))
            )

    def _exchanging(self, marks: set[str]) -> set[str]:
        """These, and if any of them has exchanged a component, all that have: what was found goes along with it."""
        have = {mark for move in self.moves() for mark in (move.from_mark, move.to_mark)}
        return marks | have if marks & have else marks

    def _run(self, statement: sa.Update | sa.Delete) -> int:
        rows = self._connection.execute(statement).rowcount
        self.wrote = self.wrote or rows > 0
        return rows

    def _add(self, table: sa.Table, rows: Sequence[translate.Columns]) -> None:
        if rows:
            self._run_many("add", table, rows)
            self.wrote = True

    def _add_new(self, table: sa.Table, rows: Sequence[translate.Columns]) -> int:
        """Rows that do not collide with one that is there; how many."""
        new = self._run_many("add new", table, rows) if rows else 0
        self.wrote = self.wrote or new > 0
        return new

    def _put(self, table: sa.Table, *rows: translate.Columns) -> None:
        """Rows, each new or in place of the one with that key."""
        if rows:
            self._run_many("put", table, rows)
            self.wrote = True

    def _run_many(self, how: str, table: sa.Table, rows: Sequence[translate.Columns]) -> int:
        """Hands rows to the driver; how many it took.

        The statement is put together once in a process: the library's own way costs as much again as the rows.
        """
        kept = (self._connection.dialect.name, how, table.name, tuple(rows[0]))
        if kept not in _TEXTS:
            made = self._insert_of(how, table, list(rows[0])).compile(
                dialect=self._connection.dialect, column_keys=list(rows[0])
            )
            _TEXTS[kept] = (made.string, tuple(made.positiontup) if made.positional else None)
        text, places = _TEXTS[kept]
        took = 0
        for start in range(0, len(rows), BLOCK):
            block = [_gated_row(row) for row in rows[start : start + BLOCK]]
            given: Any = block if places is None else [tuple(row[name] for name in places) for row in block]
            took += self._connection.exec_driver_sql(
                text, given, execution_options={"preserve_rowcount": True}
            ).rowcount
        return took

    def _insert_of(self, how: str, table: sa.Table, columns: Sequence[str]) -> Any:
        insert = self._insert(table)
        if how == "add new":
            return insert.on_conflict_do_nothing()
        if how == "put":
            keys = [column.name for column in table.primary_key]
            others = {name: insert.excluded[name] for name in columns if name not in keys}
            return insert.on_conflict_do_update(index_elements=keys, set_=others)
        return insert

    def _insert(self, table: sa.Table) -> Any:
        if self._connection.dialect.name == "sqlite":
            from sqlalchemy.dialects.sqlite import insert as sqlite_insert

            return sqlite_insert(table)
        from sqlalchemy.dialects.postgresql import insert as postgresql_insert

        return postgresql_insert(table)

    def _vehicles_are_there(self, marks: set[str]) -> None:
        """Raises NotFound for a mark that no vehicle has."""
        column, wanted = stored.VEHICLE.c.mark, sorted(gated(mark) for mark in marks)
        query = sa.select(column)
        few = len(wanted) <= stored.MOST_MARKS
        there = set(self._connection.execute(query.where(column.in_(wanted)) if few else query).scalars())
        for mark in wanted:
            if mark not in there:
                raise NotFound("vehicle", mark, self.marks())


_SAME_WORK = ("mark", "component", "service", "day", "value_tenths", "unit")


def _is_number(given: int | None) -> bool:
    """True if a row can have that number. Addresses hold what people type, and no driver takes a larger one."""
    return given is not None and 0 < given < 2**31


def _gated_row(row: translate.Columns) -> translate.Columns:
    for value in row.values():
        gated(value)
    return row
