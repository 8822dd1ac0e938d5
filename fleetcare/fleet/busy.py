"""Calendars of people, vehicles and the bay that lie elsewhere: what was read from them, and when to look again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from fleetcare.quantities import DateSpan

LOOKED_BACK = timedelta(days=60)
LOOKED_AHEAD = timedelta(days=400)
READ_WHOLE_AFTER = timedelta(days=7)
"""A calendar that says it did not change is read whole all the same after so long, because repeats move into sight."""
LONGEST_WAIT = timedelta(hours=12)
_MOST_DOUBLINGS = 6


class CalendarOwner(StrEnum):
    """Whose time a calendar tells of."""

    PERSON = "person"
    VEHICLE = "vehicle"
    BAY = "bay"


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """One single time of an event in somebody's calendar; a repeat is an event of its own."""

    id: str
    """Derived from the event's UID and which repeat it is, so it stays when the event is moved."""
    days: DateSpan
    """Days of the garage that it touches."""
    begins_at: datetime | None = None
    ends_at: datetime | None = None
    """UTC; both None for what lasts whole days."""
    title: str = ""
    note: str = ""
    is_busy: bool = True
    is_cancelled: bool = False
    is_single: bool = True
    """It does not repeat."""


@dataclass(frozen=True, slots=True)
class CalendarCopy:
    """What a calendar held when it was last read whole.

    events: by first day. seen: the days that were looked at; events outside are not in it. shown_from: the earliest
    day of any event that happens once, even before `seen`: how far back the calendar shows what is past. notices: what
    in it could not be read, a sentence each.
    """

    read_on: date
    seen: DateSpan
    events: tuple[CalendarEvent, ...]
    shown_from: date | None = None
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CalendarSource:
    """A calendar somewhere else. Its URL is a secret: whoever has it reads the calendar."""

    key: str
    owner_kind: CalendarOwner
    owner: str
    """Key of a person, mark of a vehicle, or name of a bay."""
    url: str = field(repr=False)
    may_be_private: bool = False
    """Somebody said that it lies in a private network, so that such an address may be called for it."""
    etag: str = field(default="", repr=False)
    last_modified: str = ""
    tried_at: datetime | None = None
    good_at: datetime | None = None
    """When `copy` was last read, or found unchanged."""
    failures: int = 0
    """In a row, since it was last good."""
    trouble: str = ""
    """What went wrong last, in a sentence; empty if nothing did."""
    copy: CalendarCopy | None = None


@dataclass(frozen=True, slots=True)
class CalendarAnswer:
    """What came of asking for a calendar. `copy` is None: it did not change since the copy that is kept."""

    copy: CalendarCopy | None
    etag: str = field(default="", repr=False)
    last_modified: str = ""


@dataclass(frozen=True, slots=True)
class BusySpell:
    """Days, or a time on them, on which a person, a vehicle or the bay is spoken for."""

    owner_kind: CalendarOwner
    owner: str
    days: DateSpan
    begins_at: datetime | None = None
    ends_at: datetime | None = None
    """UTC; both None: whole days."""


def days_to_see(today: date) -> DateSpan:
    """The days of a calendar that are looked at."""
    return DateSpan(today - LOOKED_BACK, today + LOOKED_AHEAD)


def wants_whole(source: CalendarSource, today: date) -> bool:
    """Whether the calendar has to be sent whole, even if it did not change."""
    return source.copy is None or not timedelta(0) <= today - source.copy.read_on < READ_WHOLE_AFTER


def next_look_at(source: CalendarSource, every: timedelta) -> datetime | None:
    """When the calendar is to be read again; None: now.

    After `every`; after failures twice as long each time, up to half a day or `every`, whichever is longer. Up to a
    fifth is added, always the same for the same calendar, so that many are not asked for at one moment.
    """
    if source.tried_at is None:
        return None
    times = 1 << min(source.failures, _MOST_DOUBLINGS)
    wait = min(every * times, max(every, LONGEST_WAIT))
    share = int.from_bytes(hashlib.sha256(source.key.encode()).digest()[:2], "big") / 65_535
    return source.tried_at + wait * (1 + share / 5)


def is_due(source: CalendarSource, every: timedelta, now: datetime) -> bool:
    """Whether the calendar is to be read now. A clock that was set back makes it due at once, not silent for ever."""
    at = next_look_at(source, every)
    return at is None or now >= at or (source.tried_at is not None and source.tried_at > now)


def after_good(source: CalendarSource, answer: CalendarAnswer, now: datetime) -> CalendarSource:
    """The calendar after it was read, or found unchanged."""
    copy = source.copy if answer.copy is None else answer.copy
    return replace(
        source,
        etag=answer.etag,
        last_modified=answer.last_modified,
        tried_at=now,
        good_at=now,
        failures=0,
        trouble="",
        copy=copy,
    )


def after_trouble(source: CalendarSource, trouble: str, now: datetime) -> CalendarSource:
    """The calendar after it could not be read: the last good copy stays."""
    return replace(source, tried_at=now, failures=source.failures + 1, trouble=trouble)


def pointed_elsewhere(source: CalendarSource, url: str) -> CalendarSource:
    """The calendar at another address: due at once, and its last good copy stays until that one was read."""
    return replace(source, url=url, etag="", last_modified="", tried_at=None, failures=0, trouble="")


def busy_spells(sources: Iterable[CalendarSource]) -> tuple[BusySpell, ...]:
    """When who is spoken for by the last good copies, by owner and time. Cancelled and free entries are left out."""
    spells = [
        BusySpell(source.owner_kind, source.owner, event.days, event.begins_at, event.ends_at)
        for source in sources
        if source.copy is not None
        for event in source.copy.events
        if event.is_busy and not event.is_cancelled
    ]
    return tuple(
        sorted(
            spells,
            key=lambda spell: (
                spell.owner_kind,
                spell.owner,
                spell.days,
                "" if spell.begins_at is None else spell.begins_at.isoformat(),
            ),
        )
    )
