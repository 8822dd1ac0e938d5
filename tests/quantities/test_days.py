"""Day spans and month arithmetic against published examples and a reference library."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.quantities import DateSpan, months_after

days = st.dates(date(1900, 1, 1), date(2200, 12, 31))
lengths = st.integers(1, 4000)
spans = st.builds(lambda first, length: DateSpan(first, first + timedelta(days=length)), days, lengths)


@pytest.mark.parametrize(
    ("anchor", "months", "expected"),
    [
        # python-dateutil, relativedelta: clamp to the month's length, count from the anchor.
        (date(2003, 1, 31), 1, date(2003, 2, 28)),
        (date(2004, 1, 31), 1, date(2004, 2, 29)),
        (date(2003, 1, 31), 2, date(2003, 3, 31)),
        # W3C XML Schema Part 2, Appendix E, example table: 2000-01 minus three months is 1999-10.
        (date(2000, 1, 1), -3, date(1999, 10, 1)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2026, 4, 14), 0, date(2026, 4, 14)),
        (date(2025, 11, 30), 3, date(2026, 2, 28)),
    ],
)
def test_months_are_added_with_the_day_clamped(anchor: date, months: int, expected: date) -> None:
    assert months_after(anchor, months) == expected


def test_the_order_of_days_and_months_matters() -> None:
    # W3C XML Schema Part 2, Appendix E (from memory): 2000-03-30 + P1D + P1M is 2000-04-30, the other way 2000-05-01.
    day = timedelta(days=1)
    assert months_after(date(2000, 3, 30) + day, 1) == date(2000, 4, 30)
    assert months_after(date(2000, 3, 30), 1) + day == date(2000, 5, 1)


def test_counting_from_the_anchor_differs_from_a_monthly_recurrence_rule() -> None:
    """RFC 5545 3.3.10 skips dates that do not exist (15 and 30 of each month from January 2007: none on 30 February).

    A service due "a month on" is never skipped, so its dates cannot go out as such a rule.
    """
    anchor = date(2007, 1, 30)
    by_month = [months_after(anchor, count) for count in range(3)]
    assert by_month == [date(2007, 1, 30), date(2007, 2, 28), date(2007, 3, 30)]
    # RFC 5545 3.8.5.3 p. 132 lists 15 Jan, 30 Jan, 15 Feb, 15 Mar, 30 Mar: of the 30ths, no February.
    of_the_rule = [date(2007, 1, 30), date(2007, 3, 30)]
    assert [day for day in by_month if day.day == 30] == of_the_rule
    assert set(by_month) - set(of_the_rule) == {date(2007, 2, 28)}


@given(days, st.integers(-1200, 1200))
def test_months_agree_with_the_reference_library(anchor: date, months: int) -> None:
    assert months_after(anchor, months) == anchor + relativedelta(months=months)


@given(days, st.integers(0, 600), st.integers(0, 600))
def test_more_months_are_never_earlier(anchor: date, fewer: int, more: int) -> None:
    low, high = sorted((fewer, more))
    assert months_after(anchor, low) <= months_after(anchor, high)


@given(days, days, st.integers(0, 600))
def test_a_later_anchor_is_never_due_earlier(one: date, other: date, months: int) -> None:
    low, high = sorted((one, other))
    assert months_after(low, months) <= months_after(high, months)


def test_past_the_calendar_it_says_so() -> None:
    with pytest.raises(OverflowError, match="outside the calendar"):
        months_after(date(9999, 12, 1), 1)
    with pytest.raises(OverflowError):
        months_after(date(1, 1, 31), -1)
    assert months_after(date(9998, 12, 31), 12) == date(9999, 12, 31)
    assert months_after(date(1, 2, 28), -1) == date(1, 1, 28)


@given(spans)
def test_a_span_holds_its_first_day_and_not_its_end(span: DateSpan) -> None:
    assert span.first in span
    assert span.last in span
    assert span.end not in span
    assert span.first - timedelta(days=1) not in span


@given(spans)
def test_a_span_counts_its_days(span: DateSpan) -> None:
    assert span.days == sum(1 for n in range(span.days + 2) if span.first + timedelta(days=n) in span)
    assert DateSpan.of_days(span.first, span.last) == span


@given(days, st.integers(-4000, 0))
def test_an_empty_span_is_refused(first: date, length: int) -> None:
    with pytest.raises(ValueError, match="ends after it begins"):
        DateSpan(first, first + timedelta(days=length))


@given(spans, spans)
def test_spans_overlap_if_they_share_a_day(one: DateSpan, other: DateSpan) -> None:
    later_first = max(one.first, other.first)
    assert one.overlaps(other) == (later_first in one and later_first in other)
    assert one.overlaps(other) == other.overlaps(one)


@given(spans)
def test_spans_that_touch_do_not_overlap(span: DateSpan) -> None:
    assert not span.overlaps(DateSpan(span.end, span.end + timedelta(days=1)))
    assert span.overlaps(DateSpan(span.last, span.end))
