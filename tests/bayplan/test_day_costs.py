"""Prices of days from due distributions: against sums written out from their definition."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.day_costs import chance_due_by, day_chances, day_costs, due_points, move_cents
from fleetcare.bayplan.problem import BayService, Published, Stage


def service(due: tuple[tuple[int, int], ...], **more: object) -> BayService:
    return BayService("oil", "anvil", (Stage(10),), due, **more)  # type: ignore[arg-type]


def test_a_step_is_early_before_and_late_behind() -> None:
    prices = day_costs(service(((3, 1_000_000),), early_cents_per_day=10, late_cents_per_day=7, overdue_cents=100), 7)
    # Days 0 to 3: three to no days thrown away; from day 4 on one to three days late, and overdue.
    assert prices == (30, 20, 10, 0, 107, 114, 121)


@given(st.integers(-40, 40), st.integers(0, 15), st.integers(0, 30), st.integers(1, 60))
def test_expected_days_are_sums_over_the_chances(likely: int, before: int, behind: int, days: int) -> None:
    due = due_points(likely - before, likely, likely + behind)
    chances = day_chances(due, days)
    for day in range(days):
        far = range(due[0][0] - 2, max(due[-1][0], days) + 2)
        assert chances.late[day] == sum(chance_due_by(due, t) for t in far if t < day)
        assert chances.early[day] == sum(1_000_000 - chance_due_by(due, t) for t in far if t >= day) + (
            1_000_000 * max(0, far.start - day)
        )
        assert chances.over[day] == chance_due_by(due, day - 1)


def test_the_levels_are_met_at_their_days() -> None:
    due = due_points(20, 30, 45)
    assert [chance_due_by(due, day) for day in (10, 20, 30, 45, 61)] == [0, 100_000, 500_000, 900_000, 1_000_000]
    assert chance_due_by(due, 25) == Fraction(300_000)


@pytest.mark.parametrize(("day", "cents"), [(4, 0), (5, 520), (1, 560), (80, 500 + 30 * 20), (None, 500)])
def test_moving_what_was_told_costs(day: int | None, cents: int) -> None:
    told = service(((3, 1_000_000),), published=Published(4, 500, 20))
    assert move_cents(told, day) == cents
