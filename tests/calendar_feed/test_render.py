"""The bytes are what the library would write, joined from stored parts, within the limits and with true validators."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from fleetcare.calendar_feed import render
from fleetcare.calendar_feed.publishing import Published
from fleetcare.calendar_feed.render import MOST_BYTES, MOST_EVENTS, event_bytes, feed_body, nearest
from fleetcare.calendar_feed.values import EntryKind, FeedEntry, PublishedEntry
from fleetcare.quantities import DateSpan
from tests.calendar_feed.garage import BASE, GARAGE_ID, NAME, NOW, TODAY, published, rich_entries, served
from tests.calendar_feed.raw_feed import parsed, unfolded

ROOT = Path(__file__).parents[2]


def entry(seed: str, offset: int = 0, length: int = 1, *, title: str = "", text: str = "") -> FeedEntry:
    first = TODAY + timedelta(days=offset)
    return FeedEntry(seed, EntryKind.BOOKING, title or seed, DateSpan(first, first + timedelta(days=length)), text=text)


def whole_calendar(entries: tuple[FeedEntry, ...], ledger: Published[PublishedEntry]) -> bytes:
    """The same components, written by the library in one go."""
    calendar = render._calendar(NAME)
    by_uid = {}
    for each in entries:
        (one,) = published((each,)).entries
        by_uid[one.uid] = each
    for known in ledger.current:
        each = by_uid[known.uid]
        url = f"{BASE}{each.path}" if each.path else ""
        calendar.add_component(
            render._event(
                each, uid=known.uid, url=url, sequence=0, created_at=known.created_at, modified_at=known.modified_at
            )
        )
    written: bytes = calendar.to_ical()
    return written


def test_the_joined_body_is_what_the_library_writes_in_one_go() -> None:
    entries = tuple(replace(each, window=None) for each in rich_entries())
    ledger = published(entries)
    cleaned = tuple(replace(each, text=parsed_text(ledger, each)) for each in entries)
    assert served(ledger).body == render._without_needless_folds(whole_calendar(cleaned, ledger))


def parsed_text(ledger: Published[PublishedEntry], each: FeedEntry) -> str:
    """The text as it went into the event."""
    (one,) = published((each,)).entries
    stored = next(known for known in ledger.entries if known.uid == one.uid)
    described = parsed(unfolded(stored.body)).all("DESCRIPTION")
    return described[0].text if described else ""


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=100), min_size=1, max_size=4)
)
def test_without_a_line_of_75_octets_the_library_is_followed_to_the_byte(titles: list[str]) -> None:
    entries = tuple(entry(f"s{n}", n, title=f"{n} {title}"[:100], text="x") for n, title in enumerate(titles))
    ledger = published(entries)
    (titles_in,) = ({parsed(unfolded(known.body)).one("SUMMARY").text for known in ledger.entries},)
    again = tuple(
        replace(each, title=next(title for title in titles_in if title.startswith(f"{n} ")))
        for n, each in enumerate(entries)
    )
    by_library = whole_calendar(again, ledger)
    lines = by_library.replace(b"\r\n ", b"").split(b"\r\n")
    if not any(len(each) == 75 for each in lines):
        assert served(ledger).body == by_library


@pytest.mark.parametrize("length", [73, 74, 75, 76, 149, 150])
def test_b05_a_line_that_fits_is_not_folded(length: int) -> None:
    """icalendar folds a line of exactly 75 octets; RFC 5545 3.1 lets it stand."""
    title = "x" * 20
    text = "y" * (length - len("DESCRIPTION:"))
    body = published((entry("s", title=title, text=text),)).entries[0].body
    physical = [each for each in body.split(b"\r\n") if each.startswith((b"DESCRIPTION", b" "))]
    assert (len(physical) == 1) == (length <= 75)
    assert max(map(len, physical)) <= 75


def test_a_backslash_before_a_capital_n_stays_one() -> None:
    """icalendar's vText takes it for a line break."""
    body = published((entry("s", title="C:\\New"),)).entries[0].body
    assert b"SUMMARY:C:\\\\New\r\n" in body
    (event,) = Calendar.from_ical(b"BEGIN:VCALENDAR\r\n" + body + b"END:VCALENDAR\r\n").walk("VEVENT")
    assert event["summary"] == "C:\\New"


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=120), st.text(max_size=400))
def test_what_was_written_is_read_back(title: str, text: str) -> None:
    from fleetcare.calendar_feed.plain_text import many_lines, one_line

    (known,) = published((entry("s", title=f"t{title}", text=text),)).entries
    event = parsed(unfolded(known.body))
    assert event.one("SUMMARY").text == one_line(f"t{title}")
    described = event.all("DESCRIPTION")
    assert (described[0].text if described else "") == many_lines(text)


def test_a_tentative_entry_says_so() -> None:
    (known,) = published((replace(entry("s"), tentative=True),)).entries
    assert b"\r\nSTATUS:TENTATIVE\r\n" in known.body


