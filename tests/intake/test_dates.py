"""Days are taken where they can mean one day only."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.errors import BadInput
from fleetcare.intake.dates import instant_words, parse_day, parse_instant


@pytest.mark.parametrize(
    "typed",
    [
        "2026-03-31",
        " 2026-03-31 ",
        "31.3.2026",
        "31.03.2026",
        "31. 3. 2026",
        "31 March 2026",
        "31 march 2026",
        "31. March 2026",
        "31 Mar 2026",
        "31 Mar. 2026",
    ],
)
def test_a_day_is_read_in_each_form_that_means_one_day(typed: str) -> None:
    assert parse_day(typed) == date(2026, 3, 31)


def test_september_has_two_short_forms() -> None:
    assert parse_day("1 Sep 2026") == parse_day("1 Sept 2026") == date(2026, 9, 1)


@pytest.mark.parametrize(
    ("typed", "remedy"),
    [
        ("3/4/2026", "Write 2026-03-04 or 2026-04-03: year, month, day."),
        ("3-4-2026", "Write 2026-03-04 or 2026-04-03: year, month, day."),
        ("31/3/2026", "Write 2026-03-31."),
        ("3/31/2026", "Write 2026-03-31."),
        ("4/4/2026", "Write 2026-04-04."),
        ("30.2.2026", "February 2026 has 28 days."),
        ("2026-02-29", "February 2026 has 28 days."),
        ("2026-03-31T00:00:00", "Write the day alone: 2026-03-31."),
        ("2026-03-31 00:00:00", "Write the day alone: 2026-03-31."),
    ],
)
def test_a_day_that_is_refused_comes_with_what_to_write(typed: str, remedy: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_day(typed)
    assert caught.value.remedy == remedy


@pytest.mark.parametrize(
    "typed",
    [
        "",
        "yesterday",
        "2026-3-31",
        "26-03-31",
        "31.3.26",
        "20260331",
        "2026-13-01",
        "2026-00-10",
        "2026-01-00",
        "0026-03-31",
        "9999-12-31",
        "1906070400",
        "0",
        "true",
        "٢٠٢٦-٠٣-٣١",
        "２０２６-０３-３１",
        "2026-W14-2",
        "2026-091",
        "31 Smarch 2026",
        "32 March 2026",
        "2026-03-31\0",
        "2026-03-31" * 50,
        "=DATE(2026;3;31)",
    ],
)
def test_what_is_no_day_is_refused(typed: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_day(typed)
    assert caught.value.remedy
    assert len(str(caught.value)) < 200


def test_leap_days_are_those_of_the_gregorian_calendar() -> None:
    """Source: ISO 8601, leap year: divisible by four, centuries by 400."""
    assert parse_day("2000-02-29") == date(2000, 2, 29)
    assert parse_day("29.2.2024") == date(2024, 2, 29)
    for typed in ("1900-02-29", "2100-02-29", "29.2.2023"):
        with pytest.raises(BadInput):
            parse_day(typed)


@given(st.dates(date(1900, 1, 1), date(2199, 12, 31)))
def test_every_day_is_read_back_in_every_form(day: date) -> None:
    assert parse_day(day.isoformat()) == day
    assert parse_day(f"{day.day}.{day.month}.{day.year}") == day
    assert parse_day(f"{day:%d %B %Y}") == day


@given(st.text(max_size=24))
def test_whatever_is_typed_is_a_day_or_refused(typed: str) -> None:
    try:
        day = parse_day(typed)
    except BadInput:
        return
    assert 1900 <= day.year <= 2199
    assert str(day.year) in typed


def test_an_instant_has_its_offset_and_comes_out_in_utc() -> None:
    """Source: RFC 3339, 5.8: 1996-12-19T16:39:57-08:00 is 1996-12-20T00:39:57Z."""
    assert parse_instant("1996-12-19T16:39:57-08:00") == datetime(1996, 12, 20, 0, 39, 57, tzinfo=UTC)
    for typed in ("2026-03-31", "2026-03-31T07:00:00", "2026-03-31T25:00:00Z", "0001-01-01T00:00:00+10:00", "now"):
        with pytest.raises(BadInput):
            parse_instant(typed)


@given(st.datetimes(datetime(1900, 1, 2), datetime(2199, 12, 30), timezones=st.just(UTC)))  # noqa: DTZ001
def test_an_instant_is_read_back(instant: datetime) -> None:
    assert parse_instant(instant_words(instant)) == instant
