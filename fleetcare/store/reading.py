"""Reading: one consistent view of what is stored, as values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.actions.ports import LineState, LogEntry, PackedInputs, Receipt
from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import FeedBody, FeedContents, PublishedEntry, Revision
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.fleet.access import AccessKey, Fetch, Purpose
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.store import (
    bay_rows,
    delivery_rows,
    feed_rows,
    receipt_rows,
    tables,
    translate,
    translate_calendars,
    translate_feeds,
)
from fleetcare.store.gate import gated
from fleetcare.store.known_vehicles import KnownVehicles
from fleetcare.store.shelf_access import ShelfReads
from fleetcare.store.sought_access import SoughtReads
from fleetcare.store.work_access import WorkReads
from fleetcare.usage.learned import Fitted
from fleetcare.work.record import WorkDone

Rows = Sequence[Any]


def table_of(row: type[SQLModel]) -> sa.Table:
    """The table of a row class."""
    table = SQLModel.metadata.tables[str(row.__tablename__)]
    assert isinstance(table, sa.Table)
    return table


STAND = table_of(tables.StandRow)
GARAGE = table_of(tables.GarageRow)
PERSON = table_of(tables.PersonRow)
VEHICLE = table_of(tables.VehicleRow)
METER = table_of(tables.MeterRow)
COMPONENT = table_of(tables.ComponentRow)
LINE = table_of(tables.LineRow)
READING = table_of(tables.ReadingRow)
WORK = table_of(tables.WorkRow)
FINDING = table_of(tables.FindingRow)
EVENT = table_of(tables.EventRow)
BOOKING = table_of(tables.BookingRow)
OUTSIDE_CALENDAR = table_of(tables.OutsideCalendarRow)
WINDOW = table_of(tables.WindowRow)
LINE_INPUTS = table_of(tables.LineInputsRow)
FACT_STAMP = table_of(tables.FactStampRow)
KEY = table_of(tables.KeyRow)
DELIVERY = table_of(tables.DeliveryRow)
LOG = table_of(tables.LogRow)
FITTED = table_of(tables.FittedRow)

MOST_MARKS = 500
"""Marks named in one statement; a longer list reads the whole table and picks."""


class SqlView(WorkReads, ShelfReads, SoughtReads):
    """Implements `ReadView` on one connection inside one transaction."""

    def __init__(self, connection: sa.Connection, known: KnownVehicles | None = None) -> None:
        self._connection = connection
        self._vehicles_known = known
        # Asked for again and again within one view, and changed by this unit alone if at all.
        self._garage: list[Garage | None] = []
        self._fit: list[Fitted | None] = []

    def version(self) -> int:
        """How many writes there were."""
        return int(self._connection.execute(sa.select(STAND.c.version)).scalar_one_or_none() or 0)

    def garage(self) -> Garage | None:
        """The garage, or None in an empty home."""
        if not self._garage:
            row = self._connection.execute(sa.select(GARAGE)).first()
            self._garage.append(None if row is None else translate.garage(row))
        return self._garage[0]

    def people(self) -> tuple[Person, ...]:
        """By key."""
        return tuple(translate.person(row) for row in self._all(PERSON, PERSON.c.key))

    def vehicles(self, marks: Iterable[str] | None = None) -> tuple[Vehicle, ...]:
        """In the garage's order. Of all of them, those this process has read before are not put together again."""
        wanted = _named(marks)
        if wanted is None and self._vehicles_known is not None:
            return self._vehicles_known.vehicles(self.fact_stamps(), self.feed_era(), self._vehicles_read)
        return self._vehicles_read(wanted)

    def _vehicles_read(self, marks: Iterable[str] | None) -> tuple[Vehicle, ...]:
        wanted = None if marks is None else frozenset(marks)
        meters = _grouped(self._of_marks(METER, wanted, METER.c.position))
        components = _grouped(self._of_marks(COMPONENT, wanted, COMPONENT.c.position))
        lines: defaultdict[str, defaultdict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
        for row in self._of_marks(LINE, wanted, LINE.c.position):
            lines[row.mark][row.component].append(row)
        return tuple(
            translate.vehicle(row, meters[row.mark], components[row.mark], lines[row.mark])
            for row in self._of_marks(VEHICLE, wanted, VEHICLE.c.position)
        )

    def fact_stamps(self) -> dict[str, int]:
        """By mark, in the garage's order; 0 for a vehicle nothing was written about since stamps are kept."""
        query = (
            sa.select(VEHICLE.c.mark, sa.func.coalesce(FACT_STAMP.c.version, 0))
            .select_from(VEHICLE.outerjoin(FACT_STAMP, FACT_STAMP.c.mark == VEHICLE.c.mark))
            .order_by(VEHICLE.c.position)
        )
        return {mark: int(version) for mark, version in self._connection.execute(query)}

    def bare_vehicles(self) -> tuple[Vehicle, ...]:
        """In the garage's order, without their meters and components."""
        return tuple(translate.vehicle(row, (), (), {}) for row in self._all(VEHICLE, VEHICLE.c.position))

    def readings(self, marks: Iterable[str] | None = None) -> tuple[Reading, ...]:
        """By mark, meter, day, id."""
        order = (READING.c.mark, READING.c.meter, READING.c.day, READING.c.id)
        return tuple(map(translate.reading, self._of_marks(READING, _named(marks), *order)))

    def work(self, marks: Iterable[str] | None = None) -> tuple[WorkDone, ...]:
        """By line, day, id."""
        order = (WORK.c.mark, WORK.c.component, WORK.c.service, WORK.c.day, WORK.c.id)
        rows = self._of_marks(WORK, _named(marks), *order)
        findings: defaultdict[int, list[Any]] = defaultdict(list)
        if rows:
            query = sa.select(FINDING).order_by(FINDING.c.work_id, FINDING.c.position)
            if len(rows) <= MOST_MARKS:
                query = query.where(FINDING.c.work_id.in_([row.id for row in rows]))
            for found in self._connection.execute(query):
                findings[found.work_id].append(found)
        return tuple(translate.work(row, findings[row.id]) for row in rows)

    def events(self, marks: Iterable[str] | None = None) -> tuple[UseEvent, ...]:
        """By mark, day, kind, component."""
        order = (EVENT.c.mark, EVENT.c.day, EVENT.c.kind, EVENT.c.component)
        return tuple(translate.event(row) for row in self._of_marks(EVENT, _named(marks), *order))

    def bookings(self) -> tuple[Booking, ...]:
        """By first day, key."""
        return tuple(translate.booking(row) for row in self._all(BOOKING, BOOKING.c.first_day, BOOKING.c.key))

    def bay_visits(self, marks: Iterable[str] | None = None) -> tuple[BayVisit, ...]:
        """By mark, number."""
        order = (bay_rows.BAY_VISIT.c.mark, bay_rows.BAY_VISIT.c.number)
        return tuple(bay_rows.visit(row) for row in self._of_marks(bay_rows.BAY_VISIT, _named(marks), *order))

    def calendars(self) -> tuple[CalendarSource, ...]:
        """Calendars read by their URL, by key."""
        rows = self._all(OUTSIDE_CALENDAR, OUTSIDE_CALENDAR.c.key)
        return tuple(translate_calendars.calendar(row) for row in rows)

    def windows(self, marks: Iterable[str] | None = None) -> dict[LineKey, LineState]:
        """By line."""
        order = (WINDOW.c.mark, WINDOW.c.component, WINDOW.c.service)
        return dict(translate.window(row) for row in self._of_marks(WINDOW, _named(marks), *order))

    def line_inputs(self, marks: Iterable[str] | None = None) -> tuple[PackedInputs, ...]:
        """By mark."""
        rows = self._of_marks(LINE_INPUTS, _named(marks), LINE_INPUTS.c.mark)
        return tuple(PackedInputs(row.mark, row.rules, bool(row.whole), bytes(row.numbers)) for row in rows)

    def lines(self, marks: Iterable[str]) -> tuple[LineKey, ...]:
        """Sorted."""
        table = WINDOW
        query = sa.select(table.c.mark, table.c.component, table.c.service)
        found: list[LineKey] = []
        wanted = sorted(_named(marks) or ())
        for start in range(0, len(wanted), MOST_MARKS):
            rows = self._connection.execute(query.where(table.c.mark.in_(wanted[start : start + MOST_MARKS])))
            found += [LineKey(*row) for row in rows.all()]
        return tuple(sorted(found))

    def marks(self) -> tuple[str, ...]:
        """Of all vehicles, sorted."""
        ordered = sa.select(VEHICLE.c.mark).order_by(*self._order(VEHICLE.c.mark))
        return tuple(self._connection.execute(ordered).scalars())

    def key(self, key_hash: str, *, in_use: bool = False) -> AccessKey | None:
        """The key with that hash. in_use: unless it was revoked; its row then stays in the database.

        Turned into a value here, it took longer than a key that never was, and so gave away that it once was one.
        """
        query = sa.select(KEY).where(KEY.c.hash == gated(key_hash))
        row = self._connection.execute(query.where(KEY.c.revoked_at.is_(None)) if in_use else query).first()
        return None if row is None else translate_feeds.key(row)

    def keys(self, purpose: Purpose | None = None) -> tuple[AccessKey, ...]:
        """By moment of making, hash."""
        query = sa.select(KEY)
        if purpose is not None:
            query = query.where(KEY.c.purpose == purpose.value)
        ordered = query.order_by(*self._order(KEY.c.made_at, KEY.c.hash))
        return tuple(translate_feeds.key(row) for row in self._connection.execute(ordered))

    def fetches(self) -> dict[str, Fetch]:
        """By key hash."""
        return feed_rows.fetches(self._connection)

    def feed(self, person: str, mark: str = "") -> FeedBody | None:
        """What is served, joined."""
        return feed_rows.body(self._connection, person, mark)

    def feed_scopes(self) -> dict[tuple[str, str], tuple[str, tuple[str, ...]]]:
        """By person and mark."""
        return feed_rows.scopes(self._connection)

    def feed_contents(self, keys: Iterable[tuple[str, str]] | None = None) -> tuple[FeedContents, ...]:
        """By person, mark."""
        return feed_rows.contents(self._connection, keys)

    def published(self, person: str, mark: str = "") -> tuple[PublishedEntry, ...]:
        """By uid, withdrawn ones included."""
        return feed_rows.published(self._connection, person, mark)

    def revisions(self, ids: Iterable[int] | None = None) -> dict[int, Revision]:
        """By id, without their bytes."""
        return feed_rows.revisions(self._connection, ids)

    def revisions_of(self, uids: Iterable[str]) -> tuple[Revision, ...]:
        """By id, without their bytes."""
        return feed_rows.revisions_of(self._connection, uids)

    def shown_lines(self, marks: Iterable[str] | None = None) -> dict[LineKey, Shown]:
        """By line."""
        return feed_rows.shown_lines(self._of_marks(feed_rows.SHOWN, _named(marks)))

    def feed_choices(self) -> dict[str, FeedChoice]:
        """By person."""
        return feed_rows.choices(self._connection)

    def feeds_owed(self) -> frozenset[str]:
        """Marks of vehicles whose change stands in no calendar yet."""
        return feed_rows.owed(self._connection)

    def feed_era(self) -> int:
        """How many restores."""
        return feed_rows.era(self._connection)

    def deliveries(self, state: DeliveryState | None = None) -> tuple[Delivery, ...]:
        """By moment of decision, id."""
        query = delivery_rows.WHOLE
        if state is not None:
            query = query.where(DELIVERY.c.state == state.value)
        ordered = query.order_by(*self._order(DELIVERY.c.decided_at, DELIVERY.c.id))
        return tuple(translate.delivery(row) for row in self._connection.execute(ordered))

    def delivery(self, person: str, kind: LetterKind, period: str) -> Delivery | None:
        """That letter, whatever its state."""
        row = self._connection.execute(
            delivery_rows.WHOLE.where(
                DELIVERY.c.person == gated(person),
                DELIVERY.c.kind == kind.value,
                DELIVERY.c.period == gated(period),
            )
        ).first()
        return None if row is None else translate.delivery(row)

    def letter_places(
        self,
        *,
        states: Collection[DeliveryState] | None = None,
        kinds: Collection[LetterKind] | None = None,
        people: Collection[str] | None = None,
        since: datetime | None = None,
    ) -> tuple[LetterPlace, ...]:
        """By moment of decision, id; without their bytes."""
        return delivery_rows.places(self._connection, states=states, kinds=kinds, people=people, since=since)

    def log(self, subject: str | None = None, limit: int | None = None) -> tuple[LogEntry, ...]:
        """Newest first."""
        query = sa.select(LOG).order_by(LOG.c.id.desc())
        if subject is not None:
            query = query.where(LOG.c.subject == gated(subject))
        if limit is not None:
            query = query.limit(limit)
        return tuple(translate.log_entry(row) for row in self._connection.execute(query))

    def newest_fit(self) -> Fitted | None:
        """The numbers last learned."""
        if not self._fit:
            row = self._connection.execute(sa.select(FITTED).order_by(FITTED.c.id.desc()).limit(1)).first()
            self._fit.append(None if row is None else translate.fit(row))
        return self._fit[0]

    def receipt(self, key: str) -> Receipt | None:
        """What was answered under that key."""
        return receipt_rows.receipt(self._connection, gated(key))

    def _order(self, *columns: sa.ColumnElement[Any]) -> list[sa.ColumnElement[Any]]:
        """Text sorts by its code points on either database, whatever language the server was set to."""
        if self._connection.dialect.name == "sqlite":
            return list(columns)
        return [c.collate("C") if isinstance(c.type, sa.String) else c for c in columns]

    def _all(self, table: sa.Table, *order: sa.ColumnElement[Any]) -> Rows:
        return self._connection.execute(sa.select(table).order_by(*self._order(*order))).all()

    def _of_marks(self, table: sa.Table, wanted: frozenset[str] | None, *order: sa.ColumnElement[Any]) -> Rows:
        if wanted is not None and 1 < len(wanted) <= MOST_MARKS:
            query = sa.select(table).order_by(*self._order(*order))
            return self._connection.execute(query.where(table.c.mark.in_(sorted(wanted)))).all()
        one = wanted is not None and len(wanted) == 1
        text = self._kept_text(table, order, one=one)
        if wanted is not None and one:
            (mark,) = wanted
            given: Any = (mark,) if self._connection.dialect.name == "sqlite" else {"mark_1": mark}
            return self._connection.exec_driver_sql(text, given).all()
        rows = self._connection.exec_driver_sql(text).all()
        return rows if wanted is None else [row for row in rows if row.mark in wanted]

    def _kept_text(self, table: sa.Table, order: tuple[sa.ColumnElement[Any], ...], *, one: bool) -> str:
        """The statement as the driver takes it, put together once: it is asked with every reading that is typed."""
        dialect = self._connection.dialect
        key = (dialect.name, table.name, tuple(str(column) for column in order), one)
        if key not in _TEXTS:
            query = sa.select(table).order_by(*self._order(*order))
            if one:
                query = query.where(table.c.mark == sa.bindparam("mark_1"))
            _TEXTS[key] = query.compile(dialect=dialect).string
        return _TEXTS[key]


_TEXTS: dict[tuple[str, str, tuple[str, ...], bool], str] = {}


def _named(marks: Iterable[str] | None) -> frozenset[str] | None:
    return None if marks is None else frozenset(gated(mark) for mark in marks)


def _grouped(rows: Rows) -> defaultdict[str, list[Any]]:
    grouped: defaultdict[str, list[Any]] = defaultdict(list)
    for row in rows:
        grouped[row.mark].append(row)
    return grouped
