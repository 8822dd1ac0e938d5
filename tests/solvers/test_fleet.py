"""The quick solver keeps every rule, states a bound no plan undercuts, and repeats itself byte for byte."""

from __future__ import annotations

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.intake.schedule_files import plan_text
from fleetcare.solvers.exact import ExactSolver
from fleetcare.solvers.fleet import FleetSolver
from fleetcare.solvers.pick import solver_for
from tests.bench.bay_garages import garage
from tests.solvers.tiny import tiny


@pytest.fixture(scope="module")
def shop() -> BayProblem:
    """A shop of ten vehicles in two depots."""
    return garage(name="shop", vehicles=10, days=60, seed=7, is_household=False, depots=2)


def test_its_plan_keeps_the_rules_and_lies_between_bound_and_price(shop: BayProblem) -> None:
    told: list[tuple[Progress, BayPlan | None]] = []
    quick = FleetSolver().solve(shop, Limits(steps=20), tell=lambda progress, plan: told.append((progress, plan)))
    exact = ExactSolver().solve(shop, Limits(steps=60))
    assert quick.plan is not None
    assert exact.total is not None
    assert exact.bound is not None
    assert quick.total is not None
    assert quick.bound is not None
    assert audit(shop, quick.plan) == ()
    assert plan_cost(shop, quick.plan).total == quick.total
    assert quick.bound <= exact.total
    assert quick.total >= exact.bound
    assert quick.gap is not None
    assert quick.gap < 0.05
    totals = [progress.total for progress, _ in told if progress.total is not None]
    assert totals == sorted(totals, reverse=True)


def test_it_repeats_itself(shop: BayProblem) -> None:
    texts = []
    for _ in range(2):
        plan = FleetSolver().solve(shop, Limits(steps=6, seed=5)).plan
        assert plan is not None
        texts.append(plan_text(plan))
    assert texts[0] == texts[1]


@pytest.mark.parametrize("seed", range(1, 16))
def test_on_tiny_problems_it_is_never_cheaper_than_the_cheapest(seed: int) -> None:
    problem = tiny(seed)
    quick, exact = FleetSolver().solve(problem, Limits(steps=20)), ExactSolver().solve(problem, Limits(steps=200))
    if exact.outcome is Outcome.IMPOSSIBLE:
        assert quick.outcome in (Outcome.IMPOSSIBLE, Outcome.NOTHING)
        return
    assert exact.total is not None
    if quick.total is not None:
        assert quick.bound is not None
        assert quick.bound <= exact.total <= quick.total


def test_stopped_at_once_it_answers_with_what_it_has(shop: BayProblem) -> None:
    for solver in (FleetSolver(), ExactSolver()):
        answer = solver.solve(shop, Limits(is_stopped=lambda: True))
        assert answer.outcome in (Outcome.FOUND, Outcome.NOTHING)
        assert answer.bound is None
        if answer.outcome is Outcome.FOUND:
            assert answer.plan is not None
            assert audit(shop, answer.plan) == ()


def test_large_depots_get_the_quick_solver(shop: BayProblem) -> None:
    assert isinstance(solver_for(shop), ExactSolver)
    large = garage(name="shop", vehicles=30, days=20, seed=1, is_household=False)
    assert isinstance(solver_for(large), FleetSolver)
