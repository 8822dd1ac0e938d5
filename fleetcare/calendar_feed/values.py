"""What a feed is made of: entries to publish, entries as published, and the body that is served."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from fleetcare.due.outlook import DueWindow
from fleetcare.quantities import DateSpan


class EntryKind(StrEnum):
    """Kinds of entry; also the CATEGORIES of the event."""

    DUE = "service due"
    PAST_LATE = "past late"
    READING = "reading wanted"
    BOOKING = "spoken for"
    LOOK_AGAIN = "look again"
    NOTHING_DUE = "nothing due"


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """One all-day entry as it should stand in a feed.

    seed: what it is about, for example `due/AN/rear-axle/axle-fluid`. Never holds a date, a title or a person, so that
    the entry keeps its UID when its date is recomputed.
    path: path of its page below the base address, or empty.
    window: the three dates it rests on, shown before the text. Days with a window are reckoned, so small moves of them
    are no news and are held back when the entry is published; days without one are taken as they are.
    """

    seed: str
    kind: EntryKind
    title: str
    days: DateSpan
    text: str = ""
    path: str = ""
    tentative: bool = False
    window: DueWindow | None = None


@dataclass(frozen=True, slots=True)
class PublishedEntry:
    """One entry as it was last published to one person.

    sequence, created_at, modified_at: never go backwards for a uid. content_hash: of what a reader sees.
    time_hash: of dates and status alone; if it changes, sequence rises (RFC 5546 2.1.4).
    body: the bytes of the VEVENT, CRLF included. withdrawn_at: set when the entry is gone from the feed.
    sort_key: first day and uid, then what else of its dates is remembered (`calendar_feed/place.py`).
    """

    uid: str
    sequence: int
    created_at: datetime
    modified_at: datetime
    content_hash: str
    time_hash: str
    body: bytes
    sort_key: str
    withdrawn_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class FeedBody:
    """The bytes served to one person, with their validators."""

    person: str
    etag: str
    """Without quotes or weak mark."""
    modified_at: datetime
    body: bytes
