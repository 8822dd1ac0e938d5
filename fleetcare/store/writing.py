"""Writing: one unit of work that sees its own writes, all of it or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from fleetcare.actions.ports import Change, LineState
from fleetcare.calendar_feed.values import FeedBody, PublishedEntry
from fleetcare.digest.values import Delivery, DeliveryState
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.access import AccessKey, Purpose
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.store import reading as stored
from fleetcare.store import translate
from fleetcare.store.gate import gated
from fleetcare.store.reading import SqlView
from fleetcare.work.record import WorkDone

BLOCK = 10_000
"""Rows handed to the driver at a time."""
FEW = 50
"""Below, the library's kept statement is quicker than making one for the driver."""


class SqlUnit(SqlView):
    """Implements `WriteUnit`. `wrote` says whether anything was written; putting the same value again counts."""

    def __init__(self, connection: sa.Connection, change: Change) -> None:
        super().__init__(connection)
        self._change = change
        self.wrote = False

    def put_garage(self, garage: Garage) -> None:
        """The garage, new or in place of what was there."""
        self._put(stored.GARAGE, translate.garage_columns(garage))

    def put_person(self, person: Person) -> None:
        """A person, new or in place of the one with that key."""
        self._put(stored.PERSON, translate.person_columns(person))

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
        for table in (stored.LINE, stored.COMPONENT, stored.METER):
            self._run(sa.delete(table).where(table.c.mark == vehicle.mark))
        mark = vehicle.mark
        self._add(stored.METER, [translate.meter_columns(mark, m, i) for i, m in enumerate(vehicle.meters)])
        self._add(stored.COMPONENT, [translate.component_columns(mark, c, i) for i, c in enumerate(vehicle.components)])
        lines = [(c.key, line) for c in vehicle.components for line in c.lines]
        self._add(stored.LINE, [translate.line_columns(mark, key, line, i) for i, (key, line) in enumerate(lines)])

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Those that are not there yet; how many were new."""
        rows = [translate.reading_columns(reading) for reading in readings]
        self._vehicles_are_there({row["mark"] for row in rows})
        return self._add_new(stored.READING, rows)

    def set_reading_state(self, reading_id: int, state: ReadingState, note: str = "") -> None:
        """Sets whether a reading counts. Raises NotFound."""
        table = stored.READING
        settled = sa.update(table).where(table.c.id == reading_id).values(state=state.value, note=gated(note))
        if not _is_number(reading_id) or self._run(settled) != 1:
            raise NotFound("reading", str(reading_id))

    def add_work(self, work: Sequence[WorkDone]) -> int:
        """Those that are not there yet, with their findings; how many were new."""
        new = 0
        self._vehicles_are_there({record.line.mark for record in work})
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
        return new

    def add_events(self, events: Sequence[UseEvent]) -> int:
        """Those that are not there yet; how many were new."""
        self._vehicles_are_there({event.mark for event in events})
        return self._add_new(stored.EVENT, [translate.event_columns(event) for event in events])

    def put_booking(self, booking: Booking) -> None:
        """A booking, new or in place of the one with that key."""
        self._vehicles_are_there(set(booking.marks))
        self._put(stored.BOOKING, translate.booking_columns(booking))

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

    def put_key(self, key: AccessKey) -> None:
        """A key; one that was revoked stays so."""
        before = self.key(key.hash)
        row = translate.key_columns(key)
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

    def put_published(self, person: str, entries: Sequence[PublishedEntry], feed: FeedBody) -> None:
        """Changed entries by uid, and the body served from now on. Raises Clash for somebody else's body."""
        if feed.person != person:
            raise Clash(f"The calendar of {feed.person} cannot be stored as the calendar of {person}.")
        self._put(stored.PUBLISHED, *(translate.published_columns(person, entry) for entry in entries))
        self._put(stored.FEED, translate.feed_columns(feed))

    def add_delivery(self, delivery: Delivery) -> bool:
        """False, and nothing stored, if that letter is there already."""
        return self._add_new(stored.DELIVERY, [translate.delivery_columns(delivery)]) == 1

    def set_delivery(self, delivery: Delivery) -> None:
        """How far a letter is; what it says never changes. Raises NotFound."""
        table = stored.DELIVERY
        progress = {name: gated(value) for name, value in translate.delivery_progress(delivery).items()}
        told = sa.update(table).where(table.c.id == delivery.id).values(**progress)
        if not _is_number(delivery.id) or self._run(told) != 1:
            raise NotFound("letter", str(delivery.id))

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        """Takes a letter for sending if nobody else has it and it is due."""
        table = stored.DELIVERY
        at = translate.instant_text(now)
        is_due = sa.and_(
            table.c.state == DeliveryState.DUE.value, sa.or_(table.c.next_try_at.is_(None), table.c.next_try_at <= at)
        )
        is_stale = sa.and_(
            table.c.state == DeliveryState.LEASED.value,
            sa.or_(table.c.leased_until.is_(None), table.c.leased_until <= at),
        )
        lease = {"state": DeliveryState.LEASED.value, "leased_until": translate.instant_text(until)}
        query = sa.update(table).where(table.c.id == delivery_id, sa.or_(is_due, is_stale)).values(**lease)
        if not _is_number(delivery_id) or self._run(query) != 1:
            return None
        return translate.delivery(self._connection.execute(sa.select(table).where(table.c.id == delivery_id)).one())

    def log_change(self, subject: str, what: str, before: str, after: str) -> None:
        """One line in the log, under this unit's change."""
        self._add(stored.LOG, [translate.log_columns(self._change, subject, what, before, after)])

    def count_up(self) -> None:
        """The version rises by one if this unit wrote anything."""
        if not self.wrote:
            return
        self._put(stored.STAND, {"id": 1, "version": self.version() + 1})

    def _run(self, statement: sa.Update | sa.Delete) -> int:
        rows = self._connection.execute(statement).rowcount
        self.wrote = self.wrote or rows > 0
        return rows

    def _add(self, table: sa.Table, rows: Sequence[translate.Columns]) -> None:
        for start in range(0, len(rows), BLOCK):
            self._connection.execute(sa.insert(table), [_gated_row(row) for row in rows[start : start + BLOCK]])
            self.wrote = True

    def _add_new(self, table: sa.Table, rows: Sequence[translate.Columns]) -> int:
        """Rows that do not collide with one that is there; how many."""
        insert = self._insert(table).on_conflict_do_nothing()
        counted = {"preserve_rowcount": True}
        new = 0
        for start in range(0, len(rows), BLOCK):
            block = [_gated_row(row) for row in rows[start : start + BLOCK]]
            if len(block) < FEW:
                new += self._connection.execute(insert, block, execution_options=counted).rowcount
            else:
                text, given = self._for_the_driver(insert, block)
                new += self._connection.exec_driver_sql(text, given, execution_options=counted).rowcount
        self.wrote = self.wrote or new > 0
        return new

    def _for_the_driver(self, insert: Any, rows: Sequence[translate.Columns]) -> tuple[str, Any]:
        """Statement and rows as the driver takes them; the library's own way through many rows costs as much again."""
        made = insert.compile(dialect=self._connection.dialect, column_keys=list(rows[0]))
        if not made.positional:
            return made.string, rows
        return made.string, [tuple(row[name] for name in made.positiontup) for row in rows]

    def _put(self, table: sa.Table, *rows: translate.Columns) -> None:
        """Rows, each new or in place of the one with that key."""
        if not rows:
            return
        keys = [column.name for column in table.primary_key]
        insert = self._insert(table)
        others = {name: insert.excluded[name] for name in rows[0] if name not in keys}
        statement = insert.on_conflict_do_update(index_elements=keys, set_=others)
        self._connection.execute(statement, [_gated_row(row) for row in rows])
        self.wrote = True

    def _insert(self, table: sa.Table) -> Any:
        if self._connection.dialect.name == "sqlite":
            from sqlalchemy.dialects.sqlite import insert as sqlite_insert

            return sqlite_insert(table)
        from sqlalchemy.dialects.postgresql import insert as postgresql_insert

        return postgresql_insert(table)

    def _vehicles_are_there(self, marks: set[str]) -> None:
        """Raises NotFound for a mark that no vehicle has."""
        there = set(self._connection.execute(sa.select(stored.VEHICLE.c.mark)).scalars())
        for mark in sorted(gated(mark) for mark in marks):
            if mark not in there:
                raise NotFound("vehicle", mark, there)


_SAME_WORK = ("mark", "component", "service", "day", "value_tenths", "unit")


def _is_number(given: int | None) -> bool:
    """True if a row can have that number. Addresses hold what people type, and no driver takes a larger one."""
    return given is not None and 0 < given < 2**31


def _gated_row(row: translate.Columns) -> translate.Columns:
    for value in row.values():
        gated(value)
    return row
