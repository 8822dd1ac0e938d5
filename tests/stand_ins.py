"""Stand-ins for the outside: a clock that stands still, numbered keys, a memory, a mailer that keeps letters."""

from __future__ import annotations

import threading
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, TypeVar

from fleetcare.actions.ports import (
    AccessKey,
    Change,
    LineState,
    LogEntry,
    PackedInputs,
    Purpose,
    ReadView,
    Receipt,
    WriteUnit,
)
from fleetcare.book.shopping import ShelfItem
from fleetcare.calendar_feed.calm import Shown
from fleetcare.calendar_feed.values import (
    FEED_END,
    FeedBody,
    FeedContents,
    FeedStamp,
    PublishedEntry,
    Revision,
    number_of,
)
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.errors import BadInput, CalendarTrouble, Clash, DeliveryFailed, NotFound
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarAnswer, CalendarCopy, CalendarEvent, CalendarSource, days_to_see
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.sought import Sought, SoughtKind, sought_person, sought_vehicle
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.usage.learned import Fitted
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone
from fleetcare.work.sought import sought_found, sought_notes, sought_order

T = TypeVar("T")


class FixedClock:
    """Stands at one instant until it is moved."""

    def __init__(self, now: datetime) -> None:
        assert now.tzinfo is not None, "an instant has a zone"
        self._now = now

    def now(self) -> datetime:
        """The instant it stands at."""
        return self._now

    def move(self, by: timedelta) -> None:
        """Forward, or back."""
        self._now += by

    def set(self, now: datetime) -> None:
        """To another instant."""
        self._now = now


class NumberedKeys:
    """Keys that can be foretold: `key-000001`, `key-000002` ... filled up to the length of real ones."""

    def __init__(self) -> None:
        self.made = 0

    def new_key(self) -> str:
        """The next key, 43 characters."""
        self.made += 1
        return f"key-{self.made:06d}".ljust(43, "-")


class KeptLetters:
    """A mailer that keeps what it is given.

    refusals: by mail address, what to raise instead, once for each in turn; an address not named is served.
    """

    def __init__(self, refusals: dict[str, list[DeliveryFailed]] | None = None) -> None:
        self.sent: list[tuple[str, bytes]] = []
        self.refusals = refusals or {}
        self.batches = 0

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """Keeps the message, or raises the next refusal for that address."""
        waiting = self.refusals.get(to_mail)
        if waiting:
            raise waiting.pop(0)
        self.sent.append((to_mail, raw))
        return f"250 kept as number {len(self.sent)}"

    def finish(self) -> None:
        """Counts the batch."""
        self.batches += 1


