"""When letters are due: one name for each local week, whatever the clocks do."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo, available_timezones

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleetcare.digest.schedule import expires_at, garage_letter_period, reading_request_period
from fleetcare.digest.values import LetterKind
from fleetcare.due.outlook import ReadingWanted
from fleetcare.errors import BadInput
from fleetcare.fleet.people import Person
from tests.digest.karst_ridge import BELLOWS, TEO

HOUR = timedelta(hours=1)


def _reader(zone: str, weekday: int | None = 1, hour: int = 7) -> Person:
    return Person("teo", "Teo", "teo@garage.example", zone, letter_weekday=weekday, letter_hour=hour)


def _utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc,arg-type]


def test_the_period_begins_at_the_readers_own_hour() -> None:
    """7:00 on Tuesday 14 April 2026 is 5:00 UTC in Berlin; that week is ISO week 16."""
    berlin = _reader("Europe/Berlin")
    assert garage_letter_period(berlin, _utc(2026, 4, 14, 4, 59, 59)) == "2026-W15"
    assert garage_letter_period(berlin, _utc(2026, 4, 14, 5)) == "2026-W16"
    assert garage_letter_period(berlin, _utc(2026, 4, 21, 4, 59, 59)) == "2026-W16"
    assert garage_letter_period(_reader("Asia/Tokyo"), _utc(2026, 4, 13, 22)) == "2026-W16"


def test_weeks_are_named_as_iso_8601_does_across_the_new_year() -> None:
    """ISO 8601: 31 December 2024 lies in week 1 of 2025; 2020 and 2026 have 53 weeks."""
    assert garage_letter_period(_reader("UTC"), _utc(2024, 12, 31, 8)) == "2025-W01"
    assert garage_letter_period(_reader("UTC", weekday=4), _utc(2021, 1, 1, 8)) == "2020-W53"
    assert garage_letter_period(_reader("UTC", weekday=3), _utc(2026, 12, 31, 8)) == "2026-W53"


def test_who_wants_no_letters_has_no_period() -> None:
    assert garage_letter_period(_reader("UTC", weekday=None), _utc(2026, 4, 14, 8)) is None


def test_after_weeks_off_only_the_latest_period_is_named() -> None:
    before = garage_letter_period(TEO, _utc(2026, 3, 3, 12))
    after = garage_letter_period(TEO, _utc(2026, 4, 16, 12))
    assert (before, after) == ("2026-W10", "2026-W16")


def _wakes(first: datetime, last: datetime, step: timedelta = HOUR) -> Iterator[datetime]:
    while first < last:
        yield first
        first += step


def _offsets(zone: ZoneInfo, year: int) -> tuple[object, ...]:
    """Its clock changes in that year to the hour: what tells two zones apart here."""
    days = [_utc(year, 1, 1) + timedelta(days=n) for n in range(367)]
    found: list[object] = [days[0].astimezone(zone).utcoffset()]
    for day, after in pairwise(days):
        if day.astimezone(zone).utcoffset() != after.astimezone(zone).utcoffset():
            found += [(at, at.astimezone(zone).utcoffset()) for at in _wakes(day, after)]
    return tuple(found)


def _one_of_each_kind(year: int) -> list[str]:
    """One zone for each way clocks went in that year, out of all that are known."""
    kinds = {_offsets(ZoneInfo(name), year): name for name in sorted(available_timezones(), reverse=True)}
    return sorted(kinds.values())


YEARS = (2011, 2026)


@pytest.mark.parametrize("year", YEARS)
def test_in_every_zone_each_local_week_has_exactly_one_period(year: int) -> None:
    """Woken every three hours for a year, in a zone of every kind: one new name an ISO week, none missed or again."""
    zones = _one_of_each_kind(year)
    assert len(zones) > 60
    slots = ((0, 0), (6, 2), (4, 23), (5, 1))  # weekday and hour; clocks change at night, mostly on Sundays
    for number, name in enumerate(zones):
        weekday, hour = slots[number % len(slots)]
        _expect_each_week_once(_reader(name, weekday, hour), _utc(year, 1, 1), _utc(year + 1, 1, 1), timedelta(hours=3))


NIGHTS = [
    ("Pacific/Apia", (2011, 12, 20), range(7)),  # no 30 December
    ("Australia/Lord_Howe", (2026, 3, 30), (6,)),  # half an hour back on 5 April at 2:00
    ("Australia/Lord_Howe", (2026, 9, 28), (6,)),  # half an hour on, on 4 October at 2:00
    ("Africa/Casablanca", (2026, 2, 9), (6,)),  # an hour back for Ramadan
    ("Africa/Casablanca", (2026, 3, 16), (6,)),
    ("America/Havana", (2026, 3, 2), (6,)),  # no 0:00
    ("America/Havana", (2026, 10, 26), (6,)),  # 0:00 twice
    ("Asia/Beirut", (2026, 3, 23), (6,)),
    ("Africa/Cairo", (2026, 4, 20), (4,)),
    ("America/Santiago", (2026, 8, 31), (6,)),
    ("Antarctica/Troll", (2026, 10, 19), (6,)),  # two hours back
    ("Europe/Berlin", (2026, 3, 23), (6,)),
    ("America/New_York", (2026, 10, 26), (6,)),
    ("Pacific/Kwajalein", (1993, 8, 16), range(7)),  # no 21 August
    ("America/Juneau", (1867, 10, 10), range(7)),  # a day twice
]


@pytest.mark.parametrize(("zone", "start", "weekdays"), NIGHTS)
def test_nights_in_which_clocks_change(zone: str, start: tuple[int, int, int], weekdays: range) -> None:
    """Every quarter of an hour through three weeks, for each hour of the day."""
    for weekday in weekdays:
        for hour in (0, 1, 2, 3, 7, 23):
            first = _utc(*start)
            _expect_each_week_once(
                _reader(zone, weekday, hour), first, first + timedelta(days=21), timedelta(minutes=15)
            )


def _expect_each_week_once(reader: Person, first: datetime, last: datetime, step: timedelta) -> None:
    names = [garage_letter_period(reader, now) for now in _wakes(first, last, step)]
    begun = [name for at, name in enumerate(names) if at == 0 or name != names[at - 1]]
    again = [name for name, count in Counter(begun).items() if count > 1]
    assert not again, f"{reader.zone}: {again}"
    mondays = [date.fromisocalendar(int(str(name)[:4]), int(str(name)[6:]), 1) for name in begun]
    gaps = {after - before for before, after in pairwise(mondays)}
    assert gaps == {timedelta(days=7)}, reader.zone


def test_an_hour_that_is_left_out_counts_from_the_first_moment_after_it() -> None:
    """Berlin, 29 March 2026: 2:00 CET is 3:00 CEST (1:00 UTC). Apia: after 29 December 2011 24:00 comes 31 December."""
    berlin = _reader("Europe/Berlin", weekday=6, hour=2)
    assert garage_letter_period(berlin, _utc(2026, 3, 29, 0, 59, 59)) == "2026-W12"
    assert garage_letter_period(berlin, _utc(2026, 3, 29, 1)) == "2026-W13"
    apia = _reader("Pacific/Apia", weekday=4, hour=7)  # Friday 30 December 2011
    assert garage_letter_period(apia, _utc(2011, 12, 30, 9, 59, 59)) == "2011-W51"
    assert garage_letter_period(apia, _utc(2011, 12, 30, 10)) == "2011-W52"


def test_of_an_hour_that_comes_twice_the_first_counts() -> None:
    """Troll, 25 October 2026: 3:00 (UTC+2) is 1:00 (UTC), so 2:00 comes at 0:00 UTC and again at 2:00 UTC."""
    troll = _reader("Antarctica/Troll", weekday=6, hour=2)
    periods = [garage_letter_period(troll, _utc(2026, 10, 25, hour)) for hour in (0, 1, 2)]
    assert periods == ["2026-W43"] * 3
    assert garage_letter_period(troll, _utc(2026, 10, 24, 23, 59)) == "2026-W42"


@given(
    changes=st.lists(
        st.tuples(
            st.sampled_from(["Pacific/Apia", "UTC", "America/Los_Angeles", "Asia/Tokyo", "Australia/Lord_Howe"]),
            st.integers(0, 6),
            st.integers(0, 23),
        ),
        min_size=1,
        max_size=20,
    )
)
@settings(max_examples=60, deadline=None)
def test_who_changes_day_hour_or_zone_has_a_letter_for_each_week_at_most_once(
    changes: list[tuple[str, int, int]],
) -> None:
    """The ledger takes each name once, so it is enough that no name lies ahead of the reader's own week."""
    for at, (zone, weekday, hour) in enumerate(changes):
        now = _utc(2026, 3, 20) + timedelta(hours=17 * at)
        period = str(garage_letter_period(_reader(zone, weekday, hour), now))
        year, week, _ = now.astimezone(ZoneInfo(zone)).isocalendar()
        assert period <= f"{year}-W{week:02}"


