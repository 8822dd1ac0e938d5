"""What actions need from the outside: a store and a mailer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from fleetcare.calendar_feed.values import FeedBody, PublishedEntry
from fleetcare.digest.values import Delivery, DeliveryState, Letter, LetterKind
from fleetcare.due.outlook import DueWindow, NoDate
from fleetcare.fleet.access import AccessKey as AccessKey
from fleetcare.fleet.access import Purpose as Purpose
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class Change:
    """Who changes something, when and why. Every write transaction has one, and every log entry names it."""

    who: str
    why: str
    at: datetime


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One line of the append-only log: `subject` is a mark, a line key, a person ...; before and after in words."""

    change: Change
    subject: str
    what: str
    before: str
    after: str
    id: int | None = None


LineState = DueWindow | NoDate


class ReadView(Protocol):
    """One consistent view of everything stored. Order of every list is fixed and said below."""

    def version(self) -> int:
        """A count that rises with every committed write; 0 for an empty store."""
        ...

    def garage(self) -> Garage | None: ...

    def people(self) -> tuple[Person, ...]:
        """By key."""
        ...

    def vehicles(self, marks: Iterable[str] | None = None) -> tuple[Vehicle, ...]:
        """Whole vehicles (meters, components, lines), in the garage's order: as first entered."""
        ...

    def readings(self, marks: Iterable[str] | None = None) -> tuple[Reading, ...]:
        """Every reading in any state, by mark, meter, day, id."""
        ...

    def work(self, marks: Iterable[str] | None = None) -> tuple[WorkDone, ...]:
        """By line, day, id."""
        ...

    def events(self, marks: Iterable[str] | None = None) -> tuple[UseEvent, ...]:
        """By mark, day, kind, component."""
        ...

    def bookings(self) -> tuple[Booking, ...]:
        """By first day, key."""
        ...

    def windows(self, marks: Iterable[str] | None = None) -> dict[LineKey, LineState]:
        """What was last worked out for each line, by line key."""
        ...

    def key(self, key_hash: str) -> AccessKey | None: ...

    def keys(self, purpose: Purpose | None = None) -> tuple[AccessKey, ...]:
        """By moment of making, hash."""
        ...

    def feed(self, person: str) -> FeedBody | None: ...

    def published(self, person: str) -> tuple[PublishedEntry, ...]:
        """Withdrawn ones included, by uid."""
        ...

    def deliveries(self, state: DeliveryState | None = None) -> tuple[Delivery, ...]:
        """By moment of decision, id."""
        ...

    def delivery(self, person: str, kind: LetterKind, period: str) -> Delivery | None: ...

    def log(self, subject: str | None = None, limit: int | None = None) -> tuple[LogEntry, ...]:
        """Newest first."""
        ...


class WriteUnit(ReadView, Protocol):
    """A read view that sees its own writes. All or nothing: an exception inside the block undoes everything."""

    def put_garage(self, garage: Garage) -> None: ...

    def put_person(self, person: Person) -> None: ...

    def put_vehicle(self, vehicle: Vehicle) -> None:
        """New, or in place of the one with that mark."""
        ...

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Stores those that are not there yet (by `Reading.identity`); returns how many were new."""
        ...

    def set_reading_state(self, reading_id: int, state: ReadingState, note: str = "") -> None: ...

    def add_work(self, work: Sequence[WorkDone]) -> int:
        """Stores those that are not there yet (by line, day and value); returns how many were new."""
        ...

    def add_events(self, events: Sequence[UseEvent]) -> int:
        """Stores those that are not there yet; returns how many were new."""
        ...

    def put_booking(self, booking: Booking) -> None:
        """New, or in place of the one with that key."""
        ...

    def put_windows(self, windows: dict[LineKey, LineState]) -> None:
        """Stores these, leaves the others."""
        ...

    def drop_windows(self, lines: Iterable[LineKey]) -> None:
        """Forgets lines that are no longer there."""
        ...

    def put_key(self, key: AccessKey) -> None: ...

    def revoke_keys(self, at: datetime, *, purpose: Purpose, person: str = "", mark: str = "") -> int:
        """Revokes keys of that purpose with that person and mark; returns how many."""
        ...

    def use_up_key(self, key_hash: str, at: datetime) -> bool:
        """Revokes one key if it is not revoked yet; True if it was this call that did."""
        ...

    def put_published(self, person: str, entries: Sequence[PublishedEntry], feed: FeedBody) -> None:
        """Stores changed entries by uid, and the body that is served from now on."""
        ...

    def add_delivery(self, delivery: Delivery) -> bool:
        """False, and nothing stored, if (person, kind, period) is there already."""
        ...

    def set_delivery(self, delivery: Delivery) -> None:
        """Stores state, tries, times and last answer of one that has an id; the rest never changes."""
        ...

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        """Takes a due (or stale leased) letter for sending; None if somebody else has it or it is settled."""
        ...

    def log_change(self, subject: str, what: str, before: str, after: str) -> None:
        """One line in the log, under this unit's change."""
        ...


class Store(Protocol):
    """Memory. Reads never block writes for long; at most one write unit runs at a time, over all processes."""

    def read(self) -> AbstractContextManager[ReadView]: ...

    def write(self, change: Change, *, typed: bool = True) -> AbstractContextManager[WriteUnit]:
        """A transaction. typed: a person gave it, so it is on the disk before the block ends without error.

        Raises StoreBusy, StoreFull or StoreDamaged; then nothing was changed.
        """
        ...

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """The feed that a feed key opens, or None for any key that opens none. The polling path: one statement."""
        ...

    def close(self) -> None: ...


class Composer(Protocol):
    """Puts a letter into an envelope: the whole message, ready to be handed to a mail server."""

    def message_id(self, person: str, kind: LetterKind, period: str, garage_id: str) -> str:
        """The Message-ID of that letter, always the same for the same letter."""
        ...

    def raw(self, letter: Letter, *, message_id: str, date: datetime) -> bytes:
        """The bytes of the message. Raises BadInput if a name or address cannot stand in a header."""
        ...


class Mailer(Protocol):
    """Takes whole messages to their one recipient."""

    def send(self, raw: bytes, to_mail: str) -> str:
        """Hands one message over; returns the server's answer. Raises DeliveryFailed."""
        ...

    def finish(self) -> None:
        """The batch is over: close what was kept open."""
        ...
