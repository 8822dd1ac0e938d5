"""Laws of a proven plan on whatever tiny problem hypothesis draws; and each of them fails a solver that breaks it.

Adding a person, a bay or an open day never costs more; the order of the input does not matter; told to people and
planned again, nothing moves; no other day of a planned visit is cheaper.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fleetcare.bayplan.calm import MovePrices, published, service_days
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan, Visit, in_order
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress, Solver
from fleetcare.bayplan.problem import BayProblem, Hand, Shift
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.days import ExactDays
from fleetcare.solvers.exact import ExactSolver
from tests.solvers.tiny import tiny

LIMITS = Limits(steps=200)
FEW = settings(max_examples=25, deadline=None)
Law = Callable[[BayProblem, Solver], None]


def solved(problem: BayProblem, solver: Solver) -> Answer:
    """The proven answer."""
    answer = solver.solve(problem, LIMITS)
    assert answer.outcome in (Outcome.PROVEN, Outcome.IMPOSSIBLE)
    return answer


def price(problem: BayProblem, solver: Solver) -> float:
    """The proven price; what cannot be planned is dearer than everything."""
    total = solved(problem, solver).total
    return float("inf") if total is None else total


def more_never_costs_more(problem: BayProblem, solver: Solver) -> None:
    """A bay, a person who may do everything, and a day on which nobody was there before."""
    before, depot = price(problem, solver), problem.depots[0]
    assert price(replace(problem, depots=(replace(depot, bays=depot.bays + 1),)), solver) <= before
    shifts = tuple(replace(one, people=(*one.people, "mo")) for one in problem.shifts)
    people = (*problem.people, Hand("mo", depot.name, ("seal",)))
    assert price(replace(problem, people=people, shifts=shifts), solver) <= before
    free = [day for day in range(problem.days) if day not in {one.day for one in problem.shifts}]
    names = tuple(one.name for one in problem.people)
    for day in free[:1]:
        opened = Shift("opened", depot.name, day, 540, 660, names)
        assert price(replace(problem, shifts=(*problem.shifts, opened)), solver) <= before


def order_does_not_matter(problem: BayProblem, solver: Solver) -> None:
    """Everything that is listed, listed otherwise: the same plan, to the minute."""
    rng = random.Random(problem.name)
    mixed = replace(
        problem,
        setups=tuple(rng.sample(problem.setups, len(problem.setups))),
        people=tuple(rng.sample(problem.people, len(problem.people))),
        shifts=tuple(rng.sample(problem.shifts, len(problem.shifts))),
        vehicles=tuple(rng.sample(problem.vehicles, len(problem.vehicles))),
        services=tuple(rng.sample(problem.services, len(problem.services))),
    )
    one, other = solved(problem, solver), solved(mixed, solver)
    assert one.total == other.total
    assert one.plan is not None
    assert other.plan is not None
    assert in_order(one.plan) == in_order(other.plan)


def nothing_changed_moves_nothing(problem: BayProblem, solver: Solver) -> None:
    """Each service begins on the day that people were told, if moving it has a price."""
    first = solved(problem, solver)
    if first.outcome is not Outcome.PROVEN or first.plan is None:
        return
    told = published(problem, service_days(problem, first.plan), MovePrices())
    again = solved(told, solver)
    assert again.plan is not None
    before, after = begins(problem, first.plan), begins(problem, again.plan)
    assert {name: after.get(name) for name in before} == before


def begins(problem: BayProblem, plan: BayPlan) -> dict[str, int]:
    """The day of the first stage of each service that is done."""
    found: dict[str, int] = {}
    for visit in plan.visits:
        for work in sorted(visit.work, key=lambda one: one.start):
            if work.service:
                found.setdefault(work.service, problem.shift_by_name[work.shift].day)
    return found


def no_other_day_is_cheaper(problem: BayProblem, solver: Solver) -> None:
    """Each visit of the plan moved whole to each other day, all else as it stands."""
    answer = solved(problem, solver)
    if answer.outcome is not Outcome.PROVEN or answer.plan is None:
        return
    for visit in answer.plan.visits:
        for other in ExactDays().other_days(problem, answer.plan, visit, range(problem.days)):
            assert other.extra_cents is None or other.extra_cents >= 0


LAWS = (more_never_costs_more, order_does_not_matter, nothing_changed_moves_nothing, no_other_day_is_cheaper)


@pytest.mark.parametrize("law", LAWS)
@given(seed=st.integers(0, 10**9))
@example(seed=1)
@FEW
def test_the_law_holds(law: Law, seed: int) -> None:
    law(tiny(seed), ExactSolver())


@dataclass(frozen=True)
class Spoiled:
    """The exact solver with a fault: it says that what it found is proven."""

    fault: Callable[[BayProblem, Answer], Answer]

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        return self.fault(problem, ExactSolver().solve(problem, limits, tell=tell, standing=standing))


def dearer_with_more(problem: BayProblem, answer: Answer) -> Answer:
    """It takes one more thing to choose from for a reason to pay."""
    many = len(problem.shifts) + len(problem.people) + problem.depots[0].bays
    return answer if answer.total is None else replace(answer, total=answer.total + many)


def by_order(problem: BayProblem, answer: Answer) -> Answer:
    """The price hangs on which service is named first."""
    first = int(problem.services[0].name.removeprefix("s"))
    return answer if answer.total is None else replace(answer, total=answer.total + first)


def without_memory(problem: BayProblem, answer: Answer) -> Answer:
    """What people were told is not looked at: everything they know of is planned for the last shift instead."""
    near = MovePrices().near_cents
    if answer.plan is None or not any(one.published and one.published.move_cents == near for one in problem.services):
        return answer
    last = max(problem.shifts, key=lambda one: one.starts_at)
    visits = tuple(on_shift(visit, last) for visit in answer.plan.visits)
    return replace(answer, plan=replace(answer.plan, visits=visits))


def on_the_dearest_day(problem: BayProblem, answer: Answer) -> Answer:
    """One visit on a day that costs more than another."""
    if answer.plan is None or answer.outcome is not Outcome.PROVEN:
        return answer
    for visit in answer.plan.visits:
        prices = ExactDays().other_days(problem, answer.plan, visit, range(problem.days))
        dear = [each for each in prices if each.extra_cents]
        if dear:
            from fleetcare.solvers.days import visits_on

            day = max(dear, key=lambda each: each.extra_cents or 0).day
            others = tuple(one for one in answer.plan.visits if one != visit)
            moved = visits_on(problem, others, visit.vehicle, visit.services, [day])[day]
            plan = replace(answer.plan, visits=(*others, moved))
            return replace(answer, plan=plan, total=plan_cost(problem, plan).total)
    return answer


def on_shift(visit: Visit, shift: Shift) -> Visit:
    """The visit in another shift; whether it fits there does not matter here."""
    first = visit.starts_at
    return replace(
        visit,
        work=tuple(replace(one, shift=shift.name, start=shift.starts_at + one.start - first) for one in visit.work),
    )


@pytest.mark.parametrize(
    ("law", "fault"), list(zip(LAWS, (dearer_with_more, by_order, without_memory, on_the_dearest_day), strict=True))
)
def test_a_solver_that_breaks_the_law_is_found_out(law: Law, fault: Callable[[BayProblem, Answer], Answer]) -> None:
    """On one of the first forty problems at the latest."""
    for seed in range(40):
        try:
            law(tiny(seed), Spoiled(fault))
        except AssertionError:
            return
    raise AssertionError("the law holds for a solver that breaks it")
