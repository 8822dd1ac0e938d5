"""What a subscribed calendar must keep to, point by point, judged on its bytes alone.

B: bytes, C: calendar, E: events. Every check raises AssertionError; `CHECKS` holds them by the name of their point.
Points about meetings, recurrences and time zones are checked by their absence: this feed has none of them. What cannot
be seen in one body (P: what other programs read, H: over HTTP, D: from one version to the next) has a test of its own;
`TESTS` says which test stands for which point, for all of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, timedelta

from tests.calendar_feed.raw_feed import RawFeed, day_of, duration_of, end_of, is_timed, moment_of, start_of

Check = Callable[[RawFeed], None]
CHECKS: dict[str, Check] = {}

ONCE_ON_A_CALENDAR = (
    *("PRODID", "VERSION", "CALSCALE", "METHOD", "UID", "LAST-MODIFIED", "URL", "REFRESH-INTERVAL", "SOURCE", "COLOR"),
    *("NAME", "X-WR-CALNAME", "X-PUBLISHED-TTL"),
)
ONCE_ON_AN_EVENT = (
    *("DTSTAMP", "UID", "DTSTART", "CLASS", "CREATED", "DESCRIPTION", "GEO", "LAST-MODIFIED", "LOCATION", "ORGANIZER"),
    *("PRIORITY", "SEQUENCE", "STATUS", "SUMMARY", "TRANSP", "URL", "RECURRENCE-ID", "DTEND", "DURATION"),
)
TEXTS = ("SUMMARY", "DESCRIPTION", "CATEGORIES", "NAME", "X-WR-CALNAME")
LEAKED = re.compile(r"\b(None|nan|NaN)\b|Decimal\(|datetime\.|object at 0x|&(amp|lt|gt|nbsp|#\d+);|</?(b|p|br|div|a)\b")

_BODY = "tests/calendar_feed/test_conformance.py::test_a_hand_made_feed_keeps"
_WEB = "tests/web/test_feeds.py::test_"
_HISTORY = "tests/calendar_feed/test_history.py::test_"
_READERS = "tests/calendar_feed/test_conformance.py::test_"
TESTS: dict[str, str] = {
    **{f"B{n:02}": _BODY for n in range(1, 9)},
    **{f"C{n:02}": _BODY for n in range(1, 12)},
    **{f"E{n:02}": _BODY for n in range(1, 25)},
    "P01": f"{_READERS}p01_vobject_agrees_on_every_uid_start_end_and_title",
    "P02": f"{_READERS}p02_a_second_parser_agrees_on_every_uid_start_end_and_title",
    "P03": f"{_READERS}p03_the_writing_library_reads_back_what_went_in",
    "P04": "tests/calendar_feed/test_subscribers.py::test_p04_a_subscriber_shows_every_entry_of_the_demo",
    "H01": f"{_WEB}h01_h02_a_feed_answers_with_a_calendar_and_no_redirect",
    "H02": f"{_WEB}h01_h02_a_feed_answers_with_a_calendar_and_no_redirect",
    "H03": f"{_WEB}h03_h04_the_same_state_gives_the_same_bytes_and_tag",
    "H04": f"{_WEB}h03_h04_the_same_state_gives_the_same_bytes_and_tag",
    "H05": f"{_WEB}h05_h06_a_reader_who_has_the_bytes_gets_an_empty_304",
    "H06": f"{_WEB}h05_h06_a_reader_who_has_the_bytes_gets_an_empty_304",
    "H07": f"{_WEB}h07_the_date_of_the_last_change_works_as_validator",
    "H08": f"{_WEB}h08_h18_head_answers_like_get_without_a_body",
    "H09": f"{_WEB}h09_compressed_only_if_asked",
    "H10": f"{_WEB}h10_h11_a_feed_says_nothing_of_itself_to_third_parties",
    "H11": f"{_WEB}h10_h11_a_feed_says_nothing_of_itself_to_third_parties",
    "H12": f"{_WEB}h12_the_key_is_long_and_names_nobody",
    "H13": f"{_WEB}h13_any_wrong_key_gets_one_and_the_same_short_404",
    "H14": f"{_WEB}h14_a_feed_can_only_be_read",
    "H15": f"{_WEB}h15_many_quick_polls_are_all_answered",
    "H16": f"{_WEB}h16_every_reader_gets_the_same_bytes",
    "H17": f"{_WEB}h17_robots_let_fetchers_in",
    "H18": f"{_WEB}h08_h18_head_answers_like_get_without_a_body",
    "LOG": "tests/web/test_health.py::test_no_key_gets_into_the_log",
    "D01": f"{_HISTORY}d01_unchanged_events_are_unchanged_to_the_byte",
    "D02": f"{_HISTORY}d02_changed_events_move_both_stamps_forward",
    "D03": f"{_HISTORY}d03_the_count_rises_with_dates_and_status_and_never_falls",
    "D04": f"{_HISTORY}d04_no_event_returns_under_a_new_uid",
    "D05": f"{_HISTORY}d05_no_reckoned_date_moves_by_less_than_the_calm_limit",
}
"""Every point with the test that stands for it; those of B, C and E run once for each point and each kind of feed."""

TWICE_DECODED = re.compile("Ã[\x80-\xbf]|â€")


def point(check: Check) -> Check:
    """Enters a check under the name of its point."""
    CHECKS[check.__name__.upper()] = check
    return check


@point
def b01(feed: RawFeed) -> None:
    """UTF-8 without byte-order mark and without U+FFFD. RFC 5545 3.1.4."""
    text = feed.body.decode("utf-8", "strict")
    assert "\ufeff" not in text
    assert "\ufffd" not in text
    assert not TWICE_DECODED.search(text)


@point
def b02(feed: RawFeed) -> None:
    """CRLF after every line, nothing before BEGIN and after END. RFC 5545 3.1."""
    assert feed.body.startswith(b"BEGIN:VCALENDAR\r\n")
    assert feed.body.endswith(b"\r\nEND:VCALENDAR\r\n")
    assert not re.search(rb"\r(?!\n)|(?<!\r)\n", feed.body)


@point
def b03(feed: RawFeed) -> None:
    """No line of more than 75 octets. RFC 5545 3.1."""
    assert max(map(len, feed.physical)) <= 75


@point
def b04(feed: RawFeed) -> None:
    """Each physical line is whole UTF-8 by itself. RFC 5545 3.1, note."""
    for line in feed.physical:
        line.decode("utf-8", "strict")


@point
def b05(feed: RawFeed) -> None:
    """No blank line, and no fold in a line that would have fitted. RFC 5545 3.1."""
    assert all(line.strip(b" \t") for line in feed.physical)
    for logical in re.split(rb"\r\n(?![ \t])", feed.body):
        if b"\r\n" in logical:
            assert len(re.sub(rb"\r\n[ \t]", b"", logical)) > 75, logical


@point
def b06(feed: RawFeed) -> None:
    """No control characters, and nothing else a program may take for a line's end. RFC 5545 3.3.11, 3.1 (CONTROL)."""
    for line in feed.logical:
        assert not re.search("[\x00-\x08\x0a-\x1f\x7f-\x9f\u2028\u2029]", line), repr(line)
        assert len(line.splitlines()) == 1, repr(line)


