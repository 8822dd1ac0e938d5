"""What the planner asks of a solver, and what it is told."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing


class Outcome(StrEnum):
    """How a search ended."""

    PROVEN = "proven"
    """No plan is cheaper."""
    FOUND = "found"
    """A plan that keeps every rule; there may be a cheaper one."""
    IMPOSSIBLE = "impossible"
    """No plan keeps every rule: proven."""
    NOTHING = "nothing"
    """No plan was found before the search was stopped."""


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop. steps: units of deterministic work, so that a plan repeats on any machine. is_stopped: asked now
    and then; true ends the search with the best plan so far."""

    steps: float = 100.0
    seed: int = 1
    is_stopped: Callable[[], bool] = lambda: False


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a search stands. total and bound in cents; None: none yet. steps: how many are spent."""

    phase: str
    steps: float
    total: int | None
    bound: int | None


@dataclass(frozen=True, slots=True)
class Answer:
    """What a search found. total, bound: cents; bound is proven, no plan costs less. left_out: required services for
    which no room was found, if the search plans the rest without them."""

    outcome: Outcome
    plan: BayPlan | None
    total: int | None
    bound: int | None
    steps: float

    @property
    def gap(self) -> float | None:
        """How much cheaper a plan could be at most, as a share of this one's price; None if nothing is known."""
        if self.total is None or self.bound is None:
            return None
        return max(self.total - self.bound, 0) / self.total if self.total > 0 else 0.0


class Solver(Protocol):
    """Plans a whole problem."""

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """The best plan found within the limits.

        tell: told of each better plan and bound. standing: what is settled beside this problem; it takes people's time
        and bays, and its days are open.
        """
        ...
