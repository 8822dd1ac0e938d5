"""Sixteen rules of thumb: their plans keep every rule of a plan and none is cheaper than a proven one."""

from __future__ import annotations

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.yardsticks import YARDSTICKS, day_of_chance, follow
from fleetcare.solvers.days import place_on_day
from fleetcare.solvers.exact import ExactSolver
from tests.bench.bay_garages import garage


def test_there_are_sixteen_with_names_of_their_own() -> None:
    assert len(YARDSTICKS) == 16
    assert len({one.name for one in YARDSTICKS}) == 16


def test_no_rule_of_thumb_is_cheaper_than_the_proven_plan() -> None:
    problem = garage(name="home", vehicles=3, days=60, seed=1, is_household=True)
    answer = ExactSolver().solve(problem, Limits(steps=200))
    assert answer.outcome is Outcome.PROVEN
    assert answer.total is not None
    placed = 0
    for yardstick in YARDSTICKS:
        measured = follow(problem, yardstick, place_on_day)
        if not measured.unplaced:
            assert audit(problem, measured.plan) == ()
            assert plan_cost(problem, measured.plan).total >= answer.total
            placed += 1
    assert placed >= 12


def test_the_day_a_rule_counts_from_is_the_level_of_the_window() -> None:
    problem = garage(name="home", vehicles=3, days=60, seed=1, is_household=True)
    for service in problem.services:
        early, likely = day_of_chance(service, 100_000), day_of_chance(service, 500_000)
        assert early <= likely
        if len(service.due) == 5:
            assert (early, likely) == (service.due[1][0], service.due[2][0])
