"""The audit names each rule a plan breaks, and the price is the sum of its terms; both by hand on one small plan."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleetcare.bayplan.audit import Rule, audit
from fleetcare.bayplan.cost import PlanCost, plan_cost
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.problem import (
    After,
    BayProblem,
    BayService,
    Depot,
    Hand,
    PlanVehicle,
    Published,
    SetUp,
    Shift,
    Stage,
    Wait,
)

SAT, SUN = 5 * 1440, 6 * 1440
CERTAIN = ((0, 1_000_000),)


def yard() -> BayProblem:
    """One yard: Ines and Teo, a Saturday and a Sunday; Anvil and Bellows; one bay."""
    return BayProblem(
        name="yard",
        days=7,
        max_visit_min=3600,
        setups=(SetUp("wheels off", 35, 900),),
        depots=(Depot("yard", 1, 1500),),
        people=(Hand("ines", "yard", ("seal",)), Hand("teo", "yard")),
        shifts=(
            Shift("sat", "yard", 5, 540, 780, ("ines", "teo")),
            Shift("sun", "yard", 6, 600, 780, ("ines",), 8),
        ),
        vehicles=(
            PlanVehicle("anvil", "yard", 15, 800, 60),
            PlanVehicle("bellows", "yard", 10, 700, 40, ((SUN, SUN + 1440),)),
        ),
        services=(
            BayService("rotation", "anvil", (Stage(20),), setups=("wheels off",), early_cents_per_day=8, due=CERTAIN),
            BayService(
                "sealing",
                "anvil",
                (Stage(45, "seal"), Stage(25, "seal")),
                waits=(Wait(600, 1500),),
                late_cents_per_day=20,
                overdue_cents=1200,
                published=Published(4, 500, 20),
                due=CERTAIN,
            ),
            BayService("filter", "bellows", (Stage(20),), cost_by_day=(0, 1, 2, 3, 4, 5, 6)),
            BayService("wax", "bellows", (Stage(20),), is_required=False, skip_cents=333, due=CERTAIN),
        ),
    )


ANVIL = Visit(
    "anvil",
    0,
    (
        Work(WorkKind.ARRIVE, "sat", "ines", SAT + 600),
        Work(WorkKind.STAGE, "sat", "ines", SAT + 615, service="sealing", stage=0),
        Work(WorkKind.SETUP, "sat", "ines", SAT + 660, setup="wheels off"),
        Work(WorkKind.STAGE, "sat", "ines", SAT + 695, service="rotation", stage=0),
        Work(WorkKind.STAGE, "sun", "ines", SUN + 600, service="sealing", stage=1),
    ),
)
BELLOWS = Visit(
    "bellows",
    0,
    (
        Work(WorkKind.ARRIVE, "sat", "teo", SAT + 540),
        Work(WorkKind.STAGE, "sat", "teo", SAT + 550, service="filter", stage=0),
    ),
)
PLAN = BayPlan("yard", (ANVIL, BELLOWS), ("wax",))


def test_a_plan_that_keeps_every_rule_passes() -> None:
    assert audit(yard(), PLAN) == ()


def test_the_price_is_the_sum_of_its_terms() -> None:
    # Due on day 0 for certain. Rotation on day 5: five days late, nothing set for that. Sealing ends on day 6: six days
    # late at 20 and overdue at 1200; begins on day 5, told for 4: 500 + 20. Filter on day 5: 5.
    # Anvil stays from Sat 9:00 to Sun 13:00, 28 h at 60; Bellows 4 h at 40. Premium: 25 min on Sunday at 8.
    assert plan_cost(yard(), PLAN) == PlanCost(
        days=6 * 20 + 1200 + 5,
        moves=520,
        skipped=333,
        arrivals=1500,
        out_of_use=28 * 60 + 160,
        setups=900,
        opening=3000,
        premium=200,
    )
    assert plan_cost(yard(), PLAN).total == 1325 + 520 + 333 + 1500 + 1840 + 900 + 3000 + 200


def moved(visit: Visit, at: int, **changed: object) -> BayPlan:
    """The plan with one piece of work of one visit changed."""
    work = list(visit.work)
    work[at] = replace(work[at], **changed)  # type: ignore[arg-type]
    return BayPlan(
        "yard", tuple(replace(visit, work=tuple(work)) if one is visit else one for one in PLAN.visits), ("wax",)
    )


def without(visit: Visit, at: int) -> BayPlan:
    """The plan with one piece of work of one visit left out."""
    work = visit.work[:at] + visit.work[at + 1 :]
    return BayPlan("yard", tuple(replace(visit, work=work) if one is visit else one for one in PLAN.visits), ("wax",))


@pytest.mark.parametrize(
    ("plan", "rule", "name"),
    [
        (replace(PLAN, skipped=()), Rule.WHOLE, "wax"),
        (replace(PLAN, skipped=("wax", "filter")), Rule.WHOLE, "filter"),
        (without(ANVIL, 4), Rule.WHOLE, "sealing"),
        (replace(PLAN, skipped=("wax", "paint")), Rule.NAMES, "paint"),
        (moved(ANVIL, 3, start=SAT + 770), Rule.SHIFT, "rotation"),
        (moved(BELLOWS, 1, person="nobody"), Rule.NAMES, "nobody"),
        (moved(ANVIL, 1, person="teo"), Rule.SHIFT, "sealing"),
        (moved(BELLOWS, 1, start=SAT + 545), Rule.ARRIVAL, "bellows"),
        (moved(BELLOWS, 1, start=SAT + 545), Rule.VEHICLE, "bellows"),
        (moved(BELLOWS, 0, person="ines"), Rule.PERSON, "ines"),
        (without(BELLOWS, 0), Rule.ARRIVAL, "bellows"),
        (without(ANVIL, 2), Rule.SETUP, "rotation"),
        (moved(ANVIL, 2, start=SAT + 700), Rule.SETUP, "rotation"),
        (moved(ANVIL, 4, start=SUN + 750), Rule.WAIT, "sealing"),
        (moved(BELLOWS, 1, start=SAT + 590), Rule.BAY, "bellows"),
        (replace(PLAN, visits=(replace(ANVIL, bay=1), BELLOWS)), Rule.BAY, "anvil"),
        (moved(BELLOWS, 1, shift="sun", person="ines", start=SUN + 700), Rule.AWAY, "bellows"),
    ],
)
def test_each_broken_rule_is_named(plan: BayPlan, rule: Rule, name: str) -> None:
    plan_of = plan if rule is not Rule.PERSON else moved(BELLOWS, 0, person="ines", start=SAT + 605)
    assert any(broken.rule is rule and name in broken.names for broken in audit(yard(), plan_of))


def test_a_stay_that_is_too_long_and_two_visits_on_a_day_are_named() -> None:
    short = replace(yard(), max_visit_min=600)
    assert {broken.rule for broken in audit(short, PLAN)} == {Rule.STAY}
    again = Visit(
        "bellows",
        1,
        (
            Work(WorkKind.ARRIVE, "sat", "teo", SAT + 730),
            Work(WorkKind.STAGE, "sat", "teo", SAT + 740, service="wax", stage=0),
        ),
    )
    twice = BayPlan("yard", (*PLAN.visits, again))
    roomy = replace(yard(), depots=(Depot("yard", 2, 1500),))
    assert {broken.rule for broken in audit(roomy, twice)} == {Rule.STAY}


def test_days_and_orders_asked_for_are_kept() -> None:
    services = {one.name: one for one in yard().services}
    late = replace(services["rotation"], not_before=6)
    early = replace(services["sealing"], not_after=5)
    behind = replace(services["rotation"], after=(After("sealing", 2),))
    for changed, name in ((late, "rotation"), (early, "sealing"), (behind, "rotation")):
        problem = replace(yard(), services=tuple({**services, changed.name: changed}.values()))
        assert [(b.rule, b.names[0]) for b in audit(problem, PLAN)] == [(Rule.WINDOW, name)]
