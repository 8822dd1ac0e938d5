"""Entries as RFC 5545 bytes: one event at a time, and the body of a feed joined from events made before."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

from fleetcare.calendar_feed.place import place_days
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.values import FEED_END, FeedBody, FeedContents, FeedEntry, PublishedEntry, Revision
from fleetcare.fleet.feed_choice import FeedAlarm
from fleetcare.language import tr

if TYPE_CHECKING:
    from icalendar import Alarm, Calendar, Event

R = TypeVar("R", bound=Revision)

MOST_EVENTS = 1000
MOST_BYTES = 1_000_000
"""The largest reader stops at about 1 MB or 1 111 events (reported by its users)."""
PRODID = "-//fleetcare//calendar feed//EN"
"""A constant, so that an upgrade of any part changes no byte."""
REFRESH_HOURS = 6
CALENDAR_NAME_LENGTH = 60

DIGEST_LENGTH = 32
"""Hexadecimal digits of a digest: 128 bits."""
_LINE_OCTETS = 75
_LOGICAL_LINES = re.compile(rb"\r\n(?! )")


def event_bytes(
    entry: FeedEntry,
    *,
    uid: str,
    url: str,
    sequence: int,
    created_at: datetime,
    modified_at: datetime,
    related: Sequence[str] = (),
) -> bytes:
    """One VEVENT, CRLF included. The texts of the entry have been cleaned (`plain_text`) before.

    All-day or from one instant to another in UTC, with an explicit exclusive end (RFC 5545 3.6.1), free unless it takes
    the reader's time (3.8.2.7); DTSTAMP is LAST-MODIFIED, as it is in a calendar without METHOD (3.8.7.2). Alarms come
    last (3.6.1) and change nothing else. related: UIDs of the entries it is there for (3.8.4.5).
    """
    event = _event(entry, uid=uid, url=url, sequence=sequence, created_at=created_at, modified_at=modified_at)
    for other in related:
        event.add("related-to", other)
    return _without_needless_folds(event.to_ical())


def feed_head(calendar_name: str, refresh_hours: int = REFRESH_HOURS) -> bytes:
    """Everything of a calendar before its first entry."""
    return _head(one_line(calendar_name, CALENDAR_NAME_LENGTH) or tr("Garage"), refresh_hours)


def standing(revisions: Iterable[R], *, head: bytes, today: date) -> tuple[R, ...]:
    """The revisions that stand in a feed, by first day and uid: at most 1000 and 1 MB, those nearest to today.

    Raises ValueError if there is none, since a calendar has at least one component (RFC 5545 3.6).
    """
    current = [revision for revision in revisions if revision.withdrawn_at is None]
    if not current:
        raise ValueError("a feed holds at least one entry")
    kept = nearest(current, today=today, octets=MOST_BYTES - len(head) - len(FEED_END))
    return tuple(sorted(kept, key=_place))


def feed_etag(head: bytes, digests: Iterable[str]) -> str:
    """What tells one body from another: of its head and the digests of its entries, in order.

    The bytes themselves need not be at hand, and the same state has the same tag in any process on any database.
    """
    hashed = hashlib.sha256(head)
    hashed.update("".join(digests).encode("ascii"))
    return hashed.hexdigest()[:DIGEST_LENGTH]


def digest_of(body: bytes) -> str:
    """What stands for the bytes of an entry."""
    return hashlib.sha256(body).hexdigest()[:DIGEST_LENGTH]


def feed_body(
    person: str, calendar_name: str, entries: Sequence[PublishedEntry], *, previous: FeedBody | None, now: datetime
) -> FeedBody:
    """A whole body: the entries that are not withdrawn between head and tail, as the store joins it when asked.

    previous: what was served before; it is returned itself if no byte changed, else `modified_at` is later than its
    own, even if the clock went back. Raises ValueError if no entry is left.
    """
    moment = whole_second(now)
    head = feed_head(calendar_name)
    kept = standing(entries, head=head, today=moment.date())
    etag = feed_etag(head, (entry.digest for entry in kept))
    if previous is not None and previous.person == person and previous.etag == etag:
        return previous
    body = b"".join((head, *(entry.body for entry in kept), FEED_END))
    return FeedBody(person=person, etag=etag, modified_at=later(moment, previous), body=body)


def later(moment: datetime, previous: FeedBody | FeedContents | None) -> datetime:
    """The moment, or a second after the previous body's if the clock stood or went back."""
    return moment if previous is None else max(moment, previous.modified_at + timedelta(seconds=1))


