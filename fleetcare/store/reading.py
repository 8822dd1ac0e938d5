"""Reading: one consistent view of what is stored, as values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

import sqlalchemy as sa

from fleetcare.actions.ports import LineState, LogEntry, PackedInputs, Receipt
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.store import (
    bay_rows,
    receipt_rows,
    translate_calendars,
    translate_facts,
    translate_log,
    translate_people,
    translate_vehicle,
)
from fleetcare.store.feed_reads import FeedReads
from fleetcare.store.feed_rows import ERA
from fleetcare.store.gate import gated
from fleetcare.store.known_vehicles import KnownVehicles, Stand
from fleetcare.store.letter_reads import LetterReads
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
    STAND,
    VEHICLE,
    WINDOW,
    WORK,
    Rows,
    named_marks,
)
from fleetcare.store.shelf_access import ShelfReads
from fleetcare.store.sought_access import SoughtReads
from fleetcare.store.work_access import WorkReads
from fleetcare.usage.learned import Fitted
from fleetcare.work.record import WorkDone


class SqlView(FeedReads, LetterReads, SoughtReads, WorkReads, ShelfReads):
    """Implements `ReadView` on one connection inside one transaction."""

    def __init__(self, connection: sa.Connection, known: KnownVehicles | None = None) -> None:
        super().__init__(connection)
        self._vehicles_known = known
        # Asked for again and again within one view, and changed by this unit alone if at all.
        self._garage: list[Garage | None] = []
        self._fit: list[Fitted | None] = []
        self._stand: Stand | None = None

    def version(self) -> int:
        """How many writes there were."""
        return int(self._connection.execute(sa.select(STAND.c.version)).scalar_one_or_none() or 0)

    def garage(self) -> Garage | None:
        """The garage, or None in an empty home."""
        if not self._garage:
            row = self._connection.execute(sa.select(GARAGE)).first()
            self._garage.append(None if row is None else translate_people.garage(row))
        return self._garage[0]

    def people(self) -> tuple[Person, ...]:
        """By key."""
        return tuple(translate_people.person(row) for row in self._all(PERSON, PERSON.c.key))

    def vehicles(self, marks: Iterable[str] | None = None) -> tuple[Vehicle, ...]:
        """In the garage's order. Of all of them, those this process has read before are not put together again."""
        wanted = named_marks(marks)
        if wanted is None and self._vehicles_known is not None:
            stamps = self.fact_stamps()
            return self._vehicles_known.vehicles(stamps, self._stand_now().era, self._vehicles_read)
        return self._vehicles_read(wanted)

    def _vehicles_read(self, marks: Iterable[str] | None) -> tuple[Vehicle, ...]:
        wanted = None if marks is None else frozenset(marks)
        meters = _grouped(self._of_marks(METER, wanted, METER.c.position))
        components = _grouped(self._of_marks(COMPONENT, wanted, COMPONENT.c.position))
        lines: defaultdict[str, defaultdict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
        for row in self._of_marks(LINE, wanted, LINE.c.position):
            lines[row.mark][row.component].append(row)
        return tuple(
            translate_vehicle.vehicle(row, meters[row.mark], components[row.mark], lines[row.mark])
            for row in self._of_marks(VEHICLE, wanted, VEHICLE.c.position)
        )

    def fact_stamps(self) -> Mapping[str, int]:
        """By mark, in the garage's order; 0 for a vehicle nothing was written about since stamps are kept."""
        if self._vehicles_known is None:
            return self._stamps_read()
        return self._vehicles_known.stamps(self._stand_now(), self._stamps_read)

    def _stamps_read(self) -> dict[str, int]:
        query = (
            sa.select(VEHICLE.c.mark, sa.func.coalesce(FACT_STAMP.c.version, 0))
            .select_from(VEHICLE.outerjoin(FACT_STAMP, FACT_STAMP.c.mark == VEHICLE.c.mark))
            .order_by(VEHICLE.c.position)
        )
        return {mark: int(version) for mark, version in self._connection.execute(query)}

    def feed_era(self) -> int:
        """How many restores."""
        return super().feed_era() if self._vehicles_known is None else self._stand_now().era

    def _stand_now(self) -> Stand:
        """Of this view, which does not move while it is looked through."""
        if self._stand is None:
            era, version = (sa.select(column).scalar_subquery() for column in (ERA.c.era, STAND.c.version))
            row = self._connection.execute(sa.select(sa.func.coalesce(era, 0), sa.func.coalesce(version, 0))).one()
            self._stand = Stand(int(row[0]), int(row[1]))
        return self._stand

    def bare_vehicles(self) -> tuple[Vehicle, ...]:
        """In the garage's order, without their meters and components."""
        return tuple(translate_vehicle.vehicle(row, (), (), {}) for row in self._all(VEHICLE, VEHICLE.c.position))

    def readings(self, marks: Iterable[str] | None = None) -> tuple[Reading, ...]:
        """By mark, meter, day, id."""
        order = (READING.c.mark, READING.c.meter, READING.c.day, READING.c.id)
        return tuple(map(translate_facts.reading, self._of_marks(READING, named_marks(marks), *order)))

    def work(self, marks: Iterable[str] | None = None) -> tuple[WorkDone, ...]:
        """By line, day, id."""
        order = (WORK.c.mark, WORK.c.component, WORK.c.service, WORK.c.day, WORK.c.id)
        rows = self._of_marks(WORK, named_marks(marks), *order)
        findings: defaultdict[int, list[Any]] = defaultdict(list)
        if rows:
            query = sa.select(FINDING).order_by(FINDING.c.work_id, FINDING.c.position)
            if len(rows) <= MOST_MARKS:
                query = query.where(FINDING.c.work_id.in_([row.id for row in rows]))
            for found in self._connection.execute(query):
                findings[found.work_id].append(found)
        return tuple(translate_facts.work(row, findings[row.id]) for row in rows)

    def events(self, marks: Iterable[str] | None = None) -> tuple[UseEvent, ...]:
        """By mark, day, kind, component."""
        order = (EVENT.c.mark, EVENT.c.day, EVENT.c.kind, EVENT.c.component)
        return tuple(translate_facts.event(row) for row in self._of_marks(EVENT, named_marks(marks), *order))

    def bookings(self) -> tuple[Booking, ...]:
        """By first day, key."""
        return tuple(translate_facts.booking(row) for row in self._all(BOOKING, BOOKING.c.first_day, BOOKING.c.key))

    def bay_visits(self, marks: Iterable[str] | None = None) -> tuple[BayVisit, ...]:
        """By mark, number."""
        order = (bay_rows.BAY_VISIT.c.mark, bay_rows.BAY_VISIT.c.number)
        return tuple(bay_rows.visit(row) for row in self._of_marks(bay_rows.BAY_VISIT, named_marks(marks), *order))

    def calendars(self) -> tuple[CalendarSource, ...]:
        """Calendars read by their URL, by key."""
        rows = self._all(OUTSIDE_CALENDAR, OUTSIDE_CALENDAR.c.key)
        return tuple(translate_calendars.calendar(row) for row in rows)

    def windows(self, marks: Iterable[str] | None = None) -> dict[LineKey, LineState]:
        """By line."""
        order = (WINDOW.c.mark, WINDOW.c.component, WINDOW.c.service)
        return dict(translate_facts.window(row) for row in self._of_marks(WINDOW, named_marks(marks), *order))

    def line_inputs(self, marks: Iterable[str] | None = None) -> tuple[PackedInputs, ...]:
        """By mark."""
        rows = self._of_marks(LINE_INPUTS, named_marks(marks), LINE_INPUTS.c.mark)
        return tuple(PackedInputs(row.mark, row.rules, bool(row.whole), bytes(row.numbers)) for row in rows)

    def lines(self, marks: Iterable[str]) -> tuple[LineKey, ...]:
        """Sorted."""
        table = WINDOW
        query = sa.select(table.c.mark, table.c.component, table.c.service)
        found: list[LineKey] = []
        wanted = sorted(named_marks(marks) or ())
        for start in range(0, len(wanted), MOST_MARKS):
            rows = self._connection.execute(query.where(table.c.mark.in_(wanted[start : start + MOST_MARKS])))
            found += [LineKey(*row) for row in rows.all()]
        return tuple(sorted(found))

    def marks(self) -> tuple[str, ...]:
        """Of all vehicles, sorted."""
        ordered = sa.select(VEHICLE.c.mark).order_by(*self._order(VEHICLE.c.mark))
        return tuple(self._connection.execute(ordered).scalars())

    def log(self, subject: str | None = None, limit: int | None = None) -> tuple[LogEntry, ...]:
        """Newest first."""
        query = sa.select(LOG).order_by(LOG.c.id.desc())
        if subject is not None:
            query = query.where(LOG.c.subject == gated(subject))
        if limit is not None:
            query = query.limit(limit)
        return tuple(translate_log.log_entry(row) for row in self._connection.execute(query))

    def newest_fit(self) -> Fitted | None:
        """The numbers last learned."""
        if not self._fit:
            row = self._connection.execute(sa.select(FITTED).order_by(FITTED.c.id.desc()).limit(1)).first()
            self._fit.append(None if row is None else translate_log.fit(row))
        return self._fit[0]

    def receipt(self, key: str) -> Receipt | None:
        """What was answered under that key."""
        return receipt_rows.receipt(self._connection, gated(key))


def _grouped(rows: Rows) -> defaultdict[str, list[Any]]:
    grouped: defaultdict[str, list[Any]] = defaultdict(list)
    for row in rows:
        grouped[row.mark].append(row)
    return grouped
