"""Published dates move when the news is worth it, and never by a day or two."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.calm import CALM_DAYS, calm_day, calm_days, calm_window
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.quantities import DateSpan

TODAY = date(2026, 4, 14)
days = st.dates(TODAY - timedelta(days=500), TODAY + timedelta(days=900))


def on(offset: int) -> date:
    return TODAY + timedelta(days=offset)


@given(days, days)
def test_a_day_moves_by_three_days_at_least_or_not_at_all(published: date, reckoned: date) -> None:
    moved = calm_day(published, reckoned, today=TODAY)
    assert moved == published or (moved == reckoned and abs((moved - published).days) >= CALM_DAYS)


@given(days, days)
def test_a_published_day_never_lies_three_days_after_the_reckoned_one(published: date, reckoned: date) -> None:
    assert (calm_day(published, reckoned, today=TODAY) - reckoned).days < CALM_DAYS


def test_later_counts_only_if_it_is_a_tenth_of_the_time_left() -> None:
    assert calm_day(on(100), on(109), today=TODAY) == on(100)
    assert calm_day(on(100), on(110), today=TODAY) == on(110)
    assert calm_day(on(10), on(12), today=TODAY) == on(10)
    assert calm_day(on(10), on(13), today=TODAY) == on(13)


def test_earlier_by_three_days_counts_at_once() -> None:
    assert calm_day(on(100), on(98), today=TODAY) == on(100)
    assert calm_day(on(100), on(97), today=TODAY) == on(97)


@given(st.lists(days, min_size=3, max_size=3), st.lists(days, min_size=3, max_size=3))
def test_the_three_dates_stay_in_order(published: list[date], reckoned: list[date]) -> None:
    """DueWindow refuses dates that are not in order; the cause is the newer one."""
    (early, likely, late), (new_early, new_likely, new_late) = sorted(published), sorted(reckoned)
    old = DueWindow(early, likely, late, Cause.DATE)
    new = DueWindow(new_early, new_likely, new_late, Cause.DISTANCE)
    calm = calm_window(old, new, today=TODAY)
    assert calm.cause is Cause.DISTANCE
    assert calm.likely in (likely, new_likely)


@given(days, st.integers(1, 60), days, st.integers(1, 60))
def test_a_bar_that_holds_today_goes_on_holding_it(first: date, length: int, new: date, new_length: int) -> None:
    old = DateSpan(first, first + timedelta(days=length))
    reckoned = DateSpan(new, new + timedelta(days=new_length))
    if TODAY in reckoned:
        assert TODAY in calm_days(old, reckoned, today=TODAY)
    if reckoned.days == 1:
        assert calm_days(old, reckoned, today=TODAY).days == 1
