"""What a feed is made of: entries to publish, entries as published, and the body that is served."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.feed_choice import FeedAlarm
from fleetcare.quantities import DateSpan


class EntryKind(StrEnum):
    """Kinds of entry; also the CATEGORIES of the event."""

    DUE = "service due"
    OPENS = "window opens"
    LATE_DATE = "late date"
    PAST_LATE = "past late"
    READING = "reading wanted"
    BOOKING = "spoken for"
    LOOK_AGAIN = "look again"
    LAID_UP = "laid up"
    BAY_DAY = "bay day"
    STANDING = "standing"
    BUSY = "busy"
    NOTHING_DUE = "nothing due"
    REPLACED = "address replaced"


FEED_END = b"END:VCALENDAR\r\n"
"""What every body ends with."""


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """One entry as it should stand in a feed: whole days, or a time on them.

    seed: what it is about, for example `due/AN/rear-axle/axle-fluid`. Never holds a date that is recomputed, a title or
    a person, so that the entry keeps its UID when its date moves.
    path: path of its page below the base address, or empty.
    window: the three dates it rests on, shown before the text.
    mark: the one vehicle it is about, empty if it is about several or none.
    alarms: how long before midnight of its first day they ring. blocks: whether it takes the reader's time.
    spell: from when to when, UTC, if it does not take whole days; `days` are then those of the garage it touches.
    serves: seeds of the due services it is there for.
    """

    seed: str
    kind: EntryKind
    title: str
    days: DateSpan
    text: str = ""
    path: str = ""
    tentative: bool = False
    window: DueWindow | None = None
    mark: str = ""
    alarms: tuple[FeedAlarm, ...] = ()
    blocks: bool = False
    spell: tuple[datetime, datetime] | None = None
    serves: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Revision:
    """One state of one entry as it was published; what is published never changes, a change is a new revision.

    sequence, created_at, modified_at: for a uid they never go backwards in any one feed. content_hash: of what a reader
    sees. time_hash: of dates and status alone; if it changes, sequence rises (RFC 5546 2.1.4).
    digest, size: of its bytes. sort_key: its days and uid (`calendar_feed/place.py`).
    withdrawn_at: set when the entry is gone from the feed it is looked at in.
    id: given by the store: the first 60 bits of the digest, so that it stands for these bytes and no others, in any
    database and for all time (`number_of`).
    """

    uid: str
    sequence: int
    created_at: datetime
    modified_at: datetime
    content_hash: str
    time_hash: str
    digest: str
    size: int
    sort_key: str
    mark: str = ""
    withdrawn_at: datetime | None = None
    id: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedEntry(Revision):
    """A revision with its bytes: the VEVENT, CRLF included."""

    body: bytes


def number_of(digest: str) -> int:
    """The id of the revision with that digest. Two of a million share one with a chance of one in two million."""
    return int(digest[:15], 16)


@dataclass(frozen=True, slots=True)
class FeedContents:
    """What stands in one feed: the revisions it is joined from, in order, and what a reader compares.

    person, mark: whose it is. A person's own has no mark; with a mark alone it shows when that vehicle is taken;
    with neither it is the garage's own.
    head: everything before the first entry. marks, form: what it was made for, so that a change of either is noticed.
    aside: revisions that are current but found no room. gone: those that stood in it and were withdrawn, with the
    moment; their counts must not fall if they return.
    etag: without quotes or weak mark.
    """

    person: str
    mark: str
    etag: str
    modified_at: datetime
    head: bytes
    form: str = ""
    marks: tuple[str, ...] = ()
    entries: tuple[int, ...] = ()
    aside: tuple[int, ...] = ()
    gone: tuple[tuple[int, datetime], ...] = ()

    @property
    def key(self) -> tuple[str, str]:
        """Person and mark."""
        return self.person, self.mark


class FeedStamp(NamedTuple):
    """What a poll is answered from if the reader has the bytes already; made at every poll, so it is a bare tuple.

    is_owed: some vehicle has changed and stands in no calendar yet, so this may not be the last word.
    """

    etag: str
    modified_at: datetime
    is_owed: bool = False


@dataclass(frozen=True, slots=True)
class FeedBody:
    """The bytes served for one feed, with their validators."""

    person: str
    etag: str
    """Without quotes or weak mark."""
    modified_at: datetime
    body: bytes
    mark: str = ""
