"""When a calendar is read again, and whose time the copies speak of."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.fleet.busy import (
    LONGEST_WAIT,
    BusySpell,
    CalendarAnswer,
    CalendarCopy,
    CalendarEvent,
    CalendarOwner,
    CalendarSource,
    after_good,
    after_trouble,
    busy_spells,
    days_to_see,
    is_due,
    next_look_at,
    wants_whole,
)
from fleetcare.quantities import DateSpan

NOW = datetime(2026, 4, 14, 15, 0, tzinfo=UTC)
TODAY = date(2026, 4, 14)
HOUR = timedelta(hours=1)
NEW = CalendarSource("an", CalendarOwner.VEHICLE, "AN", "https://calendar.example/x")
DAY = CalendarEvent("a" * 32, DateSpan(TODAY, TODAY + timedelta(1)))
COPY = CalendarCopy(TODAY, days_to_see(TODAY), (DAY,))
ANSWER = CalendarAnswer(COPY, '"v1"', "Tue, 14 Apr 2026 10:00:00 GMT")


def test_a_new_calendar_is_read_at_once_and_then_after_its_time_and_a_fifth_at_most() -> None:
    assert is_due(NEW, HOUR, NOW)
    read = after_good(NEW, ANSWER, NOW)
    assert not is_due(read, HOUR, NOW + timedelta(minutes=59))
    assert is_due(read, HOUR, NOW + timedelta(minutes=72))


def test_after_failures_it_waits_twice_as_long_each_time_up_to_half_a_day() -> None:
    source, waits = NEW, []
    for _ in range(9):
        source = after_trouble(source, "It cannot be reached.", NOW)
        at = next_look_at(source, HOUR)
        assert at is not None
        waits.append((at - NOW) / next_share(source))
    hours = [round(wait / HOUR, 6) for wait in waits]
    assert hours == [2, 4, 8, 12, 12, 12, 12, 12, 12]
    daily = next_look_at(source, timedelta(days=1))
    assert daily is not None
    assert daily - NOW >= timedelta(days=1), "never sooner than it would be without failures"


def next_share(source: CalendarSource) -> float:
    """One and the part that is added for this calendar."""
    at = next_look_at(replace(source, failures=0), HOUR)
    assert at is not None
    return (at - NOW) / HOUR


@given(st.lists(st.text(min_size=1, max_size=8), min_size=1, max_size=20, unique=True))
def test_what_is_added_is_always_the_same_and_never_over_a_fifth(keys: list[str]) -> None:
    for key in keys:
        source = after_good(replace(NEW, key=key), ANSWER, NOW)
        share = next_share(source)
        assert 1 <= share <= 1.2
        assert share == next_share(source)


def test_many_calendars_are_not_asked_for_at_one_moment() -> None:
    moments = {next_look_at(after_good(replace(NEW, key=f"car-{n}"), ANSWER, NOW), HOUR) for n in range(50)}
    assert len(moments) == 50


def test_a_clock_that_was_set_back_makes_a_calendar_due_and_not_silent_for_a_year() -> None:
    read = after_good(NEW, ANSWER, NOW + timedelta(days=365))
    assert is_due(read, HOUR, NOW)


def test_trouble_leaves_the_last_good_copy_with_its_age_and_counts() -> None:
    good = after_good(NEW, ANSWER, NOW)
    bad = after_trouble(after_trouble(good, "one", NOW + HOUR), "two", NOW + 2 * HOUR)
    assert (bad.copy, bad.good_at, bad.etag) == (COPY, NOW, '"v1"')
    assert (bad.failures, bad.trouble, bad.tried_at) == (2, "two", NOW + 2 * HOUR)
    again = after_good(bad, CalendarAnswer(None, '"v1"'), NOW + 3 * HOUR)
    assert (again.copy, again.failures, again.trouble, again.good_at) == (COPY, 0, "", NOW + 3 * HOUR)


def test_a_copy_is_asked_for_whole_once_it_is_a_week_old_or_from_the_future() -> None:
    good = after_good(NEW, ANSWER, NOW)
    assert wants_whole(NEW, TODAY)
    assert [wants_whole(good, TODAY + timedelta(n)) for n in (-1, 0, 6, 7)] == [True, False, False, True]


def test_the_days_looked_at_reach_two_months_back_and_more_than_a_year_ahead() -> None:
    """14 April less 60 days is 13 February; and 400 days on is 19 May of the next year, the first day that is out."""
    assert days_to_see(TODAY) == DateSpan(date(2026, 2, 13), date(2027, 5, 19))
    assert timedelta(hours=12) == LONGEST_WAIT


def test_busy_spells_leave_out_what_is_free_or_cancelled_and_come_in_order() -> None:
    later = replace(DAY, id="b" * 32, days=DateSpan(date(2026, 5, 1), date(2026, 5, 3)))
    timed = replace(DAY, id="c" * 32, begins_at=NOW, ends_at=NOW + HOUR)
    events = (later, timed, replace(later, is_busy=False), replace(later, is_cancelled=True))
    anvil = replace(NEW, copy=replace(COPY, events=events))
    ines = replace(NEW, key="i", owner_kind=CalendarOwner.PERSON, owner="ines", copy=COPY)
    assert busy_spells([anvil, ines, replace(NEW, key="z")]) == (
        BusySpell(CalendarOwner.PERSON, "ines", DAY.days),
        BusySpell(CalendarOwner.VEHICLE, "AN", DAY.days, NOW, NOW + HOUR),
        BusySpell(CalendarOwner.VEHICLE, "AN", later.days),
    )
