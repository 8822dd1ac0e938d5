"""What a reader sees in a feed: its entries read back from the very bytes that are served."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Any, NamedTuple

from icalendar import Calendar
from icalendar.parser import unescape_backslash

_EVENT = re.compile(rb"^BEGIN:VEVENT\r\n.*?^END:VEVENT\r\n", re.DOTALL | re.MULTILINE)
_MOMENT = re.compile(rb"^(DTSTART|DTEND)(?:;VALUE=DATE:(\d{8})|:(\d{8}T\d{6})Z)\r$", re.MULTILINE)
_ANY_MOMENT = re.compile(rb"^(?:DTSTART|DTEND)\b", re.MULTILINE)
_SUMMARY = re.compile(rb"^SUMMARY(?:;[^:\r\n]*)?:(.*)\r\n((?: .*\r\n)*)", re.MULTILINE)
_CANCELLED = re.compile(rb"^STATUS:CANCELLED\r$", re.MULTILINE)


class Seen(NamedTuple):
    """One entry as a calendar shows it. first, last: its days, both of them within.

    begins, ends: the time of day on them; None for what takes whole days.
    """

    first: date
    last: date
    title: str
    begins: time | None = None
    ends: time | None = None


def entries_ahead(body: bytes, today: date, at_most: int, zone: tzinfo) -> tuple[tuple[Seen, ...], int]:
    """The next entries that are not over, earliest first, and how many there are in all. zone: of the reader.

    Only those are read whole that are among the next; of the others days, title and state are looked at, as a feed of
    1,000 entries took the better part of a second.
    """
    events: list[bytes] = _EVENT.findall(body)
    looked = [_glimpse(event, zone) for event in events]
    if any(each is None for each in looked):
        # Not as they are written here; then all of them are read.
        ahead = _ahead(events, today, zone)
        return tuple(ahead[:at_most]), len(ahead)
    there = [
        (glimpse.place, event)
        for glimpse, event in zip(looked, events, strict=True)
        if glimpse is not None and glimpse.last >= today and not _CANCELLED.search(event)
    ]
    places = sorted(place for place, _ in there)[:at_most]
    near = [(place, _title(event), event) for place, event in there if place <= places[-1]] if places else []
    # Those of one moment are put in order by their titles; in a large garage there may be hundreds.
    first = sorted(near, key=lambda each: each[:2])[:at_most]
    return tuple(_ahead([event for _, _, event in first], today, zone)), len(there)


class _Glimpse(NamedTuple):
    """When an entry begins, and its last day."""

    place: tuple[date, time]
    last: date


def _glimpse(event: bytes, zone: tzinfo) -> _Glimpse | None:
    """When an entry is, without reading the rest of it; None if its days are written in another way than here."""
    found = {name: (day, at) for name, day, at in _MOMENT.findall(event)}
    if b"DTSTART" not in found or len(found) != len(_ANY_MOMENT.findall(event)):
        return None
    day, at = found[b"DTSTART"]
    end_day, end_at = found.get(b"DTEND", (b"", b""))
    if day:
        first = _day(day)
        return _Glimpse((first, time()), _day(end_day) - timedelta(days=1) if end_day else first)
    if not end_at:
        return None
    begins = _local(at, zone)
    return _Glimpse((begins.date(), begins.time()), _local(end_at, zone).date())


def _title(event: bytes) -> str:
    """Its summary, unfolded and with its signs as they were (RFC 5545 3.1 and 3.3.11); empty without one."""
    found = _SUMMARY.search(event)
    if found is None:
        return ""
    text = (found[1] + found[2].removeprefix(b" ").replace(b"\r\n ", b"").removesuffix(b"\r\n")).decode()
    return str(unescape_backslash(text))


def _day(digits: bytes) -> date:
    return date(int(digits[:4]), int(digits[4:6]), int(digits[6:8]))


def _local(digits: bytes, zone: tzinfo) -> datetime:
    at = datetime.strptime(digits.decode(), "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
    return at.astimezone(zone)


def _ahead(events: Sequence[bytes], today: date, zone: tzinfo) -> list[Seen]:
    whole = b"".join((b"BEGIN:VCALENDAR\r\n", *events, b"END:VCALENDAR\r\n"))
    found = [
        seen
        for event in Calendar.from_ical(whole).walk("VEVENT")
        if (seen := _seen(event, zone)).last >= today and str(event.get("STATUS", "")) != "CANCELLED"
    ]
    return sorted(found, key=lambda seen: (seen.first, seen.begins or time(), seen.title))


def _seen(event: Any, zone: tzinfo) -> Seen:
    first = event.decoded("DTSTART")
    title = str(event.get("SUMMARY", ""))
    if isinstance(first, datetime):
        begins, ends = (event.decoded(name).astimezone(zone) for name in ("DTSTART", "DTEND"))
        return Seen(begins.date(), ends.date(), title, begins.time(), ends.time())
    # RFC 5545 3.6.1: the end of an all-day event is the day after its last; without one it lasts a day.
    return Seen(first, event.decoded("DTEND") - timedelta(days=1) if "DTEND" in event else first, title)
