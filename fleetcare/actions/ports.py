"""What actions need from the outside: a store and a mailer."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from fleetcare.actions.ports_feeds import FeedsRead, FeedsWrite
from fleetcare.actions.ports_letters import LettersRead, LettersWrite
from fleetcare.actions.ports_sheets import SheetsRead, SheetsWrite
from fleetcare.calendar_feed.values import FeedBody, FeedStamp
from fleetcare.digest.values import Letter, LetterKind
from fleetcare.due.outlook import DueWindow, NoDate
from fleetcare.fleet.access import AccessKey as AccessKey
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.access import Purpose as Purpose
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarAnswer, CalendarSource
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.sought import SoughtKind
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.usage.learned import Fitted
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


@dataclass(frozen=True, slots=True)
class PackedInputs:
    """What the dates of one vehicle's lines are made of, packed (`due.columns`). It can be made again at any time.

    rules: stands for the book, the duties and the settings it was packed under. whole: all its dates follow from it;
    else it says no more than how far the pace of its meters was worked out. A store takes `whole` away as soon as
    anything is written that it was made of: a vehicle, a reading, work, an event, a booking.
    """

    mark: str
    rules: str
    whole: bool
    numbers: bytes


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was answered to what was sent under a key. key, body: hashes of the key and of all that was sent."""

    key: str
    body: str
    made_at: datetime
    status: int
    answer: bytes


@dataclass(frozen=True, slots=True)
class PostedMail:
    """A mail that lies in the mailbox for answers. number: the mailbox's own name for it.

    arrived_at: when the mailbox took it in, UTC; None if it does not say. raw: the message, cut off if it is long.
    """

    number: str
    arrived_at: datetime | None
    raw: bytes


class ReadView(FeedsRead, LettersRead, SheetsRead, Protocol):
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

    def fact_stamps(self) -> Mapping[str, int]:
        """What stands for all that was written about each vehicle, by mark, in the garage's order.

        It is another number after each write of a fact of the vehicle, and of any it has exchanged components with.
        """
        ...

    def bare_vehicles(self) -> tuple[Vehicle, ...]:
        """Every vehicle without its meters and components, in the garage's order: for names, people and spells."""
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

    def bay_visits(self, marks: Iterable[str] | None = None) -> tuple[BayVisit, ...]:
        """Every visit in any state, by mark, number."""
        ...

    def calendars(self) -> tuple[CalendarSource, ...]:
        """Calendars read by their URL, each with its last good copy, by key."""
        ...

    def windows(self, marks: Iterable[str] | None = None) -> dict[LineKey, LineState]:
        """What was last worked out for each line, by line key."""
        ...

    def line_inputs(self, marks: Iterable[str] | None = None) -> tuple[PackedInputs, ...]:
        """By mark; a vehicle for which nothing is kept has none."""
        ...

    def lines(self, marks: Iterable[str]) -> tuple[LineKey, ...]:
        """The lines of these vehicles that have something worked out, sorted."""
        ...

    def marks(self) -> tuple[str, ...]:
        """The marks of all vehicles, sorted."""
        ...

    def log(self, subject: str | None = None, limit: int | None = None) -> tuple[LogEntry, ...]:
        """Newest first."""
        ...

    def newest_fit(self) -> Fitted | None:
        """The numbers last learned from this garage's readings, or None."""
        ...

    def receipt(self, key: str) -> Receipt | None:
        """What was answered under that key, or None."""
        ...

    def sought(self, kind: SoughtKind, words: Sequence[str], at_most: int) -> tuple[tuple[str, str], ...]:
        """Things of that kind, and marks: for each word (folded, `fleet.sought`) one of the thing begins with it.

        For a sheet or a finding a word may be its vehicle's, but not all of them. Those with whole words come first,
        then newest, or by what stands for them. Nothing for no words.
        """
        ...

    def sought_lines(self, words: Sequence[tuple[str, frozenset[str]]], at_most: int) -> tuple[LineKey, ...]:
        """Lines for which each word begins one of their vehicle, or their service is among those given with it.

        At least one word is the vehicle's, and the service is given with one of them. Sorted.
        """
        ...


