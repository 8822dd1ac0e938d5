"""Two solvers of different families come to the same cent, and the laws of a plan's price hold."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import in_order
from fleetcare.bayplan.port import Answer, Limits, Outcome
from fleetcare.bayplan.problem import BayProblem, Hand
from fleetcare.intake.schedule_files import plan_text
from fleetcare.solvers.compact import CompactSolver
from fleetcare.solvers.exact import ExactSolver
from tests.bench.bay_garages import garage
from tests.solvers.tiny import tiny

LIMITS = Limits(steps=200)


@pytest.mark.parametrize("seed", range(100, 140))
def test_both_agree_on_tiny_problems(seed: int) -> None:
    problem = tiny(seed)
    one, other = ExactSolver().solve(problem, LIMITS), CompactSolver().solve(problem, LIMITS)
    assert (one.outcome, one.total) == (other.outcome, other.total)
    assert one.outcome in (Outcome.PROVEN, Outcome.IMPOSSIBLE)
    for answer in (one, other):
        if answer.plan is not None and answer.outcome is Outcome.PROVEN:
            assert audit(problem, answer.plan) == ()
            assert plan_cost(problem, answer.plan).total == answer.total


@pytest.mark.parametrize("seed", [1, 2])
def test_both_agree_on_a_household(seed: int) -> None:
    problem = garage(name="home", vehicles=3, days=50, seed=seed, is_household=True)
    one, other = ExactSolver().solve(problem, LIMITS), CompactSolver().solve(problem, LIMITS)
    assert (one.outcome, one.total) == (Outcome.PROVEN, other.total)
    assert other.outcome is Outcome.PROVEN


def solved(problem: BayProblem) -> Answer:
    """The proven answer."""
    answer = ExactSolver().solve(problem, LIMITS)
    assert answer.outcome in (Outcome.PROVEN, Outcome.IMPOSSIBLE)
    return answer


def price(problem: BayProblem) -> float:
    """The proven price; what cannot be planned is dearer than everything."""
    answer = solved(problem)
    return float("inf") if answer.total is None else answer.total


@pytest.mark.parametrize("seed", range(1, 25))
def test_more_hands_bays_and_days_never_cost_more(seed: int) -> None:
    problem = tiny(seed)
    before = price(problem)
    depot = problem.depots[0]
    roomy = replace(problem, depots=(replace(depot, bays=depot.bays + 1),))
    helper = Hand("mo", depot.name, ("seal",))
    staffed = replace(
        problem,
        people=(*problem.people, helper),
        shifts=tuple(replace(one, people=(*one.people, "mo")) for one in problem.shifts),
    )
    extra = replace(problem.shifts[0], name="extra", day=3, start=300, end=380)
    longer = replace(problem, shifts=(*problem.shifts, extra))
    assert price(roomy) <= before
    assert price(staffed) <= before
    assert price(longer) <= before


@pytest.mark.parametrize("seed", range(30, 40))
def test_the_order_of_the_input_does_not_matter(seed: int) -> None:
    problem = tiny(seed)
    rng = random.Random(seed)
    mixed = replace(
        problem,
        setups=tuple(rng.sample(problem.setups, len(problem.setups))),
        people=tuple(rng.sample(problem.people, len(problem.people))),
        shifts=tuple(rng.sample(problem.shifts, len(problem.shifts))),
        vehicles=tuple(rng.sample(problem.vehicles, len(problem.vehicles))),
        services=tuple(rng.sample(problem.services, len(problem.services))),
    )
    one, other = solved(problem), solved(mixed)
    assert one.plan is not None
    assert other.plan is not None
    assert plan_text(in_order(one.plan)) == plan_text(in_order(other.plan))
    assert one.total == other.total
