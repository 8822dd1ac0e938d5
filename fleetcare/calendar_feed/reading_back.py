"""What a reader sees in a feed: its entries read back from the very bytes that are served."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

from icalendar import Calendar


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
    """The next entries that are not over, earliest first, and how many there are in all. zone: of the reader."""
    found = []
    for event in Calendar.from_ical(body).walk("VEVENT"):
        first = event.decoded("DTSTART")
        title = str(event.get("SUMMARY", ""))
        if isinstance(first, datetime):
            begins, ends = (event.decoded(name).astimezone(zone) for name in ("DTSTART", "DTEND"))
            seen = Seen(begins.date(), ends.date(), title, begins.time(), ends.time())
        else:
            # RFC 5545 3.6.1: the end of an all-day event is the day after its last; without one it lasts a day.
            seen = Seen(first, event.decoded("DTEND") - timedelta(days=1) if "DTEND" in event else first, title)
        if seen.last >= today and str(event.get("STATUS", "")) != "CANCELLED":
            found.append(seen)
    found.sort(key=lambda seen: (seen.first, seen.begins or time(), seen.title))
    return tuple(found[:at_most]), len(found)
