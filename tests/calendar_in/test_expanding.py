"""From the bytes of a calendar to single times, in the right hour: reckoned by hand, and again by zoneinfo.

Denver is 7 hours behind UTC, from 8 March 2026 02:00 to 1 November 2026 02:00 only 6; Berlin is 1 hour ahead, from
29 March 2026 to 25 October 2026 it is 2. Source: IANA time zone database, files northamerica and europe.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.calendar_feed.render import PRODID
from fleetcare.calendar_in.content_lines import Refused
from fleetcare.calendar_in.expanding import expanded
from tests.calendar_in.texts import BERLIN_AS_RULES, calendar, event, task


def entries(*lines: str, zone: str = "America/Denver") -> list[dict[str, Any]]:
    """The entries of a calendar with these lines."""
    found = expanded(calendar(*lines), task(zone))
    assert found["notices"] == []
    return list(found["events"])


def times(*lines: str, zone: str = "America/Denver", title: str = "x") -> list[tuple[str, str, str, str]]:
    """First day, end day, beginning and end of each entry of one event."""
    found = entries(*event(*lines, title=title), zone=zone)
    return [(each["first"], each["end"], each["begins_at"], each["ends_at"]) for each in found]


def notices(*lines: str) -> list[str]:
    """What is said of a calendar with these lines."""
    return list(expanded(calendar(*lines), task())["notices"])


# Time zones


def test_a_floating_time_is_the_garages() -> None:
    """Ten in the morning in Denver in May is 16:00 UTC; in Berlin it is 08:00 UTC."""
    lines = ("DTSTART:20260501T100000", "DTEND:20260501T120000")
    assert times(*lines) == [("2026-05-01", "2026-05-02", "2026-05-01T16:00:00Z", "2026-05-01T18:00:00Z")]
    assert times(*lines, zone="Europe/Berlin")[0][2] == "2026-05-01T08:00:00Z"


def test_a_time_with_a_zone_keeps_its_moment_and_falls_on_the_garages_day() -> None:
    """Five in the morning of 2 May in Berlin is 03:00 UTC, which in Denver is nine in the evening of 1 May."""
    found = times("DTSTART;TZID=Europe/Berlin:20260502T050000", "DTEND;TZID=Europe/Berlin:20260502T060000")
    assert found == [("2026-05-01", "2026-05-02", "2026-05-02T03:00:00Z", "2026-05-02T04:00:00Z")]


def test_a_time_in_utc_falls_on_the_garages_day() -> None:
    """01:00 UTC is seven in the evening before in Denver; with 12 hours it reaches into the next day."""
    found = times("DTSTART:20260502T010000Z", "DURATION:PT12H")
    assert found == [("2026-05-01", "2026-05-03", "2026-05-02T01:00:00Z", "2026-05-02T13:00:00Z")]


def test_whole_days_are_the_same_days_everywhere() -> None:
    lines = ("DTSTART;VALUE=DATE:20260501", "DTEND;VALUE=DATE:20260504")
    for zone in ("America/Denver", "Europe/Berlin", "Pacific/Kiritimati"):
        assert entries(*event(*lines), zone=zone)[0]["begins_at"] is None
        assert times(*lines, zone=zone)[0][:2] == ("2026-05-01", "2026-05-04")
    assert times("DTSTART;VALUE=DATE:20260501")[0][:2] == ("2026-05-01", "2026-05-02"), "no end: one day"
    assert times("DTSTART;VALUE=DATE:20260501", "DTEND;VALUE=DATE:20260501")[0][:2] == ("2026-05-01", "2026-05-02")
    assert times("DTSTART;VALUE=DATE:20260501", "DURATION:P3D")[0][:2] == ("2026-05-01", "2026-05-04")


def test_midnight_to_midnight_is_one_day_and_not_two() -> None:
    assert times("DTSTART:20260501T000000", "DTEND:20260502T000000")[0][:2] == ("2026-05-01", "2026-05-02")


def test_a_zone_that_only_the_calendar_describes_is_taken_as_described() -> None:
    """The rules are those of Berlin: ten o'clock is 09:00 UTC on 20 March and 08:00 UTC on 3 April."""
    found = entries(
        *BERLIN_AS_RULES,
        *event("DTSTART;TZID=Garage clock:20260320T100000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=3"),
    )
    assert [each["begins_at"] for each in found] == [
        "2026-03-20T09:00:00Z",
        "2026-03-27T09:00:00Z",
        "2026-04-03T08:00:00Z",
    ]
    quoted = entries(*BERLIN_AS_RULES, *event('DTSTART;TZID="Garage clock":20260320T100000', "DURATION:PT1H"))
    assert quoted[0]["begins_at"] == "2026-03-20T09:00:00Z"


