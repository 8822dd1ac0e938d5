"""Re-planning is calm: nothing changed moves nothing, ink stays, and a change moves little."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import change_report, service_days
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.replan import improved, replan
from fleetcare.solvers.exact import ExactSolver
from tests.bench.bay_garages import garage

LIMITS = Limits(steps=40)


@pytest.fixture(scope="module")
def household() -> tuple[BayProblem, BayPlan]:
    """A household of four with a plan."""
    problem = garage(name="home", vehicles=4, days=90, seed=5, is_household=True)
    answer = ExactSolver().solve(problem, LIMITS)
    assert answer.plan is not None
    return problem, answer.plan


def test_nothing_changed_moves_nothing(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    again = replan(problem, plan, problem, ExactSolver(), LIMITS)
    assert again.plan == plan
    assert again.report.moved == ()
    assert (again.report.visits_moved, again.freed) == (0, ())
    assert improved(again, plan, ExactSolver(), LIMITS) is None


def test_due_dates_that_shift_a_little_move_one_visit_at_most(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    vehicle = plan.visits[-1].vehicle
    later = tuple(
        replace(one, due=tuple((day + 10, ppm) for day, ppm in one.due)) if one.vehicle == vehicle else one
        for one in problem.services
    )
    changed = replace(problem, services=later)
    again = replan(problem, plan, changed, ExactSolver(), LIMITS)
    assert again.freed == (vehicle,)
    assert again.report.visits_moved <= 1
    assert audit(again.problem, again.plan) == ()
    others = [visit for visit in plan.visits if visit.vehicle != vehicle]
    assert [visit for visit in again.plan.visits if visit.vehicle != vehicle] == others


def test_a_vehicle_that_is_away_moves_and_the_report_says_so(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    visit = plan.visits[1]
    day = visit.starts_at // 1440
    gone = tuple(
        replace(one, away=(*one.away, (day * 1440, day * 1440 + 2880))) if one.name == visit.vehicle else one
        for one in problem.vehicles
    )
    again = replan(problem, plan, replace(problem, vehicles=gone), ExactSolver(), LIMITS)
    assert again.is_whole
    assert audit(again.problem, again.plan) == ()
    assert {one.vehicle for one in again.report.moved} == {visit.vehicle}
    assert {one.service for one in again.report.moved} >= set(visit.services)
    assert again.report.saves_cents is None
    better = improved(again, plan, ExactSolver(), LIMITS)
    if better is not None:
        assert plan_cost(again.problem, better.plan).total < plan_cost(again.problem, again.plan).total
        assert audit(better.problem, better.plan) == ()


def test_a_shift_that_is_lost_moves_what_was_in_it(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    visit = plan.visits[-1]
    lost = {work.shift for work in visit.work}
    day = visit.starts_at // 1440
    fewer = replace(problem, shifts=tuple(one for one in problem.shifts if one.name not in lost and one.day != day))
    again = replan(problem, plan, fewer, ExactSolver(), LIMITS)
    assert again.is_whole
    assert audit(again.problem, again.plan) == ()
    assert {one.service for one in again.report.moved if one.was is not None} >= set(visit.services)


def test_days_in_ink_stay(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    visit = plan.visits[0]
    cheaper = tuple(
        replace(one, due=tuple((day + 60, ppm) for day, ppm in one.due), early_cents_per_day=300)
        if one.vehicle == visit.vehicle
        else one
        for one in problem.services
    )
    changed = replace(problem, services=cheaper)
    free = replan(problem, plan, changed, ExactSolver(), LIMITS)
    inked = replan(problem, plan, changed, ExactSolver(), LIMITS, inked=visit.services)
    assert free.report.visits_moved >= 1
    was, now = service_days(problem, plan), service_days(problem, inked.plan)
    assert {name: now[name] for name in visit.services} == {name: was[name] for name in visit.services}


def test_a_report_of_two_plans_says_what_moved_and_what_it_saves(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    fewer = BayPlan(plan.problem, plan.visits[1:], (*plan.skipped, *plan.visits[0].services))
    report = change_report(problem, plan, fewer, can_be_kept=True)
    assert {one.service for one in report.moved} == set(plan.visits[0].services)
    assert all(one.now is None for one in report.moved)
    assert report.visits_moved == 1
    assert report.saves_cents == plan_cost(problem, plan).total - plan_cost(problem, fewer).total
