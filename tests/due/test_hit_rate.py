"""Past windows counted: which of them are judged, how far they were off, and what chance allows."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.due.dial_days import RealDay
from fleetcare.due.hit_rate import (
    Z_95,
    HitRate,
    JudgedWindow,
    Outcome,
    Verdict,
    hit_rate,
    weighs_like,
    wilson_interval,
)
from fleetcare.due.past_windows import Kind, PastWindow
from fleetcare.fleet.vehicle import ODOMETER


def a_window(early: int, likely: int, late: int, *, given: int = 0, mark: str = "AN") -> PastWindow:
    return PastWindow(Kind.MILESTONE, mark, ODOMETER, "", None, given, 5, 0.0, early, likely, late, 100.0)


def judged(window: PastWindow, real: RealDay | None, until: int) -> JudgedWindow:
    return JudgedWindow(window, real, until)


@pytest.mark.parametrize(
    ("on", "until", "outcome"),
    [
        (10.0, 60, Outcome.HELD),
        (9.5, 60, Outcome.HELD),  # half a day rounds to the tenth, as the dates of windows do
        (9.4, 60, Outcome.BEFORE_EARLY),
        (30.4, 60, Outcome.HELD),
        (30.5, 60, Outcome.AFTER_LATE),
        (None, 30, Outcome.AFTER_LATE),  # its late date is over and it has not come
        (20.0, 29, Outcome.OPEN),  # it has come, but those that come late would be missing beside it
        (None, 29, Outcome.OPEN),
    ],
)
def test_windows_are_judged_once_their_late_date_is_behind_the_last_reading(
    on: float | None, until: int, outcome: Outcome
) -> None:
    real = None if on is None else RealDay(int(on) - 5, on, int(on) + 5)
    assert judged(a_window(10, 20, 30), real, until).outcome is outcome


def test_counts_and_errors_of_a_handful_of_windows() -> None:
    """Off by 0, 15 later, 12 sooner, and one that had not come 25 days after its likely date; one is open."""
    windows = [
        judged(a_window(10, 20, 30), RealDay(15, 20.0, 25), 60),
        judged(a_window(10, 20, 30), RealDay(28, 35.0, 40), 60),
        judged(a_window(10, 20, 30), RealDay(1, 8.0, 9), 60),
        judged(a_window(20, 35, 50), None, 60),
        judged(a_window(40, 60, 90), RealDay(40, 50.0, 55), 60),
    ]
    rate = hit_rate(windows)
    assert (rate.closed, rate.held, rate.before_early, rate.after_late, rate.open) == (4, 1, 1, 2, 1)
    # The second may have come on the 28th, within its window; the third on the 9th at the latest.
    assert rate.may_have_held == 2
    # Middle of 0, 12, 15, 25: 13.5; mean 13; shares 0, .6, .75, .714: middle .657; signed -12, 0, 15, 25: 7.5.
    assert (rate.off_median, rate.off_mean, rate.lean) == (13.5, 13.0, 7.5)
    assert rate.off_share == pytest.approx((0.6 + 25 / 35) / 2)
    assert rate.verdict is Verdict.TOO_LITTLE


def test_no_windows_make_no_share() -> None:
    rate = hit_rate([])
    assert rate == HitRate(0, 0, 0, 0, 0, 0, 0.0, None, None, None, None)
    assert (rate.share, rate.wilson, rate.chance_allows, rate.verdict) == (None, None, None, Verdict.TOO_LITTLE)


def test_windows_over_the_same_days_weigh_less_than_their_number() -> None:
    """One band: of spans 0-10, 5-15, 10-20, 12-22, 20-30 three follow one another (0-10, 10-20, 20-30)."""

    def span(begin: int, end: int, mark: str = "AN") -> JudgedWindow:
        return judged(a_window(end - 1, end, end + 1, given=begin, mark=mark), RealDay(end, float(end), end), 900)

    one = [span(0, 10), span(5, 15), span(10, 20), span(12, 22), span(20, 30)]
    assert weighs_like(one) == pytest.approx(3)
    # Another vehicle's windows are others: twice as many.
    assert weighs_like([*one, *(replace(each, given=replace(each.given, mark="BE")) for each in one)]) == pytest.approx(
        6
    )
    # Two bands, half the windows each, 4 apart in one and 1 in the other:
    # 1/n = .75 (.25/4 + .25/1) + .25 (.5/2 + .5/1)^2 = .234375 + .140625.
    far = [span(begin, 300) for begin in (0, 1, 2, 3)]
    near = [span(begin, begin + 10) for begin in (0, 10, 20, 30)]
    assert weighs_like([*far, *near]) == pytest.approx(1 / 0.375)
    assert weighs_like([]) == 0


@pytest.mark.parametrize(("share", "n"), [(0.8, 126), (0.5, 10), (1.0, 20), (0.0, 7), (0.93, 311.5)])
def test_wilson_limits_are_where_the_score_test_just_rejects(share: float, n: float) -> None:
    """Wilson (1927) by definition: the two p with (share - p)^2 = z^2 p(1-p)/n."""
    for limit in wilson_interval(share, n):
        assert (share - limit) ** 2 == pytest.approx(Z_95**2 * limit * (1 - limit) / n, abs=1e-12)


def test_chance_allows_73_to_87_percent_of_126_windows() -> None:
    """1.96 sqrt(.8 .2/126) = .0698."""
    rate = HitRate(126, 101, 110, 13, 12, 0, 126.0, 5.0, 6.0, 0.2, 0.0)
    assert rate.chance_allows == pytest.approx((0.7302, 0.8698), abs=1e-4)
    assert rate.verdict is Verdict.AS_MEANT
    assert replace(rate, held=91).verdict is Verdict.TOO_NARROW
    assert replace(rate, held=112).verdict is Verdict.TOO_WIDE