@point
def b07(feed: RawFeed) -> None:
    """Every unfolded line is a content line with an upper-case name; blocks nest and close. RFC 5545 3.1."""
    assert feed.calendar.kind == "VCALENDAR"


@point
def b08(feed: RawFeed) -> None:
    """At most 1 MB and 1000 events."""
    assert len(feed.body) <= 1_000_000
    assert len(feed.events) <= 1000


@point
def c01(feed: RawFeed) -> None:
    """One VCALENDAR; VERSION 2.0 and a constant PRODID once, properties first. RFC 5545 3.6, 3.7.3, 3.7.4."""
    assert feed.calendar.one("VERSION").value == "2.0"
    assert feed.calendar.one("PRODID").value == "-//fleetcare//calendar feed//EN"
    kinds = [hasattr(each, "kind") for each in feed.calendar.content]
    assert kinds == sorted(kinds)


@point
def c02(feed: RawFeed) -> None:
    """CALSCALE absent or GREGORIAN. RFC 5545 3.7.1."""
    assert [p.value for p in feed.calendar.all("CALSCALE")] in ([], ["GREGORIAN"])


@point
def c03(feed: RawFeed) -> None:
    """No METHOD: a snapshot without scheduling meaning. RFC 5545 3.7.2."""
    assert not feed.calendar.all("METHOD")


@point
def c04(feed: RawFeed) -> None:
    """NAME and X-WR-CALNAME hold the same escaped text. RFC 7986 5.1."""
    name, apple = feed.calendar.one("NAME"), feed.calendar.one("X-WR-CALNAME")
    assert name.value == apple.value
    assert name.text == feed.name


@point
def c05(feed: RawFeed) -> None:
    """REFRESH-INTERVAL;VALUE=DURATION and X-PUBLISHED-TTL alike, 15 minutes to a day. RFC 7986 5.7."""
    interval, ttl = feed.calendar.one("REFRESH-INTERVAL"), feed.calendar.one("X-PUBLISHED-TTL")
    assert interval.params == ";VALUE=DURATION"
    assert interval.value == ttl.value
    match = re.fullmatch(r"PT(\d+)H", interval.value)
    assert match
    assert timedelta(minutes=15) <= timedelta(hours=int(match[1])) <= timedelta(days=1)


