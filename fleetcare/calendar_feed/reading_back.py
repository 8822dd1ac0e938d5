"""What a reader sees in a feed: its entries read back from the very bytes that are served."""

from __future__ import annotations

from datetime import date, timedelta
from typing import NamedTuple

from icalendar import Calendar


class Seen(NamedTuple):
    """One all-day entry as a calendar shows it. first, last: its days, both of them within."""

    first: date
    last: date
    title: str


def entries_ahead(body: bytes, today: date, at_most: int) -> tuple[tuple[Seen, ...], int]:
    """The next entries that are not over, earliest first, and how many there are in all."""
    found = []
    for event in Calendar.from_ical(body).walk("VEVENT"):
        first = event.decoded("DTSTART")
        # RFC 5545 3.6.1: the end of an all-day event is the day after its last; without one it lasts a day.
        last = event.decoded("DTEND") - timedelta(days=1) if "DTEND" in event else first
        if last >= today and str(event.get("STATUS", "")) != "CANCELLED":
            found.append(Seen(first, last, str(event.get("SUMMARY", ""))))
    found.sort(key=lambda seen: (seen.first, seen.title))
    return tuple(found[:at_most]), len(found)