def test_a_zone_that_everybody_knows_is_not_what_a_calendar_makes_of_it() -> None:
    wrong = [line.replace("Garage clock", "Europe/Berlin").replace("+0200", "+0900") for line in BERLIN_AS_RULES]
    found = entries(*wrong, *event("DTSTART;TZID=Europe/Berlin:20260501T100000", "DURATION:PT1H"))
    assert found[0]["begins_at"] == "2026-05-01T08:00:00Z"


def test_the_names_that_one_widespread_program_gives_to_zones_are_known() -> None:
    found = times("DTSTART;TZID=W. Europe Standard Time:20260501T100000", "DURATION:PT1H")
    assert found[0][2] == "2026-05-01T08:00:00Z"


@pytest.mark.parametrize(
    "zone", ["Foo/Bar", "Europe", "localtime", "Factory", "../../etc/passwd", "x" * 300, "", "UTC+2"]
)
def test_a_zone_that_nobody_knows_is_said_and_the_time_taken_as_the_garages(zone: str) -> None:
    found = expanded(calendar(*event(f"DTSTART;TZID={zone}:20260501T100000", "DURATION:PT1H")), task())
    assert [each["begins_at"] for each in found["events"]] == ["2026-05-01T16:00:00Z"]
    assert ["no known time zone" in each for each in found["notices"]] == [True]


