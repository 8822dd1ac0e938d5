"""Numbers, days and the text gauge say what they should."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare import wording

TODAY = date(2026, 4, 14)

# The three strings are worked examples of the gauge, from share by reading, share today, share a day and the days to
# the early and late date.
GAUGES = [
    (0.6022, 0.7573, 0.004698, 40, 70, "(============~~~....///..)"),
    (0.8925, 0.8925, 0.005476, -1, 41, "(==================////..)"),
    (1.0541, 1.0541, 0.002738, -34, -6, "(===================##!..)"),
]


@pytest.mark.parametrize(("read", "now", "per_day", "early", "late", "gauge"), GAUGES)
def test_text_gauge_gives_the_worked_examples(
    read: float, now: float, per_day: float, early: int, late: int, gauge: str
) -> None:
    assert wording.text_gauge(read, now, now + per_day * early, now + per_day * late) == gauge


def test_text_gauge_without_a_date_marks_the_whole_interval() -> None:
    # Six cells have their middle at or under .3; the cell from 100 to 105 % is the 21st.
    assert wording.text_gauge(0.3, 0.3) == "(======............../...)"
    assert wording.text_gauge(None, None) == "(..................../...)"


def test_text_gauge_off_the_rod_ends_in_the_last_cell() -> None:
    # Middles up to .925 are worn by reading, .975 and 1.025 lie in the zone, the three after it are past late.
    assert wording.text_gauge(1.1, 1.4, 0.95, 1.05) == "(===================##!!!)"


@given(st.floats(0, 2), st.floats(0, 1), st.floats(0.0001, 0.1), st.integers(-400, 400), st.integers(0, 400))
def test_text_gauge_is_24_cells_and_says_past_late_exactly_when_it_is(
    read: float, more: float, per_day: float, early: int, length: int
) -> None:
    now = read + more
    late = early + length
    gauge = wording.text_gauge(read, now, now + per_day * early, now + per_day * late)
    assert len(gauge) == 26
    assert ("!" in gauge) == (now > now + per_day * late)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (999, "999"),
        (1000, "1 000"),
        (84210, "84 210"),
        (1234567, "1 234 567"),
        (Decimal("1204.5"), "1 204.5"),
        (Decimal("84210.0"), "84 210"),
        (2.25, "2.3"),
        (-35155, "−35 155"),
        (-0.01, "0"),
    ],
)
def test_numbers_are_grouped_with_thin_spaces_from_a_thousand_up(value: float | Decimal, text: str) -> None:
    assert wording.grouped(value) == text.replace(" ", "\u2009")


@given(st.integers(-(10**9), 10**9))
def test_grouping_loses_no_digit(value: int) -> None:
    assert int(wording.grouped(value).replace("\u2009", "").replace("\u2212", "-")) == value


def test_days_name_the_year_only_when_it_is_not_this_one() -> None:
    assert wording.day_words(date(2026, 4, 25), TODAY) == "25 April"
    assert wording.day_words(date(2027, 4, 25), TODAY) == "25 April 2027"
    assert wording.day_strip(date(2026, 4, 25), TODAY) == "Sat 25 Apr"
    assert wording.day_short(date(2025, 12, 1), TODAY) == "1 Dec 2025"
    assert wording.weekday_words(date(2026, 4, 14), TODAY) == "Tuesday 14 April"
    assert wording.day_in_head(TODAY) == "Tue 14 Apr 2026"
    assert wording.month_words(date(2027, 6, 1), TODAY) == "June 2027"


def test_spans_are_hours_and_minutes() -> None:
    assert [wording.span_words(minutes) for minutes in (40, 120, 125, 220)] == ["40 min", "2 h", "2 h 05", "3 h 40"]
    with pytest.raises(ValueError, match="not negative"):
        wording.span_words(-1)


def test_lists_counts_and_chances_read_like_sentences() -> None:
    assert wording.joined(["Anvil"]) == "Anvil"
    assert wording.joined(["Anvil", "Raft", "Plank"]) == "Anvil, Raft and Plank"
    assert wording.joined([]) == ""
    assert wording.counted(1, "day") == "1 day"
    assert wording.counted(6, "day") == "6 days"
    assert wording.counted_words(0, "window") == "no windows"
    assert wording.counted_words(2, "window") == "two windows"
    assert wording.chance_words(0.7) == "7 in 10"
    assert wording.chance_words(0.99) == "more than 9 in 10"
    assert wording.place_words(1) == "second"
    assert wording.place_words(11) == "12th"
    assert wording.place_words(20) == "21st"
    assert wording.parts_words([("towing", 3), ("track", 0), ("daily", 1)]) == "towing 3 : daily 1"
    assert wording.parts_words([("towing", 3)]) == "all towing"
    assert wording.of_vehicle("Bellows") == "Bellows’"
    assert wording.of_person("Ines") == "Ines’s"
    assert wording.percent(0.9748) == 97
    assert wording.percent(0.985) == 99


@pytest.mark.parametrize(
    ("amount", "unit", "words"),
    [
        ("2.60", "L", "2.6 L"),
        ("1", "tubes", "1 tube"),
        ("2", "tubes", "2 tubes"),
        ("0.25", "L", "0.25 L"),
        ("1.8927", "L", "1.893 L"),
        ("1E+3", "mL", "1000 mL"),
        ("1", "L", "1 L"),
    ],
)
def test_a_quantity_is_told_with_its_unit(amount: str, unit: str, words: str) -> None:
    assert wording.quantity_words(Decimal(amount), unit) == words
