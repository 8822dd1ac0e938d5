"""A plan rounded off from the linear programme keeps every rule, and its price is what the plan costs."""

from __future__ import annotations

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan, in_order
from fleetcare.bayplan.port import Limits
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS
from fleetcare.solvers.depot_work import DepotWork, begun
from fleetcare.solvers.exact import searches_for
from fleetcare.solvers.neighbourhood import CALM_SHARE
from fleetcare.solvers.rounding import round_off
from fleetcare.solvers.squeeze import left_over, put_in
from tests.bench.bay_garages import garage
from tests.solvers.tiny import tiny


def _priced(problem: BayProblem) -> DepotWork:
    """Its one depot with visits generated and nothing chosen yet."""
    (search,) = searches_for(problem, Limits(20), NOTHING_STANDS)
    depot = begun(search)
    depot.master.begin()
    depot.master.generate(
        most_rounds=200, is_stopped=lambda: False, tell=lambda number, value: None, calm_share=CALM_SHARE
    )
    return depot


def _plan(problem: BayProblem, depot: DepotWork) -> BayPlan:
    done = {name for visit in depot.search.visits for name in visit.services}
    skipped = tuple(one.name for one in problem.services if one.name not in done)
    return in_order(BayPlan(problem.name, depot.search.visits, skipped))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_it_keeps_every_rule_and_costs_what_the_plan_costs(seed: int) -> None:
    problem = garage(name="shop", vehicles=24, days=60, seed=seed, is_household=False, depots=1)
    depot = _priced(problem)
    assert round_off(depot)
    for number in left_over(depot):
        put_in(depot, number)
    plan = _plan(problem, depot)
    assert audit(problem, plan) == ()
    assert depot.search.cents == plan_cost(problem, plan).total
    assert depot.search.cents >= depot.master.value - 1


@pytest.mark.parametrize("seed", [56, 83, 285])
def test_of_visits_that_do_not_fit_together_to_the_minute_one_is_dropped(seed: int) -> None:
    problem = tiny(seed)
    depot = _priced(problem)
    assert round_off(depot)
    assert depot.search.together
    plan = _plan(problem, depot)
    left = {one.name for one in problem.services if one.is_required} & set(plan.skipped)
    assert all(left & set(broken.names) for broken in audit(problem, plan))


def test_where_nothing_fits_there_is_no_plan() -> None:
    depot = _priced(tiny(215))
    assert not round_off(depot)
    assert depot.search.cents is None
