"""A garage's own orders between services: kept by the plan, and where they go in circles said by name and left."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import service_days
from fleetcare.bayplan.orders import Order, afters, circles, standing_orders
from fleetcare.bayplan.port import Limits
from fleetcare.bayplan.problem import After
from fleetcare.bayplan.workshop_doubts import workshop_doubts
from fleetcare.fleet.component import LineKey
from fleetcare.intake.schedule_files import parse_problem, problem_text
from fleetcare.solvers.compact import CompactSolver
from fleetcare.solvers.exact import ExactSolver
from fleetcare.solvers.fleet import FleetSolver
from tests.bayplan.test_garage_problem import PRICES, problem, wanted

OIL, HUBS = LineKey("AN", "rear-axle", "axle-oil"), LineKey("AN", "hubs", "wheel-bearings")
SHORT = ((45, None),)
names = st.sampled_from("abcde")


def two(*, oil_likely: date = date(2026, 5, 25), hubs_likely: date = date(2026, 5, 4)) -> list:  # type: ignore[type-arg]
    """Hubs that would rather come three weeks before the oil."""
    return [
        wanted(line=OIL, likely=oil_likely, parts=SHORT, work="drive axle oil"),
        wanted(line=HUBS, likely=hubs_likely, parts=SHORT, work="wheel bearings"),
    ]


@pytest.mark.parametrize("solver", [ExactSolver(), FleetSolver()])
def test_the_oil_comes_a_week_before_the_hubs_where_the_garage_wants_it_so(solver: ExactSolver | FleetSolver) -> None:
    of = problem(*two(), prices=replace(PRICES, orders=(Order("drive axle oil", "wheel bearings", 7),)))
    plan = solver.solve(of, Limits(40)).plan
    assert plan is not None
    assert audit(of, plan) == ()
    days = service_days(of, plan)
    assert days[str(HUBS)].first >= days[str(OIL)].last + 7
    free = ExactSolver().solve(problem(*two()), Limits(40)).plan
    assert free is not None
    without = service_days(of, free)
    assert without[str(HUBS)].first < without[str(OIL)].last + 7


def test_orders_in_a_circle_are_named_and_not_kept_and_the_rest_is() -> None:
    orders = (
        Order("drive axle oil", "wheel bearings"),
        Order("wheel bearings", "drive axle oil", 7),
        Order("brake fluid", "wheel bearings", 7),
    )
    prices = replace(PRICES, orders=orders)
    brakes = LineKey("AN", "brakes", "brake-fluid")
    asked = [*two(), wanted(line=brakes, parts=SHORT, work="brake fluid")]
    doubts = workshop_doubts(prices, asked, {"drive axle oil", "wheel bearings"})
    assert doubts.circles == (("drive axle oil", "wheel bearings"),)
    assert doubts.unknown == ("brake fluid",)
    of = problem(*asked, prices=prices)
    assert of.service_by_name[str(OIL)].after == ()
    assert of.service_by_name[str(HUBS)].after == (After(str(brakes), 7),)
    plan = ExactSolver().solve(of, Limits(40)).plan
    assert plan is not None
    assert audit(of, plan) == ()
    assert plan.skipped == ()


def test_a_service_that_comes_after_itself_is_a_circle_too() -> None:
    assert circles((Order("a", "a"),)) == (("a",),)


def test_orders_hold_on_one_vehicle_and_go_to_the_same_component_first_else_to_what_is_due_last() -> None:
    early, late = date(2026, 5, 1), date(2026, 6, 1)
    front = LineKey("AN", "front-axle", "axle-oil")
    lines = {
        OIL: ("oil", early),
        front: ("oil", late),
        LineKey("BE", "hubs", "wheel-bearings"): ("hubs", early),
        HUBS: ("hubs", early),
        LineKey("AN", "rear-axle", "seals"): ("hubs", early),
    }
    assert afters(lines, (Order("oil", "hubs", 3),)) == {
        HUBS: (After(str(front), 3),),
        LineKey("AN", "rear-axle", "seals"): (After(str(OIL), 3),),
    }


@pytest.mark.parametrize("solver", [ExactSolver(), CompactSolver(), FleetSolver()])
def test_a_service_comes_after_everything_that_an_order_puts_before_it(
    solver: ExactSolver | CompactSolver | FleetSolver,
) -> None:
    """The hubs a week after the oil and a fortnight after the brake fluid; either alone would let them sooner."""
    brakes = LineKey("AN", "brakes", "brake-fluid")
    orders = (Order("drive axle oil", "wheel bearings", 7), Order("brake fluid", "wheel bearings", 14))
    asked = [*two(), wanted(line=brakes, likely=date(2026, 5, 16), parts=SHORT, work="brake fluid")]
    of = problem(*asked, prices=replace(PRICES, orders=orders))
    assert of.service_by_name[str(HUBS)].after == (After(str(brakes), 14), After(str(OIL), 7))
    plan = solver.solve(of, Limits(40)).plan
    assert plan is not None
    assert plan.skipped == ()
    assert audit(of, plan) == ()
    days = service_days(of, plan)
    assert days[str(HUBS)].first >= max(days[str(OIL)].last + 7, days[str(brakes)].last + 14)
    for one in (0, 1):
        fewer = problem(*asked, prices=replace(PRICES, orders=orders[one : one + 1]))
        other = ExactSolver().solve(fewer, Limits(40)).plan
        assert other is not None
        assert audit(of, other) != (), "each of the two binds"
    assert parse_problem(problem_text(of).encode()) == of


@given(st.lists(st.builds(Order, names, names, st.integers(0, 9)), max_size=12))
def test_what_is_kept_has_no_circle_and_what_is_left_out_was_in_one(orders: list[Order]) -> None:
    kept = standing_orders(orders)
    assert circles(kept) == ()
    for order in set(orders) - set(kept):
        assert any(order.first in way and order.then in way for way in circles(orders))
