"""Depots planned in processes side by side, one for each processor.

A depot's plan hangs on nothing but the depot, its share of the steps and the seed, so the answer is the same byte for
byte however many processes there are. They hear at once when this process is gone, and end.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fleetcare.bayplan.plan import BayPlan, in_order
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.errors import SearchTrouble
from fleetcare.solvers.apart import ApartSolver
from fleetcare.solvers.exact import ExactSolver, only_depots, shares_of
from fleetcare.solvers.fleet import FleetSolver

FEWEST_SERVICES = 50
"""With fewer than this a process is not worth its start."""
GRACE_S = 1.0
"""Shorter than whoever waits for this process gives it."""
LOOK_EVERY_S = 0.05

News = Progress | Answer | Exception


@dataclass(frozen=True, slots=True)
class SideBySide:
    """Several processes, each with some of the depots. kind: who plans a depot."""

    kind: type[ExactSolver] | type[FleetSolver]
    processes: int

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """As the port says; raises SearchTrouble if a process cannot be started or came to grief."""
        shares = shares_of(problem, limits.steps)
        groups = groups_of(shares, self.processes)
        if len(groups) < 2 or len(problem.services) < FEWEST_SERVICES:
            return self.kind(shares).solve(problem, limits, tell=tell, standing=standing)
        news: queue.SimpleQueue[tuple[int, News, BayPlan | None]] = queue.SimpleQueue()
        with contextlib.ExitStack() as stack:
            aparts = []
            for at, names in enumerate(groups):
                own = {name: shares[name] for name in names}
                apart = stack.enter_context(ApartSolver(grace_s=GRACE_S, niceness=0, solver=self.kind(own)))
                aparts.append(apart)
                part = only_depots(problem, names)
                ask = _Asked(at, apart, part, Limits(sum(own.values()), limits.seed), standing, news)
                threading.Thread(target=ask.run, daemon=True).start()
            return _listened(problem, len(groups), aparts, limits, news, tell)


@dataclass(frozen=True, slots=True)
class _Asked:
    """One process asked from a thread of its own, which passes on what it hears."""

    at: int
    apart: ApartSolver
    part: BayProblem
    limits: Limits
    standing: Standing
    news: queue.SimpleQueue[tuple[int, News, BayPlan | None]]

    def run(self) -> None:
        """Asks, and hears to the end."""
        heard: News = SearchTrouble("The search came to grief in one of its processes.")
        try:
            heard = self.apart.solve(
                self.part,
                self.limits,
                tell=lambda progress, plan: self.news.put((self.at, progress, plan)),
                standing=self.standing,
            )
        except SearchTrouble as error:
            heard = error
        finally:
            # Whatever it was, who waits for this process hears of it.
            self.news.put((self.at, heard, heard.plan if isinstance(heard, Answer) else None))


def groups_of(shares: dict[str, float], processes: int) -> list[tuple[str, ...]]:
    """Depots that have something to do, for each process some of about the same work in all."""
    names = sorted((name for name, steps in shares.items() if steps), key=lambda name: (-shares[name], name))
    groups: list[list[str]] = [[] for _ in range(min(processes, len(names)))]
    for name in names:
        least = min(groups, key=lambda group: sum(shares[one] for one in group))
        least.append(name)
    return [tuple(sorted(group)) for group in groups]


def _listened(
    problem: BayProblem,
    many: int,
    aparts: Sequence[ApartSolver],
    limits: Limits,
    news: queue.SimpleQueue[tuple[int, News, BayPlan | None]],
    tell: Callable[[Progress, BayPlan | None], None] | None,
) -> Answer:
    """Hears all processes until each has answered, and tells how they stand together."""
    answers: list[Answer | None] = [None] * many
    states = [Progress("", 0.0, None, None) for _ in range(many)]
    plans: list[BayPlan | None] = [None] * many
    is_stopped = False
    while not all(answers):
        if not is_stopped and limits.is_stopped():
            is_stopped = True
            for apart in aparts:
                apart.stop()
        try:
            at, heard, plan = news.get(timeout=LOOK_EVERY_S)
        except queue.Empty:
            continue
        plans[at] = plan or plans[at]
        if isinstance(heard, Exception):
            raise heard
        if isinstance(heard, Answer):
            answers[at] = heard
            heard = Progress(states[at].phase, heard.steps, heard.total, heard.bound)
        states[at] = heard
        if tell is not None:
            total, bound = _sum([one.total for one in states]), _sum([one.bound for one in states])
            steps = round(sum(one.steps for one in states), 3)
            tell(Progress(heard.phase, steps, total, bound), _merged(problem, plans))
    return _joined(problem, [one for one in answers if one is not None])


def _sum(values: Sequence[int | None]) -> int | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None


def _merged(problem: BayProblem, plans: Sequence[BayPlan | None]) -> BayPlan | None:
    """The plans of all depots as one; what is not planned yet is skipped in it. None if there is none at all."""
    if not any(plans):
        return None
    visits = tuple(visit for plan in plans if plan is not None for visit in plan.visits)
    done = {name for visit in visits for name in visit.services}
    skipped = tuple(one.name for one in problem.services if one.name not in done)
    return in_order(BayPlan(problem.name, visits, skipped))


def _joined(problem: BayProblem, answers: Sequence[Answer]) -> Answer:
    outcomes = {one.outcome for one in answers}
    steps = sum(one.steps for one in answers)
    plan = _merged(problem, [one.plan for one in answers])
    total, bound = _sum([one.total for one in answers]), _sum([one.bound for one in answers])
    if outcomes <= {Outcome.PROVEN, Outcome.FOUND}:
        outcome = Outcome.PROVEN if outcomes == {Outcome.PROVEN} else Outcome.FOUND
        return Answer(outcome, plan, total, bound, round(steps, 3))
    outcome = Outcome.IMPOSSIBLE if outcomes <= {Outcome.PROVEN, Outcome.IMPOSSIBLE} else Outcome.NOTHING
    return Answer(outcome, plan, None, None, round(steps, 3))