def test_a_weekly_event_keeps_its_hour_when_the_clocks_change() -> None:
    """Berlin, nine o'clock on Mondays: 08:00 UTC until 23 March 2026, 07:00 UTC from 30 March."""
    found = times("DTSTART;TZID=Europe/Berlin:20260316T090000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=4")
    assert [each[2][:16] for each in found] == [
        "2026-03-16T08:00",
        "2026-03-23T08:00",
        "2026-03-30T07:00",
        "2026-04-06T07:00",
    ]
    floating = times("DTSTART:20260302T090000", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=2")
    assert [each[2] for each in floating] == ["2026-03-02T16:00:00Z", "2026-03-09T15:00:00Z"], (
        "Denver changes on 8 March"
    )
    fixed = times("DTSTART:20260302T160000Z", "DURATION:PT1H", "RRULE:FREQ=WEEKLY;COUNT=2")
    assert [each[2] for each in fixed] == ["2026-03-02T16:00:00Z", "2026-03-09T16:00:00Z"]


def test_a_time_that_the_clock_jumps_over_counts_from_the_clock_before_the_jump() -> None:
    """RFC 5545, 3.3.5: 02:30 on 8 March 2026 in Denver is 02:30 at 7 hours behind, 09:30 UTC."""
    for start in ("DTSTART:20260308T023000", "DTSTART;TZID=America/Denver:20260308T023000"):
        assert times(start, "DURATION:PT1H")[0][2] == "2026-03-08T09:30:00Z"


def test_a_time_that_the_clock_shows_twice_is_the_first() -> None:
    """01:30 on 1 November 2026 in Denver is first 07:30 UTC, then 08:30 UTC."""
    for start in ("DTSTART:20261101T013000", "DTSTART;TZID=America/Denver:20261101T013000"):
        assert times(start, "DURATION:PT1H")[0][2] == "2026-11-01T07:30:00Z"


@settings(max_examples=60, deadline=None)
@given(
    st.datetimes(datetime(2026, 3, 1), datetime(2027, 4, 1)),  # noqa: DTZ001 - what a clock on the wall shows
    st.sampled_from(["Europe/Berlin", "America/Denver", "Australia/Lord_Howe", "Asia/Kathmandu", "Africa/Casablanca"]),
    st.sampled_from(["America/Denver", "Pacific/Kiritimati", "Europe/Berlin"]),
)
def test_every_wall_time_is_where_zoneinfo_puts_it(wall: datetime, zone: str, garage: str) -> None:
    wall = wall.replace(microsecond=0)
    found = times(f"DTSTART;TZID={zone}:{wall:%Y%m%dT%H%M%S}", "DURATION:PT90M", zone=garage)
    at = wall.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    begins_at = datetime.fromisoformat(found[0][2])
    assert begins_at == at
    assert found[0][0] == at.astimezone(ZoneInfo(garage)).date().isoformat()
    assert date.fromisoformat(found[0][1]) > at.astimezone(ZoneInfo(garage)).date()


# Repeats


def test_a_repeat_that_was_moved_keeps_its_id_and_one_that_was_taken_out_is_gone() -> None:
    series = event("DTSTART:20260504T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=4", "EXDATE:20260506T090000")
    before = entries(*series)
    assert [each["first"] for each in before] == ["2026-05-04", "2026-05-05", "2026-05-07"]
    moved = event("RECURRENCE-ID:20260505T090000", "DTSTART:20260520T150000", "DURATION:PT1H", "SEQUENCE:1")
    after = {each["id"]: each["first"] for each in entries(*series, *moved)}
    assert after == {before[0]["id"]: "2026-05-04", before[1]["id"]: "2026-05-20", before[2]["id"]: "2026-05-07"}


def test_every_entry_has_an_id_of_its_own_also_after_a_change_to_all_that_follow() -> None:
    series = event("DTSTART:20260504T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=6")
    later = event("RECURRENCE-ID;RANGE=THISANDFUTURE:20260506T090000", "DTSTART:20260506T110000", "DURATION:PT1H")
    found = entries(*series, *later)
    assert len(found) == 6
    assert len({each["id"] for each in found}) == 6


def test_a_single_cancelled_repeat_says_so() -> None:
    series = event("DTSTART:20260504T090000", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=2")
    off = event("RECURRENCE-ID:20260505T090000", "DTSTART:20260505T090000", "DURATION:PT1H", "STATUS:CANCELLED")
    assert [each["cancelled"] for each in entries(*series, *off)] == [False, True]


def test_an_event_keeps_its_id_when_it_is_moved_and_another_has_another() -> None:
    (one,) = entries(*event("DTSTART:20260504T090000", uid="a"))
    (moved,) = entries(*event("DTSTART:20260610T120000", uid="a", title="Other"))
    (other,) = entries(*event("DTSTART:20260504T090000", uid="b"))
    assert one["id"] == moved["id"] != other["id"]
    assert (one["single"], one["busy"]) == (True, False), "what takes no time keeps nobody busy"


def test_repeats_reach_from_years_back_into_the_days_looked_at_and_no_further() -> None:
    found = entries(*event("DTSTART;VALUE=DATE:20150105", "RRULE:FREQ=WEEKLY;BYDAY=MO"))
    assert (found[0]["first"], found[-1]["first"]) == ("2026-02-16", "2027-05-17")
    assert not any(each["single"] for each in found)
    assert all(date.fromisoformat(each["first"]).weekday() == 0 for each in found)


def test_an_event_that_began_before_the_days_looked_at_and_reaches_into_them_is_there() -> None:
    assert times("DTSTART;VALUE=DATE:20260101", "DTEND;VALUE=DATE:20260301")[0][:2] == ("2026-01-01", "2026-03-01")
    assert times("DTSTART;VALUE=DATE:20251201", "DTEND;VALUE=DATE:20260213") == []
    assert times("DTSTART;VALUE=DATE:20270518", "DTEND;VALUE=DATE:20270601") != []
    assert times("DTSTART;VALUE=DATE:20270519") == []


def test_it_is_said_how_far_back_a_calendar_shows_what_happened_once() -> None:
    found = expanded(
        calendar(
            *event("DTSTART;VALUE=DATE:20100101", "RRULE:FREQ=YEARLY", uid="a"),
            *event("DTSTART;VALUE=DATE:20190704", uid="b"),
            *event("DTSTART:20260504T090000", uid="c"),
        ),
        task(),
    )
    assert found["shown_from"] == "2019-07-04"
    assert [each["first"] for each in found["events"]] == ["2026-05-04", "2027-01-01"]


# What is left out, and what is refused


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("DTSTART:20269901T100000",), "cannot be read"),
        (("SUMMARY:only a name",), "cannot be read"),
        (("DTSTART:20260501T100000", "DTEND:20260501T090000"), "ends before it begins"),
        (("DTSTART;VALUE=DATE:20260501", "DTEND;VALUE=DATE:20280501"), "longer than a year"),
        (("DTSTART:20260501T100000", "DTEND:nonsense"), "cannot be read"),
        (("DTSTART:20260501T100000", "RRULE:FREQ=DAILY;INTERVAL=0"), "INTERVAL"),
        (("DTSTART:20260501T100000", "RRULE:garbage"), "cannot be read"),
        (("DTSTART:20260501T100000", "RRULE:FREQ=DAILY;UNTIL=garbage"), "cannot be read"),
        (("DTSTART:20260501T100000", "RRULE:FREQ=DAILY", "EXDATE:garbage"), "cannot be read"),
        (("DTSTART:20260501T000000", "RRULE:FREQ=DAILY;BYHOUR=1,2,3,4,5"), "more than 1000 times"),
    ],
)
def test_an_event_that_cannot_be_taken_is_named_and_its_neighbour_stays(lines: tuple[str, ...], words: str) -> None:
    found = expanded(calendar(*event(*lines, title="Odd"), *event("DTSTART;VALUE=DATE:20260501", uid="b")), task())
    assert [each["first"] for each in found["events"]] == ["2026-05-01"]
    assert [words in each and "“Odd”" in each for each in found["notices"]] == [True], found["notices"]


