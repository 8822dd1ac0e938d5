"""The quick solver keeps every rule, states a bound no plan undercuts, and repeats itself byte for byte."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import service_days
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem, Hand
from fleetcare.bayplan.standing import Standing, StandingWork
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


def test_every_depot_has_a_plan_before_the_first_is_proven() -> None:
    """So whoever stops the search has a plan for all."""
    problem = garage(name="shop", vehicles=8, days=100, seed=3, is_household=False, depots=2)
    told: list[Progress] = []
    answer = ExactSolver().solve(problem, Limits(steps=20), tell=lambda progress, plan: told.append(progress))
    assert answer.total is not None
    first = next(at for at, progress in enumerate(told) if progress.total is not None)
    proving = next(at for at, progress in enumerate(told) if progress.phase == "widening")
    assert first < proving


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
    assert isinstance(solver_for(shop, processes=1), ExactSolver)
    large = garage(name="shop", vehicles=30, days=20, seed=1, is_household=False)
    assert isinstance(solver_for(large), FleetSolver)


def test_what_must_be_done_finds_room_though_its_cheapest_days_have_none_to_the_minute() -> None:
    """On each of the first forty working days either of two people is free for 150 minutes of 240: room for 219
    minutes by their sum, none for either of them. Every one of these days costs less than any day after."""
    whole = garage(name="shop", vehicles=26, days=150, seed=21, is_household=False)
    vehicle = next(
        one.vehicle
        for one in whole.services
        if one.name.endswith("timing belt") and one.is_required and one.due[-1][0] < 0
    )
    problem = replace(
        whole,
        vehicles=tuple(one for one in whole.vehicles if one.name == vehicle),
        services=tuple(one for one in whole.services if one.vehicle == vehicle),
        people=(Hand("ada", "D0", ("inspect",)), Hand("ben", "D0")),
        shifts=tuple(replace(one, people=("ada", "ben")) for one in whole.shifts),
    )
    early = sorted(problem.shifts, key=lambda one: one.starts_at)[:100]
    standing = Standing(
        tuple(StandingWork(one.name, who, one.starts_at + 75, 90) for one in early for who in one.people)
    )
    answer = FleetSolver().solve(problem, Limits(steps=20), standing=standing)
    assert answer.plan is not None
    assert audit(problem, answer.plan) == ()
    day = service_days(problem, answer.plan)[f"{vehicle} timing belt"].first
    assert day > early[-1].day
