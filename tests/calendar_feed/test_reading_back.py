"""Whatever is left unread of a feed, what is ahead in it is what a whole reading finds."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import example, given
from hypothesis import strategies as st
from icalendar import Calendar, Parameters, vText
from icalendar.parser import Contentline

from fleetcare.calendar_feed.reading_back import entries_ahead

TODAY = date(2026, 4, 13)
DENVER = ZoneInfo("America/Denver")
BEGIN = datetime(2026, 4, 13, tzinfo=UTC)

hours = st.integers(-90, 90)
# With signs that a feed writes in another way, and so long that its line is folded.
titles = st.sampled_from(["a", "b", "a, b", "a-b", "a; b", "a\\b", "A b", "Ä" * 60, "Ä" * 60 + "b", "a " * 50])
events = st.tuples(hours, hours, st.sampled_from(["days", "day", "utc", "zone"]), st.booleans(), titles)
Event = tuple[int, int, str, bool, str]


def written(event: Event) -> str:
    one, other, how, is_cancelled, title = event
    first, last = (BEGIN + timedelta(hours=each) for each in sorted((one, other)))
    end = last + timedelta(days=1)
    moments = {
        "days": f"DTSTART;VALUE=DATE:{first:%Y%m%d}\r\nDTEND;VALUE=DATE:{end:%Y%m%d}\r\n",
        "day": f"DTSTART;VALUE=DATE:{first:%Y%m%d}\r\n",
        "utc": f"DTSTART:{first:%Y%m%dT%H%M%SZ}\r\nDTEND:{last:%Y%m%dT%H%M%SZ}\r\n",
        # No feed of ours has it; who reads the whole of it finds the same.
        "zone": f"DTSTART;TZID=America/Denver:{first:%Y%m%dT%H%M%S}\r\nDTEND:{end:%Y%m%dT%H%M%SZ}\r\n",
    }[how]
    alarm = "BEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:x\r\nTRIGGER:-PT1H\r\nEND:VALARM\r\n"
    state = "CANCELLED" if is_cancelled else "CONFIRMED"
    summary = Contentline.from_parts("SUMMARY", Parameters(), vText(f"{title}, and more")).to_ical().decode()
    body = f"DESCRIPTION:END:VEVENT\\nDTSTART:2026\r\n{moments}{summary}\r\nSTATUS:{state}\r\n{alarm}"
    return f"BEGIN:VEVENT\r\nUID:x\r\n{body}END:VEVENT\r\n"


def by_the_library(body: bytes) -> list[tuple[date, str]]:
    """Every entry that is not over, by first day: a second way, without a glimpse."""
    found = []
    for event in Calendar.from_ical(body).walk("VEVENT"):
        first = event.decoded("DTSTART")
        if isinstance(first, datetime):
            first, last = (event.decoded(name).astimezone(DENVER).date() for name in ("DTSTART", "DTEND"))
        else:
            last = event.decoded("DTEND") - timedelta(days=1) if "DTEND" in event else first
        if last >= TODAY and str(event["STATUS"]) != "CANCELLED":
            found.append((first, str(event["SUMMARY"])))
    return found


@given(st.lists(events, max_size=12), st.integers(0, 5))
@example([(0, 1, "utc", False, "b"), (0, 1, "utc", False, "a")], 1)
def test_what_is_ahead_is_what_a_whole_reading_finds(given_: list[Event], at_most: int) -> None:
    body = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\n" + "".join(map(written, given_)) + "END:VCALENDAR\r\n"
    ahead, in_all = entries_ahead(body.encode(), TODAY, at_most, DENVER)
    every, _ = entries_ahead(body.encode(), TODAY, len(given_), DENVER)
    assert sorted((seen.first, seen.title) for seen in every) == sorted(by_the_library(body.encode()))
    assert (ahead, in_all) == (every[:at_most], len(every))


@given(st.lists(titles, min_size=1, max_size=9), st.integers(1, 3))
def test_those_of_one_moment_come_by_their_titles(given_: list[str], at_most: int) -> None:
    on_one_day: list[Event] = [(0, 1, "day", False, title) for title in given_]
    body = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\n" + "".join(map(written, on_one_day)) + "END:VCALENDAR\r\n"
    ahead, _ = entries_ahead(body.encode(), TODAY, at_most, DENVER)
    assert [seen.title for seen in ahead] == sorted(f"{title}, and more" for title in given_)[:at_most]
