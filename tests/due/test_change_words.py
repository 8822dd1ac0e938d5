"""What a change of a window amounts to, and reading the log's own words back."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.actions.settle import state_in_words
from fleetcare.due.change_words import LINE_GONE, State, WindowChange, change_words, state_read_back
from fleetcare.due.outlook import Cause, DueWindow, NoDate

TODAY = date(2026, 4, 14)


def window(early: str, likely: str, late: str, cause: Cause = Cause.DISTANCE) -> DueWindow:
    """A window by its three days as ISO text."""
    return DueWindow(date.fromisoformat(early), date.fromisoformat(likely), date.fromisoformat(late), cause)


MAY = window("2026-05-01", "2026-05-20", "2026-06-10")

MOVED: list[tuple[State | None, State | None, str]] = [
    (MAY, window("2026-04-20", "2026-05-08", "2026-06-01"), "12 days earlier"),
    (MAY, window("2026-05-01", "2026-05-21", "2026-06-10"), "1 day later"),
    (MAY, window("2026-05-20", "2026-06-10", "2026-07-01"), "3 weeks later"),
    (MAY, window("2026-05-20", "2026-06-11", "2026-07-01"), "22 days later"),
    # 20 May to 20 November are 184 days, 6.05 months.
    (MAY, window("2026-10-20", "2026-11-20", "2026-12-11"), "about 6 months later"),
    (
        MAY,
        window("2026-05-01", "2026-05-08", "2026-05-15", Cause.DATE),
        "12 days earlier, the limit is now the date",
    ),
    (MAY, window("2026-05-01", "2026-05-20", "2026-06-10", Cause.HOURS), "the limit is now hours"),
    (
        MAY,
        window("2026-05-03", "2026-05-20", "2026-06-05"),
        "likely as before, early 2 days later and late 5 days earlier",
    ),
    (MAY, window("2026-05-01", "2026-05-20", "2026-06-05"), "likely as before, late 5 days earlier"),
    (MAY, MAY, "as before"),
    (NoDate.NO_READING, MAY, "from no reading to likely 20 May"),
    (NoDate.NO_READING, NoDate.NO_USE, "from no reading to no use in sight"),
    (MAY, NoDate.NO_USE, "no date any more, no use in sight; it was likely 20 May"),
    (None, MAY, "new, likely 20 May"),
    (None, NoDate.NO_EVENT, "new, waits for its event"),
    (MAY, None, "the line is gone"),
]


@pytest.mark.parametrize(("before", "after", "words"), MOVED)
def test_a_change_says_by_how_much(before: State | None, after: State | None, words: str) -> None:
    assert change_words(before, after, TODAY) == words


def test_the_cause_stands_before_what_it_did() -> None:
    at = datetime(2026, 4, 14, 15, tzinfo=UTC)
    change = WindowChange(at, TODAY, "teo", "the reading of 31 March 2026", MAY, MAY, "12 days earlier")
    assert change.words == "the reading of 31 March 2026: 12 days earlier"


def in_order(drawn: tuple[date, date, date, Cause]) -> DueWindow:
    """Any three days as a window."""
    early, likely, late = sorted(drawn[:3])
    return DueWindow(early, likely, late, drawn[3])


days = st.dates(date(1990, 1, 1), date(2199, 12, 31))
windows = st.tuples(days, days, days, st.sampled_from(Cause)).map(in_order)


@given(st.none() | st.sampled_from(NoDate) | windows)
def test_what_the_log_says_of_a_state_is_read_back_as_that_state(state: State | None) -> None:
    assert state_read_back(state_in_words(state)) == state


@given(windows, windows)
def test_the_way_back_is_as_long_and_goes_the_other_way(first: DueWindow, second: DueWindow) -> None:
    there, back = change_words(first, second, TODAY), change_words(second, first, TODAY)
    if first.likely != second.likely:
        swap = {"earlier": "later", "later": "earlier"}
        assert [swap.get(word.rstrip(","), word) for word in there.partition(",")[0].split()] == back.partition(",")[
            0
        ].split()


@pytest.mark.parametrize(
    "text",
    [
        "soon",
        "early 2026-05-01, likely 2026-05-20, late 2026-06-10",
        "early 2026-05-01, likely 2026-05-20, late 2026-06-10, by luck",
        "early 2026-05-21, likely 2026-05-20, late 2026-06-10, by date",
        "early 2026-02-30, likely 2026-05-20, late 2026-06-10, by date",
        " no reading",
        f"{LINE_GONE} ",
    ],
)
def test_any_other_words_are_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        state_read_back(text)


def test_a_line_that_is_gone_is_no_state() -> None:
    assert state_read_back(LINE_GONE) is None