@point
def c06(feed: RawFeed) -> None:
    """COLOR is a CSS3 name, never hex. RFC 7986 5.9."""
    assert all(re.fullmatch("[a-z]+", prop.value) for prop in feed.calendar.all("COLOR"))


@point
def c07(feed: RawFeed) -> None:
    """Nothing that looks like a secret address or a key."""
    text = "\n".join(feed.logical)
    assert not re.search(r"/feeds/|\.ics\b|/o/|webcal:", text)
    assert not any(
        re.search(r"[A-Za-z0-9_-]{43}", p.value) for p in feed.each_property() if p.name in {"URL", "SOURCE"}
    )
    assert not feed.calendar.all("SOURCE")


@point
def c08(feed: RawFeed) -> None:
    """Events only."""
    assert {block.kind for block in feed.calendar.blocks} <= {"VEVENT"}


@point
def c09(feed: RawFeed) -> None:
    """At least one component. RFC 5545 3.6."""
    assert feed.calendar.blocks


@point
def c10(feed: RawFeed) -> None:
    """Once-only calendar properties stand once. RFC 5545 3.6, RFC 7986 4."""
    assert all(len(feed.calendar.all(name)) <= 1 for name in ONCE_ON_A_CALENDAR)


@point
def c11(feed: RawFeed) -> None:
    """No UID on the calendar itself."""
    assert not feed.calendar.all("UID")


@point
def e01(feed: RawFeed) -> None:
    """UID once, unique, ASCII, something@domain. RFC 5545 3.8.4.7."""
    uids = [event.one("UID").value for event in feed.events]
    assert len(set(uids)) == len(uids)
    assert all(uid.isascii() and re.fullmatch(r"[\w.-]+@[\w.-]+", uid) for uid in uids)


@point
def e02(feed: RawFeed) -> None:
    """The UID is a UUID of version 5 and nothing else: no date, title or person can be read in it. RFC 9562 5.5."""
    shape = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}@fleetcare")
    assert all(shape.fullmatch(event.one("UID").value) for event in feed.events)


@point
def e03(feed: RawFeed) -> None:
    """DTSTAMP once, UTC, not in the future, equal to LAST-MODIFIED. RFC 5545 3.8.7.2."""
    for event in feed.events:
        stamp = moment_of(event.one("DTSTAMP"))
        assert stamp <= feed.now
        assert stamp == moment_of(event.one("LAST-MODIFIED"))


@point
def e04(feed: RawFeed) -> None:
    """LAST-MODIFIED once, UTC, not before CREATED. RFC 5545 3.8.7.3."""
    for event in feed.events:
        assert moment_of(event.one("CREATED")) <= moment_of(event.one("LAST-MODIFIED"))


@point
def e05(feed: RawFeed) -> None:
    """SEQUENCE, a count from 0, on every event. RFC 5545 3.8.7.4."""
    assert all(re.fullmatch(r"0|[1-9]\d*", event.one("SEQUENCE").value) for event in feed.events)


@point
def e06(feed: RawFeed) -> None:
    """DTSTART once, a DATE or an instant in UTC, never floating. RFC 5545 3.8.2.4."""
    for event in feed.events:
        start = event.one("DTSTART")
        assert start.params == ("" if is_timed(start) else ";VALUE=DATE")
        start_of(start)


@point
def e07(feed: RawFeed) -> None:
    """DTEND explicit, same type, exclusive, later. RFC 5545 3.6.1, 3.8.2.2."""
    for event in feed.events:
        assert event.one("DTEND").params == event.one("DTSTART").params
        start, end = event.one("DTSTART"), event.one("DTEND")
        assert moment_of(end) > moment_of(start) if is_timed(start) else day_of(end) > day_of(start)


@point
def e08(feed: RawFeed) -> None:
    """A whole day is VALUE=DATE, not midnight to midnight; only time in the bay has a clock."""
    for event in feed.events:
        if is_timed(event.one("DTSTART")):
            assert event.one("CATEGORIES").value in ("bay day", "standing", "busy")
            assert event.all("RELATED-TO") or event.one("CATEGORIES").value == "busy"
        else:
            assert "T" not in event.one("DTEND").value


@point
def e09(feed: RawFeed) -> None:
    """SUMMARY once, one line, 1 to 100 characters, without the calendar's name. RFC 5545 3.8.1.12."""
    for event in feed.events:
        title = event.one("SUMMARY").text
        assert 1 <= len(title) <= 100
        assert "\n" not in title
        assert feed.name not in title


@point
def e10(feed: RawFeed) -> None:
    """TRANSP stated; an all-day entry is TRANSPARENT, and only what takes time is OPAQUE. RFC 5545 3.8.2.7."""
    for event in feed.events:
        kind = event.one("CATEGORIES").value
        may_be = {"busy": {"OPAQUE"}, "bay day": {"OPAQUE", "TRANSPARENT"}}.get(kind, {"TRANSPARENT"})
        assert event.one("TRANSP").value in may_be
        assert not event.all("X-MICROSOFT-CDO-BUSYSTATUS")