def test_a_garage_letter_is_worth_sending_until_the_next_one_is_due() -> None:
    now = _utc(2026, 4, 14, 5)
    ends = expires_at(LetterKind.GARAGE, TEO, now)
    assert ends == _utc(2026, 4, 21, 5)
    assert garage_letter_period(TEO, ends - timedelta(seconds=1)) == garage_letter_period(TEO, now)
    assert garage_letter_period(TEO, ends) != garage_letter_period(TEO, now)
    assert expires_at(LetterKind.GARAGE, replace(TEO, letter_weekday=None), now) == now + timedelta(days=7)
    assert expires_at(LetterKind.COME_IN, TEO, now) == now + timedelta(minutes=15)
    assert expires_at(LetterKind.READING, TEO, _utc(2026, 1, 31, 8)) == _utc(2026, 2, 28, 6)


@settings(deadline=None)
@given(
    zone=st.sampled_from(sorted(available_timezones())),
    now=st.integers(0, 37 * 366 * 86400).map(lambda seconds: _utc(2000, 1, 1) + timedelta(seconds=seconds)),
    weekday=st.integers(0, 6),
    hour=st.integers(0, 23),
)
def test_a_period_ends_where_the_next_begins(zone: str, now: datetime, weekday: int, hour: int) -> None:
    reader = _reader(zone, weekday, hour)
    ends = expires_at(LetterKind.GARAGE, reader, now)
    assert now < ends <= now + timedelta(days=9)
    assert garage_letter_period(reader, ends - timedelta(seconds=1)) == garage_letter_period(reader, now)
    assert str(garage_letter_period(reader, ends)) > str(garage_letter_period(reader, now))


