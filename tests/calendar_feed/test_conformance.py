"""Every point of the checklist holds on a nasty garage and on made ones, and every check catches what it is for."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import vobject
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream
from icalendar import Calendar

from fleetcare.calendar_feed.bay_entries import bay_taken
from fleetcare.calendar_feed.entries import busy_entries, feed_entries
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.due.outlook import Cause, ReadingWanted
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedChoice, WindowDate
from fleetcare.quantities import DateSpan
from fleetcare.work.record import Finding, WorkDone
from tests.calendar_feed.bay import ZONE, bay_entries_of, rich_bay_entries, visits
from tests.calendar_feed.checklist import CHECKS, LEAKED, TESTS, TWICE_DECODED
from tests.calendar_feed.garage import (
    ALARMS,
    EVERYTHING,
    INES,
    NAME,
    NASTY,
    TODAY,
    around,
    karst_ridge,
    karst_ridge_bookings,
    karst_ridge_work,
    line,
    outlook,
    raw,
    rich_entries,
    vehicle,
)
from tests.calendar_feed.raw_feed import RawFeed, parsed, unfolded, when

ROOT = Path(__file__).parents[2]
POINTS = [f"B{n:02}" for n in range(1, 9)] + [f"C{n:02}" for n in range(1, 12)] + [f"E{n:02}" for n in range(1, 25)]


def ordinary(text: str) -> bool:
    """What a check takes for a leak is one, unless a person typed it."""
    shown = one_line(text)
    return not TWICE_DECODED.search(shown) and not any(
        LEAKED.search(way) for way in (shown, shown.lower(), shown.capitalize())
    )


texts = st.one_of(st.text(max_size=40), st.sampled_from(NASTY)).filter(ordinary)
days = st.dates(TODAY - timedelta(days=900), TODAY + timedelta(days=1500))
spells = st.lists(
    st.builds(lambda first, length: DateSpan(first, first + timedelta(days=length)), days, st.integers(1, 40)),
    max_size=2,
    unique_by=lambda span: span.first,
)
keys = st.text(min_size=1, max_size=4).filter(ordinary)


@st.composite
def made_entries(draw: st.DrawFn) -> tuple[FeedEntry, ...]:
    """What a garage with made names and dates would show."""
    outlooks = []
    choice = FeedChoice(
        dates=tuple(draw(st.lists(st.sampled_from(WindowDate), min_size=1, unique=True))),
        alarms=tuple(draw(st.lists(st.sampled_from(ALARMS), unique=True))),
    )
    for mark in draw(st.lists(keys, unique=True, max_size=3)):
        lines = [
            line(
                mark,
                service,
                around(draw(days), draw(st.integers(0, 40)), draw(st.integers(0, 60))) if draw(st.booleans()) else None,
                component=component,
                component_title=draw(texts),
                short=draw(texts),
                title=draw(texts),
                cause=draw(st.sampled_from(Cause)),
                q_read=draw(st.none() | st.floats(-1, 5) | st.just(float("nan"))),
                last_done_on=draw(st.none() | days),
            )
            for component, service in draw(st.lists(st.tuples(keys, keys), unique=True, max_size=3))
        ]
        wanted = ReadingWanted(draw(keys), draw(days), draw(st.none() | days), None) if draw(st.booleans()) else None
        pace = draw(st.none() | st.floats())
        outlooks.append(
            outlook(
                vehicle(mark, draw(texts), laid_up=tuple(draw(spells))),
                *lines,
                wanted=wanted,
                pace_km_per_day=pace,
                readings_used=draw(st.integers(0, 9)),
                basis=draw(texts),
            )
        )
    marks = st.sampled_from([each.vehicle.mark for each in outlooks] + ["not shown"])
    bookings = [
        Booking(
            key,
            draw(texts),
            DateSpan.of_days(start := draw(days), start + timedelta(days=draw(st.integers(0, 30)))),
            tuple(draw(st.lists(marks, max_size=5))),
        )
        for key in draw(st.lists(keys, unique=True, max_size=3))
    ]
    work = [
        WorkDone(LineKey(draw(marks), "c", "s"), draw(days), findings=(Finding(draw(texts), draw(st.none() | days)),))
        for _ in range(draw(st.integers(0, 3)))
    ]
    return feed_entries(INES, outlooks=outlooks, bookings=bookings, work=work, today=TODAY, choice=choice)


FEEDS: dict[str, Callable[[], tuple[FeedEntry, ...]]] = {
    "ordinary": lambda: feed_entries(
        INES, outlooks=karst_ridge(), bookings=karst_ridge_bookings(), work=karst_ridge_work(), today=TODAY
    ),
    "nasty": rich_entries,
    "full": lambda: rich_entries(choice=EVERYTHING),
    "busy": lambda: busy_entries(
        vehicle("AN", "Anvil", laid_up=(DateSpan.of_days(TODAY, TODAY + timedelta(days=9)),)),
        "Anvil",
        karst_ridge_bookings(),
        today=TODAY,
        rules=FeedRules(),
    ),
    "bay": lambda: (*bay_entries_of(), *rich_bay_entries()),
    "bay taken": lambda: bay_taken(visits(), zone=ZONE, today=TODAY, rules=FeedRules()),
    "empty": lambda: feed_entries(INES, outlooks=(), bookings=(), work=(), today=TODAY),
}


def test_the_checklist_is_whole() -> None:
    """Every point has a test that is there, named after the point where it stands for one alone."""
    assert sorted(CHECKS) == sorted(POINTS)
    of_http, of_history = [f"H{n:02}" for n in range(1, 19)], [f"D{n:02}" for n in range(1, 6)]
    assert sorted(TESTS) == sorted([*POINTS, *of_http, *of_history, "P01", "P02", "P03", "P04", "LOG"])
    for name, place in TESTS.items():
        file, _, function = place.partition("::")
        tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
        assert function in {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}, place
        assert name in POINTS or name == "LOG" or name.lower() in function.split("_"), place


@pytest.mark.parametrize("kind", FEEDS)
@pytest.mark.parametrize("name", POINTS)
def test_a_hand_made_feed_keeps(name: str, kind: str) -> None:
    feed = raw(FEEDS[kind]())
    CHECKS[name](feed)


@pytest.mark.parametrize("calendar_name", NASTY)
def test_a_nasty_calendar_name_keeps_every_point(calendar_name: str) -> None:
    feed = raw(FEEDS["ordinary"](), name=calendar_name)
    shown = replace(feed, name=feed.calendar.one("NAME").text)
    assert len(shown.name) <= 60
    for name in POINTS:
        CHECKS[name](shown)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(made_entries())
def test_a_made_feed_keeps_every_point(entries: tuple[FeedEntry, ...]) -> None:
    feed = raw(entries)
    for name in POINTS:
        CHECKS[name](feed)
    agree_on(feed, entries)


# Every check has to be able to fail: here each gets a feed broken in just the way it is for.


def replaced(old: str, new: str, count: int = 1) -> Callable[[bytes], bytes]:
    def breaks(body: bytes) -> bytes:
        assert old.encode() in body, old
        return body.replace(old.encode(), new.encode(), count)

    return breaks


def resubbed(pattern: str, new: str) -> Callable[[bytes], bytes]:
    def breaks(body: bytes) -> bytes:
        broken, times = re.subn(pattern.encode(), new.encode(), body, count=1)
        assert times, pattern
        return broken

    return breaks


def alarmed(action: str, *triggers: str, times: int = 1) -> Callable[[bytes], bytes]:
    """The first event with an alarm for each of these triggers."""
    alarms = "".join(
        f"BEGIN:VALARM\r\n{action}\r\nDESCRIPTION:Raft: coupling past late\r\n{trigger}\r\nEND:VALARM\r\n"
        for trigger in triggers * times
    )
    return replaced("END:VEVENT", f"{alarms}END:VEVENT")


SECOND_STAMP = "DTSTAMP:20260414T063015Z\r\nDTSTAMP"
BREAKS: dict[str, list[Callable[[bytes], bytes]]] = {
    "B01": [
        lambda b: b"\xef\xbb\xbf" + b,
        lambda b: b.replace(b"Raft", b"R\xffft"),
        replaced("Raft", "RÃ¡ft"),
        replaced("Raft", "R\ufffd"),
    ],
    "B02": [lambda b: b" " + b, replaced("\r\n", "\n"), lambda b: b + b"\r\n", lambda b: b.removesuffix(b"\r\n")],
    "B03": [replaced("SUMMARY:", "SUMMARY:" + "x" * 70)],
    "B04": [lambda b: b.replace(b"SUMMARY:", b"SUMMARY:\xc3\r\n \xa9")],
    "B05": [replaced("BEGIN:VEVENT", "\r\nBEGIN:VEVENT"), replaced("SUMMARY:", "SUMMARY:\r\n ")],
    "B06": [replaced("SUMMARY:", "SUMMARY:\x07"), replaced("SUMMARY:", "SUMMARY:\u2028"), replaced("Raft", "R\x85")],
    "B07": [replaced("SUMMARY", "Summary"), replaced("END:VEVENT\r\n", ""), replaced("SUMMARY:", "SUMMARY ")],
    "B08": [lambda b: b + b"X" * 1_000_000],
    "C01": [replaced("VERSION:2.0", "VERSION:1.0"), replaced("PRODID:-//fleetcare//", "PRODID:-//fleetcare 1//")],
    "C02": [replaced("VERSION", "CALSCALE:JULIAN\r\nVERSION")],
    "C03": [replaced("VERSION", "METHOD:PUBLISH\r\nVERSION")],
    "C04": [replaced("X-WR-CALNAME:Karst", "X-WR-CALNAME:Harsh"), replaced("\r\nNAME:", "\r\nX-NAME:")],
    "C05": [replaced(";VALUE=DURATION", ""), replaced("TTL:PT6H", "TTL:PT7H"), replaced("PT6H", "PT6D", 2)],
    "C06": [replaced("VERSION", "COLOR:#ff0000\r\nVERSION")],
    "C07": [replaced("/vehicles/RA", "/feeds/abc.ics"), replaced("/vehicles/RA", "/?" + "k" * 43)],
    "C08": [lambda b: b.replace(b"VEVENT", b"VTODO")],
    "C09": [lambda b: re.sub(rb"(?s)BEGIN:VEVENT.*END:VEVENT\r\n", b"", b)],
    "C10": [replaced("PRODID", "NAME:two\r\nPRODID")],
    "C11": [replaced("VERSION", "UID:1\r\nVERSION")],
    "E01": [resubbed(r"UID:[^\r]*", "UID:no domain"), lambda b: re.sub(rb"UID:[^\r]*", b"UID:a@b", b)],
    "E02": [resubbed(r"UID:[^\r]*", "UID:raft-20260408@fleetcare")],
    "E03": [replaced("DTSTAMP:20260414", "DTSTAMP:20260415"), replaced("DTSTAMP", SECOND_STAMP)],
    "E04": [replaced("CREATED:20260414", "CREATED:20260415"), replaced("LAST-MODIFIED", "X-GONE")],
    "E05": [replaced("SEQUENCE:0", "SEQUENCE:-1"), replaced("SEQUENCE:0\r\n", "")],
    "E06": [replaced("DTSTART;VALUE=DATE:20260408", "DTSTART:20260408T000000")],
    "E07": [replaced("DTEND;VALUE=DATE:20260417", "DTEND;VALUE=DATE:20260408"), resubbed(r"DTEND[^\r]*\r\n", "")],
    "E08": [replaced("DTSTART;VALUE=DATE:20260408", "DTSTART:20260408T000000Z")],
    "E09": [resubbed(r"SUMMARY:[^\r]*", "SUMMARY:" + NAME), resubbed(r"SUMMARY:[^\r]*", "SUMMARY:")],
    "E10": [replaced("TRANSP:TRANSPARENT", "TRANSP:OPAQUE"), replaced("TRANSP:TRANSPARENT\r\n", "")],
    "E11": [replaced("CONFIRMED", "confirmed"), replaced("CONFIRMED", "CANCELLED")],
    "E12": [replaced("Raft", "None"), replaced("Raft", "<b>Raft</b>")],
    "E13": [replaced("URL:https://garage.example", "URL:"), replaced("/vehicles/RA", "/vehicles/é")],
    "E14": [replaced("CATEGORIES:past late\r\n", "")],
    "E15": [replaced("SUMMARY", "ORGANIZER:mailto:a@b.example\r\nSUMMARY")],
    "E16": [
        replaced("END:VEVENT", "BEGIN:VALARM\r\nEND:VALARM\r\nEND:VEVENT"),
        alarmed("ACTION:EMAIL", "TRIGGER:-PT15H"),
        alarmed("ACTION:DISPLAY", "TRIGGER:-PT15M"),
        alarmed("ACTION:DISPLAY", "TRIGGER:PT9H"),
        alarmed("ACTION:DISPLAY", "TRIGGER;VALUE=DATE-TIME:20260408T090000Z"),
        alarmed("ACTION:DISPLAY", "TRIGGER:-PT15H", times=2),
        alarmed("ACTION:DISPLAY", *(f"TRIGGER:-P{n}DT15H" for n in range(1, 5))),
    ],
    "E17": [replaced("SUMMARY", "RRULE:FREQ=DAILY\r\nSUMMARY")],
    "E18": [
        replaced("DTSTART;VALUE=DATE:2026", "DTSTART;VALUE=DATE:2024"),
        replaced("DTEND;VALUE=DATE:2026", "DTEND;VALUE=DATE:2029"),
    ],
    "E19": [replaced("DTSTART;VALUE=DATE:20260408", "DTSTART;VALUE=DATE:20260901")],
    "E20": [replaced("\\,", ","), replaced("SUMMARY:", "SUMMARY:\\:")],
    "E21": [
        lambda b: re.sub(rb"DTSTART[^\r]*", b"DTSTART;VALUE=DATE:20260408", re.sub(rb"SUMMARY.*", b"SUMMARY:x\r", b))
    ],
    "E22": [replaced("STATUS", "URL:https://a.example\r\nURL:https://b.example\r\nSTATUS")],
    "E23": [replaced("DTSTART;VALUE=DATE", "DTSTART;TZID=Europe/Berlin;VALUE=DATE")],
    "E24": [replaced("SUMMARY", "BEGIN:VALARM\r\nACTION:DISPLAY\r\nEND:VALARM\r\nSUMMARY")],
}


@pytest.mark.parametrize("name", POINTS)
def test_a_broken_feed_is_caught_by(name: str) -> None:
    feed = raw(FEEDS["ordinary"]())
    for breaks in BREAKS[name]:
        broken = replace(feed, body=breaks(feed.body))
        with pytest.raises((AssertionError, UnicodeDecodeError)):
            CHECKS[name](broken)


def test_b08_a_thousand_and_one_events_are_caught() -> None:
    feed = raw(FEEDS["ordinary"]())
    event = re.search(rb"(?s)BEGIN:VEVENT.*?END:VEVENT\r\n", feed.body)
    assert event
    many = feed.body.replace(b"END:VCALENDAR", event[0] * 1001 + b"END:VCALENDAR")
    with pytest.raises(AssertionError):
        CHECKS["B08"](replace(feed, body=many))


# P01 and P02: other programs read the same.

Facts = set[tuple[str, date | datetime, date | datetime, str]]


def by_hand(feed: RawFeed) -> Facts:
    return {
        (e.one("UID").value, when(e.one("DTSTART")), when(e.one("DTEND")), e.one("SUMMARY").text) for e in feed.events
    }


def by_vobject(body: bytes) -> Facts:
    calendar: Any = vobject.readOne(body.decode("utf-8"))
    return {(e.uid.value, e.dtstart.value, e.dtend.value, e.summary.value) for e in calendar.vevent_list}


def by_ical(body: bytes) -> Facts:
    calendar = IcsCalendarStream.calendar_from_ics(body.decode("utf-8"))
    found = set()
    for event in calendar.events:
        assert isinstance(event.dtstart, date)
        assert isinstance(event.dtend, date)
        found.add((str(event.uid), event.dtstart, event.dtend, str(event.summary)))
    return found


def by_icalendar(body: bytes) -> Facts:
    calendar = Calendar.from_ical(body)
    assert not calendar.errors
    events: list[Any] = calendar.walk("VEVENT")
    assert not any(event.errors for event in events)
    return {(str(e["uid"]), e["dtstart"].dt, e["dtend"].dt, str(e["summary"])) for e in events}


def agree_on(feed: RawFeed, entries: tuple[FeedEntry, ...]) -> None:
    """All readers find the entries that went in."""
    expected = by_hand(feed)
    assert {(first, end, title) for _, first, end, title in expected} >= {
        (*(entry.spell or (entry.days.first, entry.days.end)), entry.title) for entry in entries
    }
    assert len(expected) == len(entries)
    assert by_vobject(feed.body) == expected
    assert by_ical(feed.body) == expected


@pytest.mark.parametrize("kind", FEEDS)
def test_p01_vobject_agrees_on_every_uid_start_end_and_title(kind: str) -> None:
    feed = raw(FEEDS[kind]())
    assert by_vobject(feed.body) == by_hand(feed)


@pytest.mark.parametrize("kind", FEEDS)
def test_p02_a_second_parser_agrees_on_every_uid_start_end_and_title(kind: str) -> None:
    feed = raw(FEEDS[kind]())
    assert by_ical(feed.body) == by_hand(feed)


@pytest.mark.parametrize("kind", FEEDS)
def test_p03_the_writing_library_reads_back_what_went_in(kind: str) -> None:
    feed = raw(FEEDS[kind]())
    assert by_icalendar(feed.body) == by_hand(feed)


# The standards' own examples.


def test_the_folding_example_of_rfc_5545_3_1_is_read_as_one_line() -> None:
    folded = b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
    assert unfolded(folded) == ["DESCRIPTION:This is a long description that exists on a long line."]


def test_the_festival_of_rfc_5545_3_6_1_is_written_as_the_standard_has_it() -> None:
    """28 June to 8 July 2007 inclusive: DTEND is the 9th, since the end is not part of the event."""
    festival = FeedEntry(
        "festival",
        EntryKind.BOOKING,
        "Festival International de Jazz de Montreal",
        DateSpan.of_days(date(2007, 6, 28), date(2007, 7, 8)),
    )
    lines = raw((festival,)).logical
    assert {
        "DTSTART;VALUE=DATE:20070628",
        "DTEND;VALUE=DATE:20070709",
        "SUMMARY:Festival International de Jazz de Montreal",
        "TRANSP:TRANSPARENT",
    } <= set(lines)


def test_a_single_day_ends_on_the_next_as_rfc_5545_3_6_1_takes_it_without_an_end() -> None:
    """The anniversary of 3.6.1 (19971102, no DTEND) lasts one day; written out, that is 19971103."""
    day = FeedEntry(
        "day", EntryKind.DUE, "Our Blissful Anniversary", DateSpan.of_days(date(1997, 11, 2), date(1997, 11, 2))
    )
    assert {"DTSTART;VALUE=DATE:19971102", "DTEND;VALUE=DATE:19971103"} <= set(raw((day,)).logical)


def test_the_text_example_of_rfc_5545_3_3_11_is_escaped_as_printed() -> None:
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    entry = FeedEntry("t", EntryKind.DUE, "Review", DateSpan.of_days(TODAY, TODAY), text=text)
    feed = raw((entry,))
    assert r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared." in feed.logical
    assert feed.events[0].one("DESCRIPTION").text == text


def test_the_refresh_interval_has_the_form_of_rfc_7986_5_7() -> None:
    """The example there is REFRESH-INTERVAL;VALUE=DURATION:P1W."""
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT6H" in raw(FEEDS["empty"]()).logical


def test_the_hand_reader_refuses_blocks_that_do_not_close() -> None:
    with pytest.raises(AssertionError):
        parsed(["BEGIN:VCALENDAR", "BEGIN:VEVENT", "END:VCALENDAR"])