def test_an_unchanged_body_is_the_previous_one_itself() -> None:
    ledger = published(rich_entries())
    before = served(ledger)
    later = served(ledger, previous=before, now=NOW + timedelta(hours=6))
    assert later is before


def test_a_changed_body_has_another_tag_and_a_later_moment_even_if_the_clock_went_back() -> None:
    before = served(published((entry("a"),)))
    after = served(published((entry("a"), entry("b"))), previous=before, now=NOW - timedelta(days=3))
    assert after.etag != before.etag
    assert after.modified_at == before.modified_at + timedelta(seconds=1)
    assert before.modified_at == NOW.replace(microsecond=0)


def test_the_tag_can_stand_in_a_header() -> None:
    """RFC 9110 8.8.3: etagc."""
    etag = served(published((entry("a"),))).etag
    assert etag.isascii()
    assert etag.isalnum()


def test_withdrawn_entries_are_not_served() -> None:
    first = published((entry("a"), entry("b")))
    second = published((entry("b"),), first.entries, NOW + timedelta(days=1))
    assert served(second).body.count(b"BEGIN:VEVENT") == 1
    assert b"SUMMARY:a\r\n" not in served(second).body


def test_a_feed_without_entries_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        feed_body("ines", NAME, (), previous=None, now=NOW)


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="zone"):
        feed_body("ines", NAME, published((entry("a"),)).entries, previous=None, now=datetime(2026, 4, 14))  # noqa: DTZ001


def test_an_empty_calendar_name_still_stands() -> None:
    body = served(published((entry("a"),)), name=" \x00 ").body
    assert b"\r\nNAME:Garage\r\nX-WR-CALNAME:Garage\r\n" in body


def test_b08_of_too_many_events_the_nearest_to_today_stay_in_order() -> None:
    entries = tuple(entry(f"e{offset}", offset) for offset in range(-600, 601))
    ledger = published(entries)
    body = served(ledger).body
    starts = [line for line in body.split(b"\r\n") if line.startswith(b"DTSTART")]
    assert len(starts) == MOST_EVENTS
    assert starts == sorted(starts)
    kept = {f"e{offset}".encode() for offset in range(-499, 501)}
    assert {line.removeprefix(b"SUMMARY:") for line in body.split(b"\r\n") if line.startswith(b"SUMMARY")} == kept


def test_b08_of_too_many_bytes_the_nearest_to_today_stay() -> None:
    long = "\N{HAMMER AND WRENCH}" * 1400
    ledger = published(tuple(entry(f"e{offset}", offset, text=long) for offset in range(300)))
    body = served(ledger).body
    assert MOST_BYTES - 6500 < len(body) <= MOST_BYTES
    assert b"SUMMARY:e0\r\n" in body
    assert b"SUMMARY:e299\r\n" not in body


def test_a_bar_that_began_long_ago_and_holds_today_is_nearest() -> None:
    ledger = published((entry("bar", -300, 302), entry("yesterday", -1), entry("tomorrow", 1), entry("gone", -3, 2)))
    kept = nearest(ledger.current, today=TODAY, octets=10**6, most=2)
    assert [parsed(unfolded(each.body)).one("SUMMARY").text for each in kept] == ["bar", "tomorrow"]


def test_the_same_facts_give_the_same_bytes_in_every_process() -> None:
    """Three hash seeds, three orders of sets: one body."""
    script = (
        "import hashlib; from tests.calendar_feed.garage import *;"
        "print(hashlib.sha256(served(published(rich_entries())).body).hexdigest())"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", script],
            env={"PYTHONHASHSEED": seed, "PATH": "", "LANG": language},
            cwd=ROOT,
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed, language in (("1", "C"), ("2", "C.UTF-8"), ("3", "de_DE"))
    }
    assert len(found) == 1
    assert len(found.pop()) == 65


def test_the_library_is_not_loaded_before_something_is_published() -> None:
    script = (
        "import sys; import fleetcare.calendar_feed.values, fleetcare.calendar_feed.entries,"
        " fleetcare.calendar_feed.publishing, fleetcare.calendar_feed.render;"
        "print('icalendar' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], cwd=ROOT, check=True, capture_output=True, text=True)
    assert done.stdout == "False\n"


def test_an_event_is_ascii_safe_in_its_address() -> None:
    (known,) = published((replace(entry("s"), path="/vehicles/é\r\nX:1"),)).entries
    assert parsed(unfolded(known.body)).one("URL").value == f"{BASE}/vehicles/%C3%A9%0D%0AX%3A1"


def test_moments_are_written_in_utc() -> None:
    moment = datetime(2026, 4, 14, 6, 30, tzinfo=UTC)
    body = event_bytes(entry("s"), uid="u@d", url="", sequence=3, created_at=moment, modified_at=moment)
    assert b"\r\nCREATED:20260414T063000Z\r\n" in body
    assert b"\r\nSEQUENCE:3\r\n" in body
    assert GARAGE_ID.encode() not in body
