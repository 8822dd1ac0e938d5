"""On tiny problems no plan is cheaper than the solver's: every plan has been tried, by other code."""

from __future__ import annotations

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.solvers.exact import ExactSolver
from tests.solvers.tiny import tiny
from tests.solvers.trying_everything import cheapest

SEEDS = range(1, 61)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_solver_finds_the_cheapest_of_all_plans(seed: int) -> None:
    problem = tiny(seed)
    answer = ExactSolver().solve(problem, Limits(steps=200))
    best = cheapest(problem)
    if best is None:
        assert answer.outcome is Outcome.IMPOSSIBLE
        return
    assert answer.outcome is Outcome.PROVEN
    assert answer.plan is not None
    assert audit(problem, answer.plan) == ()
    assert (answer.total, answer.bound, plan_cost(problem, answer.plan).total) == (best, best, best)


def test_the_tiny_problems_are_of_every_kind() -> None:
    """Chains, skips, orders, moves, away vehicles and impossible ones are among them."""
    problems = [tiny(seed) for seed in SEEDS]
    services = [one for problem in problems for one in problem.services]
    assert sum(len(one.stages) > 1 for one in services) > 20
    assert sum(bool(one.after) for one in services) > 5
    assert sum(len(one.after) > 1 for one in services) > 2
    assert sum(one.published is not None for one in services) > 10
    assert sum(not one.is_required for one in services) > 20
    assert sum(bool(vehicle.away) for problem in problems for vehicle in problem.vehicles) > 5
    solver = ExactSolver()
    assert sum(solver.solve(one, Limits()).outcome is Outcome.IMPOSSIBLE for one in problems) >= 3
