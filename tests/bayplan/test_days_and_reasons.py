"""Prices of other days are differences of whole plans; on a proven plan none is cheaper; reasons carry figures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import blocked, days_opened, plan_cost
from fleetcare.bayplan.day_costs import PPM, day_chances
from fleetcare.bayplan.explain import Forbidden, ReasonKind, explain
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.solvers.days import ExactDays, visits_on
from fleetcare.solvers.exact import ExactSolver
from tests.bench.bay_garages import garage


@pytest.fixture(scope="module")
def household() -> tuple[BayProblem, BayPlan]:
    """A small household with its proven plan."""
    problem = garage(name="home", vehicles=3, days=70, seed=2, is_household=True)
    answer = ExactSolver().solve(problem, Limits(steps=300))
    assert answer.outcome is Outcome.PROVEN
    assert answer.plan is not None
    return problem, answer.plan


def test_no_other_day_is_cheaper_and_each_price_is_the_difference_of_whole_plans(
    household: tuple[BayProblem, BayPlan],
) -> None:
    problem, plan = household
    total = plan_cost(problem, plan).total
    priced = 0
    for visit in plan.visits:
        others = tuple(one for one in plan.visits if one != visit)
        told = explain(problem, plan, visit, ExactDays())
        for price in told.other_days:
            assert (price.extra_cents is None) is (price.forbidden is not None)
            if price.extra_cents is None:
                continue
            assert price.extra_cents >= 0
            made = visits_on(problem, others, visit.vehicle, visit.services, [price.day])[price.day]
            moved = replace(plan, visits=(*others, made))
            assert audit(problem, moved) == ()
            assert blocked(problem, made)[0] // 1440 == price.day
            assert plan_cost(problem, moved).total - total == price.extra_cents
            priced += 1
    assert priced >= 10


def test_prices_are_differences_of_whole_plans_where_days_and_hands_are_shared() -> None:
    """In a workshop a day may be open for others, before the move and after it."""
    problem = garage(name="home", vehicles=5, days=90, seed=5, is_household=False)
    plan = ExactSolver().solve(problem, Limits(steps=4)).plan
    assert plan is not None
    total = plan_cost(problem, plan).total
    kinds = set()
    for visit in plan.visits:
        others = tuple(one for one in plan.visits if one != visit)
        opened = days_opened(problem, others)
        for price in explain(problem, plan, visit, ExactDays()).other_days:
            if price.extra_cents is None:
                continue
            laid = visits_on(problem, others, visit.vehicle, visit.services, [price.day], all_begin=True)[price.day]
            moved = replace(plan, visits=(*others, laid))
            assert audit(problem, moved) == ()
            assert plan_cost(problem, moved).total - total == price.extra_cents
            kinds.add((days_opened(problem, [visit]) <= opened, days_opened(problem, [laid]) <= opened))
    assert len(kinds) == 4, "open for others and not, on both days"


def test_a_visit_has_at_most_three_reasons_with_figures(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    for visit in plan.visits:
        told = explain(problem, plan, visit, ExactDays())
        assert 1 <= len(told.reasons) <= 3
        kinds = [reason.kind for reason in told.reasons]
        assert len(kinds) == len(frozenset(kinds))
        if len(visit.services) > 1:
            together = next(reason for reason in told.reasons if reason.kind is ReasonKind.TOGETHER)
            arrive = problem.vehicle_by_name[visit.vehicle].arrive_cents
            assert together.cents >= (len(visit.services) - 1) * arrive
        best = [price for price in told.other_days if price.extra_cents is not None]
        for reason in told.reasons:
            if reason.kind is ReasonKind.LEADS:
                # What waiting costs is the chance of being late by then, less what it keeps of its life.
                service = problem.service_by_name[reason.names[0]]
                due, days = service.due, problem.days
                assert reason.day is not None
                early = [day_chances(due, days).early[on] for on in (told.day, reason.day)]
                kept = service.early_cents_per_day * (early[0] - early[1]) / PPM
                assert abs(reason.late_cents - kept - reason.cents) <= 2
                assert reason.chance == day_chances(due, days).over[reason.day]
            if reason.kind is ReasonKind.NEXT_BEST:
                assert reason.cents == min(price.extra_cents or 0 for price in best)


def test_what_forbids_a_day_is_named(household: tuple[BayProblem, BayPlan]) -> None:
    problem, plan = household
    found = {
        price.forbidden for visit in plan.visits for price in explain(problem, plan, visit, ExactDays()).other_days
    }
    assert Forbidden.NOBODY in found
    visit = plan.visits[0]
    gone = tuple(replace(one, away=((0, 10**6),)) if one.name == visit.vehicle else one for one in problem.vehicles)
    away = replace(problem, vehicles=gone)
    told = explain(away, plan, visit, ExactDays())
    assert {price.forbidden for price in told.other_days} <= {Forbidden.NOBODY, Forbidden.AWAY}
    assert told.reasons[-1].kind is ReasonKind.ONLY_DAY or len(told.reasons) == 3