class WriteUnit(FeedsWrite, LettersWrite, SheetsWrite, ReadView, Protocol):
    """A read view that sees its own writes. All or nothing: an exception inside the block undoes everything."""

    def put_garage(self, garage: Garage) -> None: ...

    def put_person(self, person: Person) -> None: ...

    def put_vehicle(self, vehicle: Vehicle) -> None:
        """New, or in place of the one with that mark."""
        ...

    def add_readings(self, readings: Sequence[Reading]) -> int:
        """Stores those that are not there yet (by `Reading.identity`); returns how many were new."""
        ...

    def set_reading_state(
        self, reading_id: int, state: ReadingState, note: str = "", *, vouched_by: str | None = None
    ) -> None:
        """vouched_by: who says that it is right; None leaves that as it is."""
        ...

    def add_work(self, work: Sequence[WorkDone]) -> int:
        """Stores those that are not there yet (by line, day and value); returns how many were new."""
        ...

    def add_events(self, events: Sequence[UseEvent]) -> int:
        """Stores those that are not there yet; returns how many were new."""
        ...

    def put_booking(self, booking: Booking) -> None:
        """New, or in place of the one with that key."""
        ...

    def drop_bookings(self, keys: Iterable[str]) -> int:
        """Forgets bookings; returns how many were there."""
        ...

    def put_bay_visit(self, visit: BayVisit) -> None:
        """New, or in place of the one with that mark and number."""
        ...

    def put_calendar(self, source: CalendarSource) -> None:
        """New, or in place of the one with that key, its copy included."""
        ...

    def drop_calendar(self, key: str) -> bool:
        """Forgets a calendar and its copy, not the bookings made from it; True if it was there."""
        ...

    def put_windows(self, windows: dict[LineKey, LineState]) -> None:
        """Stores these, leaves the others."""
        ...

    def drop_windows(self, lines: Iterable[LineKey]) -> None:
        """Forgets lines that are no longer there."""
        ...

    def put_line_inputs(self, inputs: Iterable[PackedInputs]) -> None:
        """Each new or in place of what that vehicle had."""
        ...

    def add_fit(self, fit: Fitted) -> None:
        """Numbers learned anew; from now on they are the newest. Those before stay."""
        ...

    def put_receipt(self, receipt: Receipt) -> None:
        """Raises Clash if there is one of that key."""
        ...

    def drop_receipts(self, made_before: datetime) -> int:
        """Forgets receipts older than that; returns how many."""
        ...

    def log_change(self, subject: str, what: str, before: str, after: str) -> None:
        """One line in the log, under this unit's change."""
        ...

    def log_changes(self, lines: Iterable[tuple[str, str, str, str]]) -> None:
        """Many lines in the log: subject, what, before, after of each."""
        ...


class Store(Protocol):
    """Memory. Reads never block writes for long; at most one write unit runs at a time, over all processes."""

    def read(self) -> AbstractContextManager[ReadView]: ...

    def write(self, change: Change, *, typed: bool = True) -> AbstractContextManager[WriteUnit]:
        """A transaction. typed: a person gave it, so it is on the disk before the block ends without error.

        Raises StoreBusy, StoreFull or StoreDamaged; then nothing was changed.
        """
        ...

    def feed_stamp(self, key_hash: str, now: datetime) -> FeedStamp | None:
        """What a feed key opens, without its bytes; None for any key that opens none. The polling path: one statement.

        A replaced key opens its farewell.
        """
        ...

    def feed_by_key(self, key_hash: str, now: datetime) -> FeedBody | None:
        """The feed that a feed key opens, or None for any key that opens none; of one moment, tag and bytes."""
        ...

    def note_fetch(self, key_hash: str, fetch: Fetch) -> None:
        """Keeps when a feed was last fetched, unless as late a fetch is noted already.

        It lies beside the facts and is no change of the garage.
        """
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

    def send(self, raw: bytes, to_mail: str, *, next_to_mail: str | None = None) -> str:
        """Hands one message over; returns the server's answer. Raises DeliveryFailed.

        next_to_mail: for whom the next one probably is; way may be made for it, but none of it goes out.
        """
        ...

    def finish(self) -> None:
        """The batch is over: close what was kept open."""
        ...


class CalendarReader(Protocol):
    """Reads other people's calendars by their URL."""

    def read(self, source: CalendarSource, *, zone: str, today: date) -> CalendarAnswer:
        """What the calendar holds on `days_to_see(today)`, days as seen in `zone`; no copy if nothing changed.

        Raises CalendarTrouble, in words that do not give the URL away.
        """
        ...


class PhotoShelf(Protocol):
    """Keeps pictures under names that follow from what is in them."""

    def keep(self, picture: bytes) -> str:
        """Keeps a picture, once however often it is given; its name. Raises StoreFull or StoreTrouble."""
        ...

    def picture(self, name: str) -> bytes:
        """The bytes of a picture. Raises NotFound."""
        ...

    def names(self) -> tuple[str, ...]:
        """Names of all pictures, sorted."""
        ...
