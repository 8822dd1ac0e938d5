"""What a plan changes is said of each visit once, and read back from the log as it was written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.plan_changes import Cause, PlanChange, log_line, logged_change, plan_changes, told_from
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState, laid_end_to_end
from fleetcare.fleet.component import LineKey

DENVER = ZoneInfo("America/Denver")
TODAY = date(2026, 4, 14)
OIL, BELT, PADS = (LineKey("AN", "engine", name) for name in ("engine-oil", "belt", "pads"))
INSTANTS = st.integers(0, 2_000_000_000).map(lambda second: datetime.fromtimestamp(second, UTC))


def visit(number: int, day: int, *lines: LineKey, hour: int = 15, state: VisitState = VisitState.PENCILLED) -> BayVisit:
    begins = datetime(2026, 4, day, hour, tzinfo=UTC)
    return BayVisit("AN", number, lines, laid_end_to_end(begins, [(StretchKind.HANDS_ON, timedelta(hours=1))]), state)


def changes(
    before: list[BayVisit],
    after: list[BayVisit],
    gone: list[BayVisit],
    left: tuple[LineKey, ...] = (),
    wish: int = 0,
    kept: tuple[BayVisit, ...] = (),
) -> dict[int, Cause]:
    found = plan_changes(
        None,
        before=before,
        after=after,
        gone=gone,
        left=left,
        wished=("AN", wish) if wish else None,
        day_0=date(2026, 4, 13),
        zone=DENVER,
        kept=kept,
    )
    return {each.number: each.cause for each in found}


def test_each_visit_that_is_new_elsewhere_or_gone_is_named_with_its_cause() -> None:
    before = [visit(1, 18, OIL), visit(2, 19, BELT), visit(3, 25, PADS), visit(5, 26, OIL)]
    after = [visit(1, 20, OIL), visit(2, 21, BELT, PADS), visit(4, 22, PADS), visit(5, 26, OIL)]
    assert changes(before, after, [before[2]]) == {
        1: Cause.PRICE,
        2: Cause.OTHER_WORK,
        3: Cause.JOINED,
        4: Cause.NEW,
    }
    assert changes(before[:1], after[:1], [], wish=1) == {1: Cause.WISHED}
    assert changes(before[:1], after[:1], [], wish=9) == {1: Cause.ROOM}
    assert changes(before[2:3], [], [before[2]], (PADS,)) == {3: Cause.LEFT}
    assert changes(before[2:3], [], [before[2]]) == {3: Cause.NOT_DUE}
    inked = replace(visit(9, 24, PADS), state=VisitState.INKED)
    assert changes(before[2:3], [], [before[2]], kept=(inked,)) == {3: Cause.JOINED}
    assert changes(before, before, []) == {}


@given(
    change=st.builds(
        PlanChange,
        st.sampled_from(["AN", "B2"]),
        st.integers(1, 999_999),
        st.none() | INSTANTS,
        st.none() | INSTANTS,
        st.sampled_from(Cause),
    )
)
def test_what_the_log_keeps_is_read_back_as_it_was(change: PlanChange) -> None:
    _, what, before, after = log_line(change)
    assert logged_change(what, before, after) == change


def test_a_line_of_something_else_is_no_change() -> None:
    assert logged_change("due window", "AN/1 -", "AN/1 -") is None
    assert logged_change(Cause.NEW.value, "AN", "AN/1 -") is None


def test_people_are_told_of_a_move_they_could_have_counted_on_another_day_for() -> None:
    """Inked, told before, or within the fortnight of the weekly letter."""

    def told(was: BayVisit, now: BayVisit) -> date | None:
        return told_from(was, now, today=TODAY, zone=DENVER)

    near, far = visit(1, 20, OIL), visit(1, 29, OIL)
    assert told(near, far) == date(2026, 4, 20)
    assert told(far, near) is None
    assert told(visit(1, 29, OIL, state=VisitState.INKED), near) == date(2026, 4, 29)
    assert told(near, visit(1, 20, OIL, hour=20)) is None, "another hour is no other day"
