"""Published dates move when the news is worth it, and never by a day or two."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.calendar_feed.calm import Shown, calm_day, calm_window, shown_lines
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.errors import BadSettings
from fleetcare.fleet.component import LineKey
from tests.calendar_feed.garage import line, outlook, vehicle

TODAY = date(2026, 4, 14)
RULES = FeedRules()
KEY = LineKey("AN", "engine", "oil")
days = st.dates(TODAY - timedelta(days=500), TODAY + timedelta(days=900))


def on(offset: int) -> date:
    return TODAY + timedelta(days=offset)


def calm(published: date, reckoned: date, rules: FeedRules = RULES) -> date:
    return calm_day(published, reckoned, today=TODAY, rules=rules)


def window(likely: int, before: int = 12, after: int = 20) -> tuple[date, date, date]:
    return on(likely - before), on(likely), on(likely + after)


def said(before: dict[LineKey, Shown], likely: int, *, worn: float = 0.63, pace: float = 46.5) -> dict[LineKey, Shown]:
    """What calendars say next of a line that is reckoned so."""
    of = outlook(vehicle("AN", "Anvil"), line("AN", "oil", window(likely), q_read=worn), pace_km_per_day=pace)
    return shown_lines(before, (of,), today=TODAY, rules=RULES)


@given(days, days)
def test_a_day_moves_by_three_days_at_least_or_not_at_all(published: date, reckoned: date) -> None:
    moved = calm(published, reckoned)
    assert moved == published or (moved == reckoned and abs((moved - published).days) >= 3)


@given(days, days)
def test_a_published_day_never_lies_three_days_after_the_reckoned_one(published: date, reckoned: date) -> None:
    assert (calm(published, reckoned) - reckoned).days < 3


def test_later_counts_only_if_it_is_a_tenth_of_the_time_left() -> None:
    assert calm(on(100), on(109)) == on(100)
    assert calm(on(100), on(110)) == on(110)
    assert calm(on(10), on(12)) == on(10)
    assert calm(on(10), on(13)) == on(13)


def test_what_is_near_moves_by_three_days_whatever_the_share() -> None:
    half = replace(RULES, calm_share=0.5)
    assert calm(on(14), on(17), half) == on(17)
    assert calm(on(15), on(18), half) == on(15)


def test_earlier_by_three_days_counts_at_once() -> None:
    assert calm(on(100), on(98)) == on(100)
    assert calm(on(100), on(97)) == on(97)


@given(st.lists(days, min_size=3, max_size=3), st.lists(days, min_size=3, max_size=3))
def test_the_three_dates_stay_in_order(published: list[date], reckoned: list[date]) -> None:
    """DueWindow refuses dates that are not in order; the cause is the newer one."""
    (early, likely, late), (new_early, new_likely, new_late) = sorted(published), sorted(reckoned)
    old = DueWindow(early, likely, late, Cause.DATE)
    new = DueWindow(new_early, new_likely, new_late, Cause.DISTANCE)
    calmed = calm_window(old, new, today=TODAY, rules=RULES)
    assert calmed.cause is Cause.DISTANCE
    assert calmed.likely in (likely, new_likely)
    # Early and likely by three days or not at all, whatever pushed them; none of the three lies far too late.
    for was, now in ((early, calmed.early), (likely, calmed.likely)):
        assert was == now or abs((now - was).days) >= 3 or calmed == new
    for now, true in ((calmed.early, new_early), (calmed.likely, new_likely), (calmed.late, new_late)):
        assert (now - true).days < 3


def test_past_late_by_reckoning_is_told_at_once() -> None:
    old = DueWindow(*window(-19), Cause.DISTANCE)
    new = DueWindow(*window(-21), Cause.DISTANCE)
    assert (old.late, new.late) == (on(1), on(-1))
    assert calm_window(old, new, today=TODAY, rules=RULES) == new


def test_a_move_of_two_days_is_no_news_and_changes_nothing() -> None:
    before = said({}, 30)
    for likely in (28, 29, 31, 32):
        assert said(before, likely) == before


def test_figures_of_a_text_wait_for_a_step_or_for_a_date_that_moves() -> None:
    """Worn 63 % is told as 65; plain rounding would go on to 70 from 67.5 on, and back below."""
    before = said({}, 30, worn=0.63, pace=46.5)
    assert before[KEY].worn == pytest.approx(0.65)
    assert said(before, 31, worn=0.685, pace=50.0) == before
    assert said(before, 31, worn=0.615, pace=43.0) == before
    assert said(before, 31, worn=0.688)[KEY].worn == pytest.approx(0.70)
    assert said(before, 31, pace=51.2)[KEY].pace_km_per_day == 51.2
    moved = said(before, 40, worn=0.68, pace=46.6)[KEY]
    assert (moved.window.likely, moved.pace_km_per_day) == (on(40), 46.6)
    assert moved.worn == pytest.approx(0.70)


def test_a_line_without_a_window_is_said_nothing_of_and_begins_anew() -> None:
    before = said({}, 30)
    none = outlook(vehicle("AN", "Anvil"), line("AN", "oil", None))
    assert shown_lines(before, (none,), today=TODAY, rules=RULES) == {}
    assert said({}, 31)[KEY].window.likely == on(31)


@pytest.mark.parametrize(
    "given",
    [{"calm_days": 0}, {"calm_share": 0.9}, {"months_back": 13}, {"months_ahead": 26}, {"refresh_hours": 0}],
)
def test_numbers_that_cannot_be_are_refused(given: dict[str, float]) -> None:
    (field,) = given
    with pytest.raises(BadSettings, match=field):
        replace(RULES, **given)  # type: ignore[arg-type]
