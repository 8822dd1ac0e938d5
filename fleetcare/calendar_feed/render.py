"""Entries as RFC 5545 bytes: one event at a time, and the body of a feed joined from events made before."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from fleetcare.calendar_feed.place import place_days
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.values import FeedBody, FeedEntry, PublishedEntry

if TYPE_CHECKING:
    from icalendar import Calendar, Event

MOST_EVENTS = 1000
MOST_BYTES = 1_000_000
"""The largest reader stops at about 1 MB or 1 111 events (reported by its users)."""
PRODID = "-//fleetcare//calendar feed//EN"
"""A constant, so that an upgrade of any part changes no byte."""
REFRESH = "PT6H"
CALENDAR_NAME_LENGTH = 60

_END = b"END:VCALENDAR\r\n"
_LINE_OCTETS = 75
_LOGICAL_LINES = re.compile(rb"\r\n(?! )")


def event_bytes(
    entry: FeedEntry, *, uid: str, url: str, sequence: int, created_at: datetime, modified_at: datetime
) -> bytes:
    """One VEVENT, CRLF included. The texts of the entry have been cleaned (`plain_text`) before.

    All-day, with an explicit exclusive end (RFC 5545 3.6.1), free (3.8.2.7), without alarms; DTSTAMP is LAST-MODIFIED,
    as it is in a calendar without METHOD (3.8.7.2).
    """
    event = _event(entry, uid=uid, url=url, sequence=sequence, created_at=created_at, modified_at=modified_at)
    return _without_needless_folds(event.to_ical())


def feed_body(
    person: str, calendar_name: str, entries: Sequence[PublishedEntry], *, previous: FeedBody | None, now: datetime
) -> FeedBody:
    """What is served to one person: the entries that are not withdrawn, by first day and uid, between head and tail.

    previous: what was served before; it is returned itself if no byte changed, else `modified_at` is later than its
    own, even if the clock went back.
    At most 1000 events and 1 MB: if there are more, those nearest to today stay (`nearest`), in the order they have.
    Raises ValueError if no entry is left, since a calendar has at least one component (RFC 5545 3.6).
    """
    moment = whole_second(now)
    head = _head(one_line(calendar_name, CALENDAR_NAME_LENGTH) or "Garage")
    current = [entry for entry in entries if entry.withdrawn_at is None]
    if not current:
        raise ValueError("a feed holds at least one entry")
    kept = nearest(current, today=moment.date(), octets=MOST_BYTES - len(head) - len(_END))
    body = b"".join((head, *(entry.body for entry in sorted(kept, key=lambda entry: entry.sort_key)), _END))
    if previous is not None and previous.person == person and previous.body == body:
        return previous
    if previous is not None:
        moment = max(moment, previous.modified_at + timedelta(seconds=1))
    return FeedBody(person=person, etag=hashlib.sha256(body).hexdigest()[:32], modified_at=moment, body=body)


def whole_second(moment: datetime) -> datetime:
    """The moment in UTC without its fraction, as calendars and HTTP write it. Raises ValueError if it has no zone."""
    if moment.tzinfo is None:
        raise ValueError(f"a moment needs its zone: {moment}")
    return moment.astimezone(UTC).replace(microsecond=0)


def nearest(
    entries: Sequence[PublishedEntry], *, today: date, octets: int, most: int = MOST_EVENTS
) -> tuple[PublishedEntry, ...]:
    """The entries that fit, nearest to today first: those that hold today, then by days to their nearer end.

    Of two equally near, the one to come stays. The first that does not fit ends it. All of them, in the order given, if
    they fit.
    """
    if len(entries) <= most and sum(len(entry.body) for entry in entries) <= octets:
        return tuple(entries)
    kept: list[PublishedEntry] = []
    for entry in sorted(entries, key=lambda each: _distance(each, today)):
        octets -= len(entry.body)
        if octets < 0 or len(kept) == most:
            break
        kept.append(entry)
    return tuple(kept)


def _distance(entry: PublishedEntry, today: date) -> tuple[int, bool, str]:
    days = place_days(entry.sort_key)
    if today in days:
        return (0, False, entry.sort_key)
    if days.first > today:
        return ((days.first - today).days, False, entry.sort_key)
    return ((today - days.last).days, True, entry.sort_key)


@lru_cache(maxsize=64)
def _head(name: str) -> bytes:
    return _without_needless_folds(_calendar(name).to_ical()).removesuffix(_END)


# icalendar is imported where the first event or head is really made (it takes a tenth of a second), so that a command
# that publishes nothing does not wait for it.


def _calendar(name: str) -> Calendar:
    from icalendar import Calendar

    calendar = Calendar()  # Calendar.new() would fill in a random uid
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODID)
    calendar.add("name", _text(name))  # RFC 7986 5.1
    calendar.add("x-wr-calname", _text(name))
    calendar.add("refresh-interval", timedelta(hours=6), parameters={"VALUE": "DURATION"})  # RFC 7986 5.7
    calendar.add("x-published-ttl", REFRESH)
    return calendar


def _event(
    entry: FeedEntry, *, uid: str, url: str, sequence: int, created_at: datetime, modified_at: datetime
) -> Event:
    from icalendar import Event

    event = Event()  # Event.new() would fill in a random uid and the machine's clock
    event.add("uid", uid)
    event.add("sequence", sequence)
    event.add("created", created_at)
    event.add("dtstamp", modified_at)
    event.add("last-modified", modified_at)
    event.add("dtstart", entry.days.first)
    event.add("dtend", entry.days.end)
    event.add("summary", _text(entry.title))
    if entry.text:
        event.add("description", _text(entry.text))
    event.add("categories", [entry.kind.value])
    event.add("status", "TENTATIVE" if entry.tentative else "CONFIRMED")
    event.add("transp", "TRANSPARENT")
    if url:
        event.add("url", url)
    return event


def _text(value: str) -> object:
    """TEXT escaped as RFC 5545 3.3.11 has it.

    icalendar's own escaping takes a backslash before a capital N, as in a folder's name, for a line break.
    """
    return _text_class()(value)


@lru_cache(maxsize=1)
def _text_class() -> type[str]:
    from icalendar import vText

    class Text(vText):
        def to_ical(self) -> bytes:
            escaped = str(self).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
            return escaped.encode()

    return Text


def _without_needless_folds(block: bytes) -> bytes:
    """icalendar folds a line of exactly 75 octets, which RFC 5545 3.1 lets stand; this puts such a line together."""
    lines = _LOGICAL_LINES.split(block)
    whole = (line.replace(b"\r\n ", b"") for line in lines)
    return b"\r\n".join(
        joined if len(joined) <= _LINE_OCTETS else line for joined, line in zip(whole, lines, strict=True)
    )
