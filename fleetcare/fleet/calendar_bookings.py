"""What the entries of somebody's calendar mean for the vehicles: bookings, and which of them come, change and go."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarCopy, CalendarEvent, CalendarOwner, CalendarSource
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.event_text import (
    EventText,
    ParseAmount,
    SpokenDistance,
    mentions_distance,
    named_vehicles,
    spoken_distances,
)
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.quantities import km_from

LONGEST_TITLE = 120
NO_TITLE = "Spoken for"


@dataclass(frozen=True, slots=True)
class EntryNotice:
    """Something in a calendar that was not taken as it may have been meant: first day, title, and a sentence."""

    on: date
    title: str
    what: str


@dataclass(frozen=True, slots=True)
class CalendarBookings:
    """The bookings a calendar makes, by first day and key, and what to tell whoever keeps it."""

    bookings: tuple[Booking, ...]
    notices: tuple[EntryNotice, ...]


@dataclass(frozen=True, slots=True)
class BookingChanges:
    """What has to be done so that the stored bookings of a calendar are those it makes now."""

    put: tuple[Booking, ...]
    drop: tuple[Booking, ...]

    @property
    def marks(self) -> tuple[str, ...]:
        """Vehicles whose dates may move by it."""
        return tuple(sorted({mark for booking in (*self.put, *self.drop) for mark in booking.marks}))


def bookings_of(
    source: CalendarSource,
    *,
    vehicles: Sequence[Vehicle],
    duties: Mapping[str, DutyCycle],
    parse_amount: ParseAmount,
) -> CalendarBookings:
    """The bookings that the last good copy of a calendar makes.

    In a vehicle's calendar every entry that is busy or names a distance is one, for that vehicle and those named in the
    entry. In a person's calendar an entry is one if it names a distance and a vehicle. A bay's makes none. Cancelled
    entries make none. A distance that no vehicle covers in those days is not taken, and a notice says so.
    """
    if source.copy is None or source.owner_kind is CalendarOwner.BAY:
        return CalendarBookings((), ())
    by_mark = {vehicle.mark: vehicle for vehicle in vehicles}
    bookings: list[Booking] = []
    notices: list[EntryNotice] = []
    for event in source.copy.events:
        if event.is_cancelled:
            continue
        said = spoken_distances(event.title, event.note, duties=duties, parse_amount=parse_amount)
        speaks = bool(said.distances or said.doubts)
        marks = _marks(source, event, vehicles if speaks else ())
        marks = tuple(mark for mark in marks if mark in by_mark)
        told = list(said.doubts)
        if speaks and not marks:
            told = [saying("It names a distance but no vehicle. Begin it with the vehicle's name and a colon.")]
        too_far = _too_far(said.distances, event, [by_mark[mark] for mark in marks])
        if too_far:
            said, told = EventText(), [too_far]
        notices += [EntryNotice(event.days.first, event_title(event), what) for what in told]
        is_for_us = speaks or (event.is_busy and source.owner_kind is CalendarOwner.VEHICLE)
        if marks and is_for_us:
            bookings += _bookings(source, event, marks, said.distances)
    bookings.sort(key=lambda booking: (booking.days.first, booking.key))
    return CalendarBookings(tuple(bookings), tuple(notices))


def booking_changes(
    source: CalendarSource, stored: Iterable[Booking], wanted: Iterable[Booking], *, today: date
) -> BookingChanges:
    """Which bookings to store and which to drop, so that those of this calendar are the `wanted` ones.

    stored: any bookings; only those made from this calendar are looked at. One that is over stays, though its entry is
    gone, if it lies before the days looked at or before everything the calendar still shows: many servers leave out
    what is past, and a trip that was driven does not become undriven by that.
    """
    theirs = {booking.key: booking for booking in stored if is_from(source.key, booking)}
    coming = {booking.key: booking for booking in wanted}
    put = tuple(booking for key, booking in coming.items() if theirs.get(key) != booking)
    shown = {_stem(source.key, event.id) for event in source.copy.events} if source.copy is not None else set()
    drop = tuple(
        booking
        for key, booking in sorted(theirs.items())
        if key not in coming and (key[:_STEM] in shown or not _is_past_and_out_of_sight(booking, source.copy, today))
    )
    return BookingChanges(put, drop)


def bookings_to_come(source_key: str, stored: Iterable[Booking], today: date) -> tuple[Booking, ...]:
    """Bookings made from a calendar that are not over yet: those that go when the calendar is taken away."""
    return tuple(booking for booking in stored if is_from(source_key, booking) and booking.days.end > today)


def is_from(source_key: str, booking: Booking) -> bool:
    """Whether a booking was made from that calendar."""
    return booking.key.startswith(_beginning(source_key))


def lean(copy: CalendarCopy, owner_kind: CalendarOwner) -> CalendarCopy:
    """The copy with no more of people's words than is needed: what a person does on a busy day is not kept."""
    return replace(copy, events=tuple(_lean(event, owner_kind) for event in copy.events))