def test_a_feed_of_our_own_is_refused_because_its_trips_would_count_twice() -> None:
    raw = calendar(*event("DTSTART:20260501T100000")).replace(b"-//test//test//", PRODID.encode())
    with pytest.raises(Refused, match="fleetcare itself"):
        expanded(raw, task())


def test_many_notices_are_cut_short() -> None:
    odd = [line for n in range(50) for line in event("DTSTART:x", uid=f"u{n}")]
    assert len(notices(*odd)) == 21
    assert notices(*odd)[-1] == "and 30 more."


def test_what_a_calendar_holds_besides_is_passed_over() -> None:
    found = entries(
        *("X-WR-CALNAME:Anvil", "X-WR-TIMEZONE:Europe/Berlin", "METHOD:PUBLISH"),
        *("BEGIN:VTODO", "UID:t", "SUMMARY:Wash", "END:VTODO", "BEGIN:VJOURNAL", "UID:j", "END:VJOURNAL"),
        *event(
            *("DTSTART:20260501T100000", "DTEND:20260501T110000", "ATTENDEE:mailto:teo@x.example", "X-ODD;A=:::;"),
            *("BEGIN:VALARM", "ACTION:DISPLAY", "TRIGGER:-PT15M", "SUMMARY:Not this one", "END:VALARM"),
        ),
    )
    assert [(each["title"], each["begins_at"]) for each in found] == [("Ridge run", "2026-05-01T16:00:00Z")]


def test_long_lines_are_folded_and_texts_escaped_as_the_rules_say() -> None:
    text = event("DTSTART:20260501T100000", title="Lake\\, 900 km\\n towing", uid="x")
    raw = calendar(*text).replace(b"900 km", b"900\r\n  km").replace(b"DTSTART", b"DTST\r\n\tART")
    assert [each["title"] for each in expanded(raw, task())["events"]] == ["Lake, 900 km\n towing"]
    assert expanded(raw.replace(b"\r\n", b"\n"), task()) == expanded(raw, task())
    assert expanded(b"\xef\xbb\xbf" + raw, task()) == expanded(raw, task())


def test_a_text_in_another_charset_is_read_if_it_says_so() -> None:
    raw = calendar(*event("DTSTART:20260501T100000", title="Zürich")).decode().encode("cp1252")
    assert expanded(raw, task(charset="cp1252"))["events"][0]["title"] == "Zürich"
    with pytest.raises(Refused, match="utf-8"):
        expanded(raw, task())


@settings(max_examples=150, deadline=timedelta(seconds=20))
@given(st.binary(max_size=300), st.integers(0, 400), st.integers(0, 60))
def test_no_bytes_do_more_than_be_refused(noise: bytes, place: int, cut: int) -> None:
    """Noise in a good calendar, or in place of a part of it."""
    good = calendar(*BERLIN_AS_RULES, *event("DTSTART;TZID=Garage clock:20260501T100000", "RRULE:FREQ=WEEKLY;COUNT=3"))
    for raw in (noise, good[:place] + noise + good[place + cut :]):
        try:
            found = expanded(raw, task())
        except Refused:
            continue
        assert set(found) == {"events", "notices", "shown_from"}
