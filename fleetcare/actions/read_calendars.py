"""Other people's calendars are read, and what they say of the vehicles becomes bookings.

A calendar is asked for outside any transaction; its copy, the bookings it makes and the dates they move are stored in
one. Whatever goes wrong before that leaves everything as it was: the last good copy, its bookings, and its age.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.ports import CalendarReader, Change, ReadView, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.clock import Clock
from fleetcare.errors import CalendarTrouble, NotFound
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.busy import CalendarAnswer, CalendarSource, after_good, after_trouble, is_due
from fleetcare.fleet.calendar_bookings import EntryNotice, booking_changes, bookings_of, is_from, lean
from fleetcare.fleet.event_text import ParseAmount

AT_ONCE = 4
"""Calendars that are asked for side by side, so that a slow one does not keep the others waiting."""


@dataclass(frozen=True, slots=True)
class CalendarDesk:
    """What calendars are read with: over the network, and by the one number parser."""

    reader: CalendarReader
    parse_amount: ParseAmount


@dataclass(frozen=True, slots=True)
class CalendarRead:
    """What came of reading one calendar.

    source: as it stands now, its trouble included. put, dropped: how many bookings came or changed, and went.
    settled: None if no booking changed. overtaken: it was changed, taken away or read by somebody else meanwhile, and
    nothing was stored.
    """

    source: CalendarSource
    put: int = 0
    dropped: int = 0
    notices: tuple[EntryNotice, ...] = ()
    settled: Settled | None = None
    overtaken: bool = False


@dataclass(frozen=True, slots=True)
class CalendarStand:
    """A calendar as it stands: the bookings made from it, and what in it was not taken."""

    source: CalendarSource
    bookings: tuple[Booking, ...]
    notices: tuple[EntryNotice, ...]


def read_calendar(
    store: Store, rules: Rules, desk: CalendarDesk, key: str, *, clock: Clock, base_url: str, who: str
) -> CalendarRead:
    """Reads one calendar now and stores what came of it. Raises NotFound; trouble with it is in the result."""
    began_at = clock.now()
    with store.read() as view:
        source = _source(view, key)
        garage = garage_of(view)
    answer: CalendarAnswer | CalendarTrouble
    try:
        answer = desk.reader.read(source, zone=garage.zone, today=garage_day(garage, began_at))
    except CalendarTrouble as trouble:
        answer = trouble
    # Asked anew: half a minute may have gone by, and no feed may be renewed with a moment before its last one.
    now = clock.now()
    with store.write(Change(who, f"calendar {source.key} read", now), typed=False) as unit:
        now_there = next((each for each in unit.calendars() if each.key == source.key), None)
        if now_there is None or _was_overtaken(source, now_there):
            return CalendarRead(source, overtaken=True)
        after = _after(now_there, answer, began_at)
        return _stored(unit, rules, desk, now_there, after, now=now, base_url=base_url)


def read_due_calendars(
    store: Store, rules: Rules, desk: CalendarDesk, *, clock: Clock, base_url: str, every: timedelta
) -> tuple[CalendarRead, ...]:
    """Reads the calendars whose time has come, a few side by side, the one waiting longest first."""
    now = clock.now()
    with store.read() as view:
        if view.garage() is None:
            return ()
        due = [source for source in view.calendars() if is_due(source, every, now)]
    due.sort(key=lambda source: ("" if source.tried_at is None else source.tried_at.isoformat(), source.key))
    if not due:
        return ()

    def read(key: str) -> CalendarRead | None:
        try:
            return read_calendar(store, rules, desk, key, clock=clock, base_url=base_url, who="fleetcare")
        except NotFound:  # taken away meanwhile
            return None

    with ThreadPoolExecutor(max_workers=min(AT_ONCE, len(due)), thread_name_prefix="calendar") as pool:
        return tuple(each for each in pool.map(read, [source.key for source in due]) if each is not None)


def calendar_stands(store: Store, rules: Rules, desk: CalendarDesk) -> tuple[CalendarStand, ...]:
    """Every calendar as it stands, by key."""
    with store.read() as view:
        sources, bookings, vehicles = view.calendars(), view.bookings(), view.vehicles()
    return tuple(
        CalendarStand(
            source,
            tuple(booking for booking in bookings if is_from(source.key, booking)),
            bookings_of(source, vehicles=vehicles, duties=rules.duties, parse_amount=desk.parse_amount).notices,
        )
        for source in sources
    )


def _after(source: CalendarSource, answer: CalendarAnswer | CalendarTrouble, asked_at: datetime) -> CalendarSource:
    """The calendar with what came of asking for it: what changed in it since that moment is not in the answer."""
    if isinstance(answer, CalendarTrouble):
        return after_trouble(source, answer.said, asked_at)
    kept = answer if answer.copy is None else replace(answer, copy=lean(answer.copy, source.owner_kind))
    return after_good(source, kept, asked_at)


def _stored(
    unit: WriteUnit,
    rules: Rules,
    desk: CalendarDesk,
    source: CalendarSource,
    after: CalendarSource,
    *,
    now: datetime,
    base_url: str,
) -> CalendarRead:
    unit.put_calendar(after)
    if after.trouble != source.trouble:
        unit.log_change(f"calendar {source.key}", "trouble", source.trouble, after.trouble or "none")
    # Also after trouble: a vehicle or a duty may have come since, that the last good copy names.
    made = bookings_of(after, vehicles=unit.vehicles(), duties=rules.duties, parse_amount=desk.parse_amount)
    today = garage_day(garage_of(unit), now)
    stored = unit.bookings()
    changes = booking_changes(after, stored, made.bookings, today=today)
    before = {booking.key: booking for booking in stored}
    for booking in changes.put:
        unit.put_booking(booking)
        _log(unit, booking, before.get(booking.key), booking)
    unit.drop_bookings(booking.key for booking in changes.drop)
    for booking in changes.drop:
        _log(unit, booking, booking, None)
    settled = None
    if changes.marks:
        settled = settle(unit, rules, now=now, base_url=base_url, marks=changes.marks)
    return CalendarRead(after, len(changes.put), len(changes.drop), made.notices, settled)


def _was_overtaken(asked: CalendarSource, there: CalendarSource) -> bool:
    """Whether the stored calendar is no longer the one that was asked for."""
    return (asked.url, asked.owner_kind, asked.owner, asked.tried_at, asked.good_at) != (
        there.url,
        there.owner_kind,
        there.owner,
        there.tried_at,
        there.good_at,
    )


def _log(unit: WriteUnit, booking: Booking, before: Booking | None, after: Booking | None) -> None:
    marks = dict.fromkeys((*(before.marks if before else ()), *(after.marks if after else ())))
    for mark in marks:
        unit.log_change(mark, "booking", booking_in_words(before, mark), booking_in_words(after, mark) or "no longer")


def booking_in_words(booking: Booking | None, mark: str) -> str:
    """A booking of that vehicle for the log; empty if there is none."""
    if booking is None or mark not in booking.marks:
        return ""
    far = "" if booking.distance is None else f", {booking.distance} {booking.unit.value} {booking.duty}".rstrip()
    return f"{booking.title}, {booking.days.first} to {booking.days.last}{far}"


def _source(view: ReadView, key: str) -> CalendarSource:
    sources: Sequence[CalendarSource] = view.calendars()
    for source in sources:
        if source.key == key.strip().casefold():
            return source
    raise NotFound("calendar", key, [source.key for source in sources])