@point
def e11(feed: RawFeed) -> None:
    """STATUS TENTATIVE or CONFIRMED; what is gone is dropped, not cancelled. RFC 5545 3.8.1.11."""
    assert {event.one("STATUS").value for event in feed.events} <= {"TENTATIVE", "CONFIRMED"}


@point
def e12(feed: RawFeed) -> None:
    """Plain texts: no HTML, entities, None, nan or reprs."""
    for prop in feed.each_property():
        if prop.name in TEXTS:
            assert not LEAKED.search(prop.text), prop.text


@point
def e13(feed: RawFeed) -> None:
    """URL absolute and ASCII. RFC 5545 3.8.4.6, RFC 3986."""
    shape = re.compile(r"https?://[!-~]+")
    assert all(shape.fullmatch(p.value) for event in feed.events for p in event.all("URL"))


@point
def e14(feed: RawFeed) -> None:
    """CATEGORIES on every event. RFC 5545 3.8.1.2."""
    assert all(event.one("CATEGORIES").value for event in feed.events)


@point
def e15(feed: RawFeed) -> None:
    """No ATTENDEE, no ORGANIZER. RFC 5546 3.2.1."""
    assert not {p.name for p in feed.each_property()} & {"ATTENDEE", "ORGANIZER"}


@point
def e16(feed: RawFeed) -> None:
    """Alarms: DISPLAY with one text, at most 3, no two alike, before the day, between 06:00 and 21:00. RFC 5545 3.6.6.

    On an all-day event TRIGGER counts from the reader's midnight (3.8.6.3).
    """
    for event in feed.events:
        assert {block.kind for block in event.blocks} <= {"VALARM"}
        triggers = [block.one("TRIGGER") for block in event.blocks]
        assert len(triggers) <= 3
        assert len({trigger.value for trigger in triggers}) == len(triggers)
        for alarm, trigger in zip(event.blocks, triggers, strict=True):
            assert alarm.one("ACTION").value == "DISPLAY"
            assert alarm.one("DESCRIPTION").text == event.one("SUMMARY").text
            assert {prop.name for prop in alarm.properties} == {"ACTION", "DESCRIPTION", "TRIGGER"}
            assert trigger.params == ""
            ring = duration_of(trigger.value)
            assert ring < timedelta(0)
            assert timedelta(hours=6) <= ring % timedelta(days=1) <= timedelta(hours=21)


@point
def e17(feed: RawFeed) -> None:
    """No recurrence: dates that follow distance do not recur. RFC 5545 3.8.5."""
    assert not {p.name for p in feed.each_property()} & {"RRULE", "RDATE", "EXDATE", "RECURRENCE-ID"}


@point
def e18(feed: RawFeed) -> None:
    """Within 400 days back and 800 ahead."""
    for event in feed.events:
        assert start_of(event.one("DTSTART")) >= feed.today - timedelta(days=400)
        assert end_of(event.one("DTEND")) <= feed.today + timedelta(days=800)


@point
def e19(feed: RawFeed) -> None:
    """Sorted by the day of the start, then UID."""
    places = [(event.one("DTSTART").value[:8], event.one("UID").value) for event in feed.events]
    assert places == sorted(places)


@point
def e20(feed: RawFeed) -> None:
    r"""TEXT escaped: `\\ \; \, \n`, nothing else, a colon not. RFC 5545 3.3.11."""
    for prop in feed.each_property():
        if prop.name in TEXTS:
            assert re.fullmatch(r"(?:[^\\;,]|\\[\\;,n])*", prop.value), prop.value


@point
def e21(feed: RawFeed) -> None:
    """No two events share start and title."""
    seen = [(event.one("DTSTART").value, event.one("SUMMARY").text) for event in feed.events]
    assert len(set(seen)) == len(seen)


@point
def e22(feed: RawFeed) -> None:
    """Once-only event properties stand once. RFC 5545 3.6.1."""
    assert all(len(event.all(name)) <= 1 for event in feed.events for name in ONCE_ON_AN_EVENT)


@point
def e23(feed: RawFeed) -> None:
    """No TZID: dates and UTC only. RFC 5545 3.2.19."""
    assert not any("TZID" in p.params for p in feed.each_property())
    for event in feed.events:
        assert moment_of(event.one("CREATED")).tzinfo is not None
        assert moment_of(event.one("CREATED")).astimezone(UTC).utcoffset() == timedelta(0)


@point
def e24(feed: RawFeed) -> None:
    """In each event, properties come before anything nested. RFC 5545 3.6.1."""
    for event in feed.events:
        kinds = [hasattr(each, "kind") for each in event.content]
        assert kinds == sorted(kinds)