def _asked(since: date, now: datetime) -> str | None:
    return reading_request_period(replace(BELLOWS, wanted=ReadingWanted("odometer", since, None, None)), TEO, now)


@pytest.mark.parametrize(
    ("since", "now", "period"),
    [
        (date(2026, 4, 9), _utc(2026, 4, 8, 12), None),
        (date(2026, 4, 9), _utc(2026, 4, 9, 4, 59), None),  # 6:59 in Berlin
        (date(2026, 4, 9), _utc(2026, 4, 9, 5), "2026-04/BE"),
        (date(2026, 4, 9), _utc(2026, 4, 30, 12), "2026-04/BE"),
        (date(2026, 4, 30), _utc(2026, 5, 1, 12), "2026-04/BE"),  # not asked again a day later because a month began
        (date(2026, 4, 9), _utc(2026, 5, 9, 4, 59), "2026-04/BE"),
        (date(2026, 4, 9), _utc(2026, 5, 9, 5), "2026-05/BE"),
        (date(2026, 1, 31), _utc(2026, 2, 28, 12), "2026-02/BE"),  # clamped to the month
        (date(2026, 1, 31), _utc(2026, 3, 30, 12), "2026-02/BE"),  # counted from the first day, never chained
        (date(2026, 1, 31), _utc(2026, 3, 31, 12), "2026-03/BE"),
        (date(2025, 12, 15), _utc(2026, 1, 15, 12), "2026-01/BE"),
    ],
)
def test_a_reading_is_asked_for_once_a_month_from_the_day_it_is_wanted(
    since: date, now: datetime, period: str | None
) -> None:
    assert _asked(since, now) == period


def test_nobody_is_asked_who_wants_no_letters_or_whose_vehicle_was_read() -> None:
    now = _utc(2026, 4, 14, 12)
    assert reading_request_period(replace(BELLOWS, wanted=None), TEO, now) is None
    assert reading_request_period(BELLOWS, replace(TEO, letter_weekday=None), now) is None
    assert reading_request_period(BELLOWS, TEO, now) == "2026-04/BE"


@pytest.mark.parametrize("zone", ["Atlantis/Deep", "", "Europe", "../../etc/passwd", "A" * 5000, "x\0y"])
def test_a_zone_nobody_knows_is_bad_input(zone: str) -> None:
    with pytest.raises(BadInput, match="no time zone"):
        garage_letter_period(_reader(zone), _utc(2026, 4, 14, 12))