class HandedCalendars:
    """A calendar reader that is handed what each calendar holds, or its trouble, by its key; else it is empty."""

    def __init__(self, troubles: dict[str, CalendarTrouble] | None = None) -> None:
        self.troubles = troubles or {}
        self.events: dict[str, tuple[CalendarEvent, ...]] = {}
        self.asked: list[str] = []

    def read(self, source: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
        """What it was handed for that calendar."""
        self.asked.append(source.key)
        if source.key in self.troubles:
            raise self.troubles[source.key]
        return CalendarAnswer(CalendarCopy(today, days_to_see(today), self.events.get(source.key, ())))


@dataclass(slots=True)
class _Memory:
    """Everything kept. A committed one is never changed again; a unit works on a copy."""

    version: int = 0
    garage: Garage | None = None
    people: dict[str, Person] = field(default_factory=dict)
    vehicles: dict[str, Vehicle] = field(default_factory=dict)
    readings: dict[int, Reading] = field(default_factory=dict)
    work: dict[int, WorkDone] = field(default_factory=dict)
    events: dict[tuple[object, ...], UseEvent] = field(default_factory=dict)
    bookings: dict[str, Booking] = field(default_factory=dict)
    calendars: dict[str, CalendarSource] = field(default_factory=dict)
    bay_visits: dict[tuple[str, int], BayVisit] = field(default_factory=dict)
    windows: dict[LineKey, LineState] = field(default_factory=dict)
    keys: dict[str, AccessKey] = field(default_factory=dict)
    feeds: dict[tuple[str, str], FeedContents] = field(default_factory=dict)
    revisions: dict[int, PublishedEntry] = field(default_factory=dict)
    shown: dict[LineKey, Shown] = field(default_factory=dict)
    choices: dict[str, FeedChoice] = field(default_factory=dict)
    farewells: dict[str, FeedBody] = field(default_factory=dict)
    stamps: dict[str, int] = field(default_factory=dict)
    era: int = 0
    owed: frozenset[str] = frozenset()
    fetches: dict[str, Fetch] = field(default_factory=dict)
    deliveries: dict[int, Delivery] = field(default_factory=dict)
    log: dict[int, LogEntry] = field(default_factory=dict)
    fits: dict[int, Fitted] = field(default_factory=dict)
    line_inputs: dict[str, PackedInputs] = field(default_factory=dict)
    receipts: dict[str, Receipt] = field(default_factory=dict)
    orders: dict[int, WorkOrder] = field(default_factory=dict)
    found: dict[tuple[int, int], Found] = field(default_factory=dict)
    moves: dict[tuple[str, str, date], Move] = field(default_factory=dict)
    shelf: dict[str, ShelfItem] = field(default_factory=dict)
    drawn: dict[int, dict[str, Decimal]] = field(default_factory=dict)

    def copy(self) -> _Memory:
        values: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            values[f.name] = dict(value) if isinstance(value, dict) else value
        return _Memory(**values)


class MemoryView:
    """One consistent view of a store in memory."""

    def __init__(self, memory: _Memory) -> None:
        self._m = memory

    def version(self) -> int:
        return self._m.version

    def garage(self) -> Garage | None:
        return self._m.garage

    def people(self) -> tuple[Person, ...]:
        return tuple(person for _, person in sorted(self._m.people.items()))

    def vehicles(self, marks: Iterable[str] | None = None) -> tuple[Vehicle, ...]:
        wanted = self._wanted(marks)
        return tuple(vehicle for vehicle in self._m.vehicles.values() if vehicle.mark in wanted)

    def fact_stamps(self) -> dict[str, int]:
        return {mark: self._m.stamps.get(mark, 0) for mark in self._m.vehicles}

    def bare_vehicles(self) -> tuple[Vehicle, ...]:
        return tuple(replace(vehicle, meters=(), components=()) for vehicle in self._m.vehicles.values())

    def readings(self, marks: Iterable[str] | None = None) -> tuple[Reading, ...]:
        wanted = self._wanted(marks)
        found = [reading for reading in self._m.readings.values() if reading.mark in wanted]
        return tuple(sorted(found, key=lambda r: (r.mark, r.meter, r.on, r.id)))

    def work(self, marks: Iterable[str] | None = None) -> tuple[WorkDone, ...]:
        wanted = self._wanted(marks)
        found = [work for work in self._m.work.values() if work.line.mark in wanted]
        return tuple(sorted(found, key=lambda w: (w.line, w.on, w.id)))

    def events(self, marks: Iterable[str] | None = None) -> tuple[UseEvent, ...]:
        wanted = self._wanted(marks)
        found = [event for event in self._m.events.values() if event.mark in wanted]
        return tuple(sorted(found, key=lambda e: (e.mark, e.on, e.kind, e.component)))

    def bookings(self) -> tuple[Booking, ...]:
        return tuple(sorted(self._m.bookings.values(), key=lambda b: (b.days.first, b.key)))

    def bay_visits(self, marks: Iterable[str] | None = None) -> tuple[BayVisit, ...]:
        wanted = self._wanted(marks)
        return tuple(visit for key, visit in sorted(self._m.bay_visits.items()) if visit.mark in wanted)

    def calendars(self) -> tuple[CalendarSource, ...]:
        return tuple(source for _, source in sorted(self._m.calendars.items()))

    def windows(self, marks: Iterable[str] | None = None) -> dict[LineKey, LineState]:
        wanted = self._wanted(marks)
        return {line: state for line, state in sorted(self._m.windows.items()) if line.mark in wanted}

    def line_inputs(self, marks: Iterable[str] | None = None) -> tuple[PackedInputs, ...]:
        wanted = self._wanted(marks)
        return tuple(inputs for mark, inputs in sorted(self._m.line_inputs.items()) if mark in wanted)

    def lines(self, marks: Iterable[str]) -> tuple[LineKey, ...]:
        return tuple(sorted(self.windows(marks)))

    def marks(self) -> tuple[str, ...]:
        return tuple(sorted(self._m.vehicles))

    def key(self, key_hash: str, *, in_use: bool = False) -> AccessKey | None:
        found = self._m.keys.get(_gated(key_hash))
        return None if in_use and found is not None and found.revoked_at is not None else found

    def keys(self, purpose: Purpose | None = None) -> tuple[AccessKey, ...]:
        found = [key for key in self._m.keys.values() if purpose is None or key.purpose is purpose]
        return tuple(sorted(found, key=lambda k: (k.made_at, k.hash)))

    def fetches(self) -> dict[str, Fetch]:
        return dict(self._m.fetches)

    def feed(self, person: str, mark: str = "") -> FeedBody | None:
        found = self._m.feeds.get(_gated((person, mark)))
        if found is None:
            return None
        parts = [self._m.revisions[number].body for number in found.entries]
        return FeedBody(person, found.etag, found.modified_at, b"".join((found.head, *parts, FEED_END)), mark)

    def feed_scopes(self) -> dict[tuple[str, str], tuple[str, tuple[str, ...]]]:
        return {key: (contents.form, contents.marks) for key, contents in sorted(self._m.feeds.items())}

    def feed_contents(self, keys: Iterable[tuple[str, str]] | None = None) -> tuple[FeedContents, ...]:
        wanted = None if keys is None else set(keys)
        return tuple(c for key, c in sorted(self._m.feeds.items()) if wanted is None or key in wanted)

    def published(self, person: str, mark: str = "") -> tuple[PublishedEntry, ...]:
        found = self._m.feeds.get(_gated((person, mark)))
        if found is None:
            return ()
        standing = [self._m.revisions[number] for number in (*found.entries, *found.aside)]
        gone = [replace(self._m.revisions[number], withdrawn_at=at) for number, at in found.gone]
        return tuple(sorted([*standing, *gone], key=lambda entry: entry.uid))

    def revisions(self, ids: Iterable[int] | None = None) -> dict[int, Revision]:
        wanted = set(self._m.revisions) if ids is None else set(ids)
        return {number: _light(entry) for number, entry in sorted(self._m.revisions.items()) if number in wanted}

    def revisions_of(self, uids: Iterable[str]) -> tuple[Revision, ...]:
        wanted = {_gated(uid) for uid in uids}
        return tuple(_light(entry) for _, entry in sorted(self._m.revisions.items()) if entry.uid in wanted)

    def shown_lines(self, marks: Iterable[str] | None = None) -> dict[LineKey, Shown]:
        wanted = None if marks is None else {_gated(mark) for mark in marks}
        return {line: shown for line, shown in sorted(self._m.shown.items()) if wanted is None or line.mark in wanted}

    def feed_choices(self) -> dict[str, FeedChoice]:
        return dict(sorted(self._m.choices.items()))

    def feeds_owed(self) -> frozenset[str]:
        return self._m.owed

    def feed_era(self) -> int:
        return self._m.era

    def deliveries(self, state: DeliveryState | None = None) -> tuple[Delivery, ...]:
        found = [delivery for delivery in self._m.deliveries.values() if state is None or delivery.state is state]
        return tuple(sorted(found, key=lambda d: (d.decided_at, d.id)))

    def delivery(self, person: str, kind: LetterKind, period: str) -> Delivery | None:
        wanted = _gated((person, kind, period))
        return next((d for d in self._m.deliveries.values() if (d.person, d.kind, d.period) == wanted), None)

    def letter_places(
        self,
        *,
        states: Collection[DeliveryState] | None = None,
        kinds: Collection[LetterKind] | None = None,
        people: Collection[str] | None = None,
        since: datetime | None = None,
    ) -> tuple[LetterPlace, ...]:
        return tuple(
            each.place
            for each in self.deliveries()
            if (states is None or each.state in states)
            and (kinds is None or each.kind in kinds)
            and (people is None or each.person in people)
            and (since is None or each.decided_at >= since)
        )

    def log(self, subject: str | None = None, limit: int | None = None) -> tuple[LogEntry, ...]:
        found = [entry for entry in self._m.log.values() if subject is None or entry.subject == subject]
        return tuple(reversed(found))[:limit]

    def newest_fit(self) -> Fitted | None:
        return self._m.fits[max(self._m.fits)] if self._m.fits else None

    def receipt(self, key: str) -> Receipt | None:
        return self._m.receipts.get(_gated(key))

    def orders(self, marks: Iterable[str] | None = None) -> tuple[WorkOrder, ...]:
        wanted = self._wanted(marks)
        return tuple(order for _, order in sorted(self._m.orders.items()) if order.mark in wanted)

    def order(self, number: int) -> WorkOrder | None:
        return self._m.orders.get(number)

    def newest_sheet(self) -> int:
        return max(self._m.orders, default=0)

    def found(self, marks: Iterable[str] | None = None) -> tuple[Found, ...]:
        wanted = self._wanted(marks)
        return tuple(found for _, found in sorted(self._m.found.items()) if found.mark in wanted)

    def sought(self, kind: SoughtKind, words: Sequence[str], at_most: int) -> tuple[tuple[str, str], ...]:
        of_vehicles = {vehicle.mark: sought_vehicle(vehicle).words for vehicle in self._m.vehicles.values()}
        hits: list[tuple[int, Sought]] = []
        for each in self._things(kind):
            own = [any(has.startswith(word) for has in each.words) for word in words]
            theirs = [any(has.startswith(word) for has in of_vehicles.get(each.mark, ())) for word in words]
            if any(own) and all(mine or its for mine, its in zip(own, theirs, strict=True)):
                hits.append((len(set(words) & set(each.words)), each))
        hits.sort(key=lambda hit: hit[1].thing, reverse=kind.is_newest_first)
        hits.sort(key=lambda hit: -hit[0])
        return tuple((each.thing, each.mark) for _, each in hits[:at_most])

    def sought_lines(self, words: Sequence[tuple[str, frozenset[str]]], at_most: int) -> tuple[LineKey, ...]:
        found = []
        for vehicle in self._m.vehicles.values():
            has = [any(own.startswith(word) for own in sought_vehicle(vehicle).words) for word, _ in words]
            for component in vehicle.components:
                for line in component.lines:
                    named = [line.service in services for _, services in words]
                    if any(has) and any(named) and all(a or b for a, b in zip(has, named, strict=True)):
                        found.append(LineKey(vehicle.mark, component.key, line.service))
        return tuple(sorted(found)[:at_most])

    def _things(self, kind: SoughtKind) -> list[Sought]:
        match kind:
            case SoughtKind.VEHICLE:
                return [sought_vehicle(each) for each in self._m.vehicles.values()]
            case SoughtKind.PERSON:
                return [sought_person(each) for each in self._m.people.values()]
            case SoughtKind.SHEET:
                return [sought_order(each) for each in self._m.orders.values()]
        noted = [each for work in self._m.work.values() for each in sought_notes(work)]
        return [*map(sought_found, self._m.found.values()), *noted]

    def shelf(self) -> tuple[ShelfItem, ...]:
        return tuple(item for _, item in sorted(self._m.shelf.items()))

    def drawn(self, sheet: int) -> dict[str, Decimal]:
        return dict(self._m.drawn.get(sheet, {}))

    def moves(self, marks: Iterable[str] | None = None) -> tuple[Move, ...]:
        wanted = self._wanted(marks)
        found = [move for move in self._m.moves.values() if {move.from_mark, move.to_mark} & wanted]
        return tuple(sorted(found, key=lambda move: (move.on, move.to_mark, move.to_component)))

    def _wanted(self, marks: Iterable[str] | None) -> set[str]:
        return set(self._m.vehicles) if marks is None else {_gated(mark) for mark in marks}


class MemoryUnit(MemoryView):
    """A view that sees its own writes; what it holds becomes the store's when the block ends well."""

    def __init__(self, memory: _Memory, change: Change) -> None:
        super().__init__(memory)
        self._change = _gated(change)
        self.touched = False

    def put_garage(self, garage: Garage) -> None:
        self._m.garage = self._touch(garage)

    def put_person(self, person: Person) -> None:
        self._m.people[person.key] = self._touch(person)

    def put_vehicle(self, vehicle: Vehicle) -> None:
        for meter in vehicle.meters:
            _on_a_dial(meter.delivery_value)
            for change in meter.changes:
                _on_a_dial(change.old_end)
                _on_a_dial(change.new_start)
        self._m.vehicles[vehicle.mark] = self._touch(vehicle)
        self._inputs_are_old(vehicle.mark)

    def add_readings(self, readings: Sequence[Reading]) -> int:
        there = {reading.identity for reading in self._m.readings.values()}
        new = 0
        for reading in readings:
            _on_a_dial(reading.value)
            self._of_a_vehicle(reading.mark)
        for reading in readings:
            if reading.identity not in there:
                there.add(reading.identity)
                number = len(self._m.readings) + 1
                self._m.readings[number] = self._touch(replace(reading, id=number))
                new += 1
        self._inputs_are_old(*(reading.mark for reading in readings if new))
        return new

    def set_reading_state(
        self, reading_id: int, state: ReadingState, note: str = "", *, vouched_by: str | None = None
    ) -> None:
        if reading_id not in self._m.readings:
            raise NotFound("reading", str(reading_id))
        before = self._m.readings[reading_id]
        vouched = before.vouched_by if vouched_by is None else vouched_by
        self._m.readings[reading_id] = self._touch(replace(before, state=state, note=note, vouched_by=vouched))
        self._inputs_are_old(self._m.readings[reading_id].mark)

    def add_work(self, work: Sequence[WorkDone]) -> int:
        there = {(w.line, w.on, w.at, w.unit if w.at is not None else None) for w in self._m.work.values()}
        new = 0
        for done in work:
            if done.at is not None:
                _on_a_dial(done.at)
                if done.unit is None:
                    raise BadInput("What the dial showed has no unit.", field="unit")
            self._of_a_vehicle(done.line.mark)
        for done in work:
            identity = (done.line, done.on, done.at, done.unit if done.at is not None else None)
            if identity not in there:
                there.add(identity)
                number = max(self._m.work, default=0) + 1
                unit = None if done.at is None else done.unit
                self._m.work[number] = self._touch(replace(done, id=number, unit=unit))
                new += 1
        self._inputs_are_old(*(done.line.mark for done in work if new))
        return new

    def add_events(self, events: Sequence[UseEvent]) -> int:
        new = 0
        for event in events:
            self._of_a_vehicle(event.mark)
        for event in events:
            key = (event.mark, event.on, event.kind, event.component)
            if key not in self._m.events:
                self._m.events[key] = self._touch(event)
                new += 1
        self._inputs_are_old(*(event.mark for event in events if new))
        return new

    def put_booking(self, booking: Booking) -> None:
        for mark in booking.marks:
            self._of_a_vehicle(mark)
        before = self._m.bookings.get(booking.key)
        self._inputs_are_old(*booking.marks, *(before.marks if before is not None else ()))
        self._m.bookings[booking.key] = self._touch(booking)

    def drop_bookings(self, keys: Iterable[str]) -> int:
        gone = [booking for key in keys if (booking := self._m.bookings.pop(_gated(key), None)) is not None]
        for booking in gone:
            self._inputs_are_old(*booking.marks)
            self.touched = True
        return len(gone)

    def put_bay_visit(self, visit: BayVisit) -> None:
        self._of_a_vehicle(visit.mark)
        self._m.bay_visits[visit.key] = self._touch(visit)

    def put_calendar(self, source: CalendarSource) -> None:
        self._m.calendars[source.key] = self._touch(source)

    def drop_calendar(self, key: str) -> bool:
        was_there = self._m.calendars.pop(_gated(key), None) is not None
        self.touched = self.touched or was_there
        return was_there

    def put_windows(self, windows: dict[LineKey, LineState]) -> None:
        for line in windows:
            self._of_a_vehicle(line.mark)
        for line, state in windows.items():
            self._m.windows[self._touch(line)] = state

    def drop_windows(self, lines: Iterable[LineKey]) -> None:
        for line in lines:
            if self._m.windows.pop(line, None) is not None:
                self.touched = True

    def put_line_inputs(self, inputs: Iterable[PackedInputs]) -> None:
        for each in inputs:
            self._of_a_vehicle(each.mark)
            self._m.line_inputs[each.mark] = self._touch(each)

    def _inputs_are_old(self, *marks: str) -> None:
        have = {mark for move in self._m.moves.values() for mark in (move.from_mark, move.to_mark)}
        for mark in {*marks, *have} if have & set(marks) else marks:
            self._m.stamps[mark] = self._m.version + 1
        for mark in marks:
            if mark in self._m.line_inputs:
                self._m.line_inputs[mark] = replace(self._m.line_inputs[mark], whole=False)

    def put_key(self, key: AccessKey) -> None:
        before = self._m.keys.get(key.hash)
        revoked_at = before.revoked_at if before is not None and before.revoked_at is not None else key.revoked_at
        self._m.keys[key.hash] = self._touch(replace(key, revoked_at=revoked_at))

    def revoke_keys(self, at: datetime, *, purpose: Purpose, person: str = "", mark: str = "") -> int:
        wanted = _gated((purpose, person, mark))
        theirs = [key for key in self._m.keys.values() if (key.purpose, key.person, key.mark) == wanted]
        return sum(self.use_up_key(key.hash, at) for key in theirs)

    def use_up_key(self, key_hash: str, at: datetime) -> bool:
        key = self._m.keys.get(_gated(key_hash))
        if key is None or key.revoked_at is not None:
            return False
        self._m.keys[key_hash] = self._touch(replace(key, revoked_at=at))
        return True

    def add_revisions(self, entries: Sequence[PublishedEntry]) -> tuple[int, ...]:
        for entry in entries:
            number = number_of(entry.digest)
            if number not in self._m.revisions:
                self._m.revisions[number] = self._touch(replace(entry, id=number, withdrawn_at=None))
        return tuple(number_of(entry.digest) for entry in entries)

    def drop_revisions(self, ids: Iterable[int]) -> None:
        for number in ids:
            if self._m.revisions.pop(number, None) is not None:
                self.touched = True

    def put_feed(self, contents: FeedContents) -> None:
        self._m.feeds[contents.person, contents.mark] = self._touch(contents)

    def put_shown_lines(self, shown: dict[LineKey, Shown]) -> None:
        for line, each in shown.items():
            self._m.shown[self._touch(line)] = self._touch(each)

    def drop_shown_lines(self, lines: Iterable[LineKey]) -> None:
        for line in lines:
            if self._m.shown.pop(line, None) is not None:
                self.touched = True

    def put_feed_choice(self, person: str, choice: FeedChoice) -> None:
        self._m.choices[self._touch(person)] = self._touch(choice)

    def owe_feeds(self, marks: Iterable[str]) -> None:
        for mark in set(marks) - self._m.owed:
            self._m.owed |= {self._touch(mark)}

    def feeds_given(self, marks: Iterable[str] | None = None) -> None:
        given = self._m.owed.intersection(self._m.owed if marks is None else marks)
        if given:
            self._m.owed -= given
            self.touched = True

    def put_feed_era(self, era: int) -> None:
        self._m.era = self._touch(era)

    def put_farewell(self, key_hash: str, body: FeedBody) -> None:
        self._m.farewells[self._touch(key_hash)] = self._touch(body)

    def add_delivery(self, delivery: Delivery) -> bool:
        if self.delivery(delivery.person, delivery.kind, delivery.period) is not None:
            return False
        number = len(self._m.deliveries) + 1
        self._m.deliveries[number] = self._touch(replace(delivery, id=number))
        return True

    def set_delivery(self, delivery: Delivery | LetterPlace) -> None:
        before = self._m.deliveries.get(delivery.id or 0)
        if before is None:
            raise NotFound("letter", str(delivery.id))
        self._m.deliveries[delivery.id or 0] = self._touch(
            replace(
                before,
                state=delivery.state,
                tries=delivery.tries,
                next_try_at=delivery.next_try_at,
                leased_until=delivery.leased_until,
                last_answer=delivery.last_answer,
                sent_at=delivery.sent_at,
            )
        )

    def end_lease(self, letter: LetterPlace, leased_until: datetime) -> bool:
        found = self._m.deliveries.get(letter.id)
        if found is None or found.state is not DeliveryState.LEASED or found.leased_until != leased_until:
            return False
        self.set_delivery(letter)
        return True

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        found = self._m.deliveries.get(delivery_id)
        if found is None:
            return None
        is_due = found.state is DeliveryState.DUE and (found.next_try_at is None or found.next_try_at <= now)
        is_stale = found.state is DeliveryState.LEASED and (found.leased_until is None or found.leased_until <= now)
        if not (is_due or is_stale):
            return None
        self._m.deliveries[delivery_id] = self._touch(replace(found, state=DeliveryState.LEASED, leased_until=until))
        return self._m.deliveries[delivery_id]

    def add_fit(self, fit: Fitted) -> None:
        number = len(self._m.fits) + 1
        self._m.fits[number] = self._touch(replace(fit, id=number))

    def put_receipt(self, receipt: Receipt) -> None:
        if receipt.key in self._m.receipts:
            raise Clash("Something was answered under that key already.")
        self._m.receipts[receipt.key] = self._touch(receipt)

    def drop_receipts(self, made_before: datetime) -> int:
        old = [key for key, receipt in self._m.receipts.items() if receipt.made_at < made_before]
        for key in old:
            self._touch(self._m.receipts.pop(key))
        return len(old)

    def put_order(self, order: WorkOrder) -> None:
        self._of_a_vehicle(order.mark)
        self._m.orders[order.number] = self._touch(order)

    def add_found(self, found: Sequence[Found]) -> int:
        new = 0
        for each in found:
            if each.order not in self._m.orders:
                raise NotFound("sheet", str(each.order))
            if (each.order, each.position) not in self._m.found:
                self._m.found[each.order, each.position] = self._touch(each)
                new += 1
        self._inputs_are_old(*(each.mark for each in found if new))
        return new

    def settle_found(self, found: Found) -> None:
        before = self._m.found.get((found.order, found.position))
        if before is None:
            raise NotFound("finding", f"{found.order:04d}-{found.position}")
        told = (found.settled_on, found.settled_by, found.settled_note)
        after = replace(before, settled_on=told[0], settled_by=told[1], settled_note=told[2])
        self._m.found[found.order, found.position] = self._touch(after)
        self._inputs_are_old(found.mark)

    def drop_found(self, sheet: int) -> int:
        gone = [key for key in self._m.found if key[0] == sheet]
        for key in gone:
            self._inputs_are_old(self._m.found.pop(key).mark)
            self.touched = True
        return len(gone)

    def take_back_work(self, ids: Iterable[int]) -> int:
        gone = [self._m.work.pop(number) for number in sorted(set(ids)) if number in self._m.work]
        for work in gone:
            self._inputs_are_old(work.line.mark)
            self.touched = True
        return len(gone)

    def take_back_events(self, events: Iterable[UseEvent]) -> int:
        gone = 0
        for event in events:
            if self._m.events.pop((event.mark, event.on, event.kind, event.component), None) is not None:
                gone += 1
                self.touched = True
                self._inputs_are_old(event.mark)
        return gone

    def put_on_shelf(self, items: Iterable[ShelfItem]) -> None:
        for item in items:
            self._m.shelf[self._touch(item.key)] = item

    def put_drawn(self, sheet: int, amounts: Mapping[str, Decimal]) -> None:
        self._m.drawn[self._touch(sheet)] = dict(amounts)

    def take_off_shelf(self, keys: Iterable[str]) -> int:
        there = [key for key in set(keys) if key in self._m.shelf]
        for key in there:
            del self._m.shelf[self._touch(key)]
        return len(there)

    def put_move(self, move: Move) -> None:
        for mark in (move.from_mark, move.to_mark):
            self._of_a_vehicle(mark)
        key = (move.to_mark, move.to_component, move.on)
        if key in self._m.moves:
            raise BadInput(f"Something was fitted there on {move.on} already.", field="on")
        self._m.moves[key] = self._touch(move)
        self._inputs_are_old(move.from_mark, move.to_mark)

    def log_change(self, subject: str, what: str, before: str, after: str) -> None:
        number = len(self._m.log) + 1
        self._m.log[number] = self._touch(LogEntry(self._change, subject, what, before, after, number))

    def log_changes(self, lines: Iterable[tuple[str, str, str, str]]) -> None:
        for line in lines:
            self.log_change(*line)

    def _touch(self, value: T) -> T:
        self.touched = True
        return _gated(value)

    def _of_a_vehicle(self, mark: str) -> None:
        if _gated(mark) not in self._m.vehicles:
            raise NotFound("vehicle", mark, self._m.vehicles)


class MemoryStore:
    """A store that forgets when the test ends. Does what the Store port says, and nothing else."""

    def __init__(self) -> None:
        self._memory = _Memory()
        self._one_writer = threading.Lock()

    @contextmanager
    def read(self) -> Iterator[ReadView]:
        yield MemoryView(self._memory)

    @contextmanager
    def write(self, change: Change, *, typed: bool = True) -> Iterator[WriteUnit]:
        with self._one_writer:
            unit = MemoryUnit(self._memory.copy(), change)
            yield unit
            if unit.touched:
                unit._m.version += 1
                self._memory = unit._m

    def feed_stamp(self, key_hash: str, now: datetime) -> FeedStamp | None:
        """What a feed key opens at that instant, without its bytes."""
        body = self.feed_by_key(key_hash, now)
        return None if body is None else FeedStamp(body.etag, body.modified_at, bool(self._memory.owed))

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """The body a feed key opens at that instant, or None."""
        memory = self._memory
        key = memory.keys.get(key_hash)
        if key is None or not key.opens(Purpose.FEED, now):
            return None
        if key.replaced_at is not None:
            return memory.farewells.get(key_hash)
        return MemoryView(memory).feed(key.person, key.mark)

    def note_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """Keeps the fetch; no write of the garage."""
        with self._one_writer:
            before = self._memory.fetches.get(key_hash)
            if before is None or before.at < fetch.at:
                self._memory.fetches[key_hash] = _gated(fetch)

    def close(self) -> None:
        """Nothing is held open."""


def _light(entry: PublishedEntry) -> Revision:
    return Revision(**{f.name: getattr(entry, f.name) for f in fields(Revision)})


def _gated(value: T) -> T:
    """The value itself, once every text, figure and instant in it is one that a database can keep."""
    if isinstance(value, str):
        if "\0" in value or any("\ud800" <= ch <= "\udfff" for ch in value):
            raise BadInput("A text has a character that cannot be stored.")
    elif isinstance(value, datetime):
        if value.tzinfo is None:
            raise ValueError("an instant has a zone")
    elif isinstance(value, (float, Decimal)):
        if not Decimal(value).is_finite():
            raise BadInput("A figure is not a number.")
    elif isinstance(value, tuple):
        for part in value:
            _gated(part)
    elif is_dataclass(value):
        for part in fields(value):
            _gated(getattr(value, part.name))
    return value


def _on_a_dial(value: Decimal) -> None:
    if not value.is_finite() or not 0 <= value <= 10**11 or value != Decimal(int(value * 10)) / 10:
        raise BadInput("No dial shows that.", field="value")