def whole_second(moment: datetime) -> datetime:
    """The moment in UTC without its fraction, as calendars and HTTP write it. Raises ValueError if it has no zone."""
    if moment.tzinfo is None:
        raise ValueError(f"a moment needs its zone: {moment}")
    return moment.astimezone(UTC).replace(microsecond=0)


def nearest(entries: Sequence[R], *, today: date, octets: int, most: int = MOST_EVENTS) -> tuple[R, ...]:
    """The entries that fit, nearest to today first: those that hold today, then by days to their nearer end.

    Of two equally near, the one to come stays. The first that does not fit ends it. All of them, in the order given, if
    they fit.
    """
    if len(entries) <= most and sum(entry.size for entry in entries) <= octets:
        return tuple(entries)
    kept: list[R] = []
    for entry in sorted(entries, key=lambda each: _distance(each, today)):
        octets -= entry.size
        if octets < 0 or len(kept) == most:
            break
        kept.append(entry)
    return tuple(kept)


def _distance(entry: Revision, today: date) -> tuple[int, bool, str]:
    days = place_days(entry.sort_key)
    if today in days:
        return (0, False, entry.sort_key)
    if days.first > today:
        return ((days.first - today).days, False, entry.sort_key)
    return ((today - days.last).days, True, entry.sort_key)


def _place(revision: Revision) -> str:
    return revision.sort_key


@lru_cache(maxsize=64)
def _head(name: str, refresh_hours: int) -> bytes:
    return _without_needless_folds(_calendar(name, refresh_hours).to_ical()).removesuffix(FEED_END)


# icalendar is imported where the first event or head is really made (it takes a tenth of a second), so that a command
# that publishes nothing does not wait for it.


def _calendar(name: str, refresh_hours: int = REFRESH_HOURS) -> Calendar:
    from icalendar import Calendar

    calendar = Calendar()  # Calendar.new() would fill in a random uid
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODID)
    calendar.add("name", _text(name))  # RFC 7986 5.1
    calendar.add("x-wr-calname", _text(name))
    calendar.add("refresh-interval", timedelta(hours=refresh_hours), parameters={"VALUE": "DURATION"})  # RFC 7986 5.7
    calendar.add("x-published-ttl", f"PT{refresh_hours}H")
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
    begins, ends = (entry.days.first, entry.days.end) if entry.spell is None else map(whole_second, entry.spell)
    event.add("dtstart", begins)
    event.add("dtend", ends)
    event.add("summary", _text(entry.title))
    if entry.text:
        event.add("description", _text(entry.text))
    event.add("categories", [entry.kind.value])
    event.add("status", "TENTATIVE" if entry.tentative else "CONFIRMED")
    event.add("transp", "OPAQUE" if entry.blocks else "TRANSPARENT")
    if url:
        event.add("url", url)
    for alarm in entry.alarms:
        event.add_component(_alarm(alarm, entry.title))
    return event


def _alarm(alarm: FeedAlarm, title: str) -> Alarm:
    """Of an all-day event a TRIGGER counts from the reader's own midnight (RFC 5545 3.8.6.3)."""
    from icalendar import Alarm

    component = Alarm()
    component.add("action", "DISPLAY")
    component.add("description", _text(title))  # without it one reader drops the whole feed; RFC 5545 3.6.6
    component.add("trigger", alarm.at - timedelta(days=alarm.days_before))
    return component


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