def event_title(event: CalendarEvent) -> str:
    """The title as a booking keeps it: one line, nothing unseen, in normal form C, at most 120 characters."""
    text = unicodedata.normalize("NFC", event.title)
    text = "".join(_seen(sign) for sign in text).replace("=?", "= ?")
    text = re.sub(r"\s+", " ", text).strip()
    cut = text if len(text) <= LONGEST_TITLE else f"{text[: LONGEST_TITLE - 1].rstrip()}…"
    return cut or NO_TITLE


def _marks(source: CalendarSource, event: CalendarEvent, vehicles: Sequence[Vehicle]) -> tuple[str, ...]:
    named = named_vehicles(event.title, event.note, vehicles)
    if source.owner_kind is CalendarOwner.VEHICLE:
        return tuple(dict.fromkeys((source.owner, *named)))
    return named


def _bookings(
    source: CalendarSource, event: CalendarEvent, marks: tuple[str, ...], distances: Sequence[SpokenDistance]
) -> list[Booking]:
    stem, title = _stem(source.key, event.id), event_title(event)
    if not distances:
        return [Booking(f"{stem}-0", title, event.days, marks)]
    return [
        Booking(f"{stem}-{number}", title, event.days, marks, said.distance, said.unit, said.duty)
        for number, said in enumerate(distances)
    ]


def _too_far(distances: Sequence[SpokenDistance], event: CalendarEvent, vehicles: Sequence[Vehicle]) -> str:
    km = sum(km_from(said.distance, said.unit) for said in distances)
    for vehicle in vehicles:
        if km > vehicle.max_km_per_day * event.days.days:
            return saying("{name} does not get that far in so few days. Look at the figure.", name=vehicle.name)
    return ""


def _is_past_and_out_of_sight(booking: Booking, copy: CalendarCopy | None, today: date) -> bool:
    if booking.days.end > today:
        return False
    if copy is None or copy.shown_from is None:
        return True
    return booking.days.end <= copy.seen.first or booking.days.last < copy.shown_from


def _beginning(source_key: str) -> str:
    return f"calendar-{hashlib.sha256(source_key.encode()).hexdigest()[:10]}-"


_STEM = len("calendar-") + 10 + 1 + 20


def _stem(source_key: str, event_id: str) -> str:
    return f"{_beginning(source_key)}{hashlib.sha256(event_id.encode()).hexdigest()[:20]}"


def _lean(event: CalendarEvent, owner_kind: CalendarOwner) -> CalendarEvent:
    in_title, in_note = mentions_distance(event.title), mentions_distance(event.note)
    needs_title = owner_kind is CalendarOwner.VEHICLE or in_title or in_note
    if owner_kind is CalendarOwner.BAY:
        return replace(event, title="", note="")
    return replace(event, title=event.title if needs_title else "", note=event.note if in_title or in_note else "")


def _seen(sign: str) -> str:
    """The sign itself, a blank for one that breaks or ends a line, nothing for one that cannot be seen."""
    category = unicodedata.category(sign)
    if category in ("Zl", "Zp") or sign in "\t\n\r\x0b\x0c\x1c\x1d\x1e\x1f\x85":
        return " "
    code = ord(sign)
    is_no_character = code & 0xFFFE == 0xFFFE or 0xFDD0 <= code <= 0xFDEF
    if category in ("Cc", "Cs") or is_no_character or (category == "Cf" and sign not in "\u200c\u200d"):
        return ""
    return sign
