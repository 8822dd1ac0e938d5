"""Set-ups are shared by what is done in one visit: one made, one paid, one in the reasons; and none is lost."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import service_days
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.explain import ReasonKind, explain
from fleetcare.bayplan.plan import WorkKind
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.problem import SetUp
from fleetcare.bayplan.shared_setups import SAME_FLUID, USUAL_SET_UP_MIN, shared_set_ups
from fleetcare.fleet.component import LineKey
from fleetcare.settings.job_files import load_jobs
from fleetcare.settings.places import SHIPPED_JOBS, SHIPPED_WORKSHOP, shipped_config
from fleetcare.settings.workshop_file import load_workshop
from fleetcare.solvers.days import ExactDays
from fleetcare.solvers.exact import ExactSolver
from tests.bayplan.test_garage_problem import PRICES, problem, wanted

REAR, FRONT = LineKey("AN", "rear-axle", "axle-oil"), LineKey("AN", "front-axle", "axle-oil")
OTHER = LineKey("BE", "rear-axle", "axle-oil")
PUMP = SetUp(SAME_FLUID, 10, 300)
GEAR_OIL = "75W-140 GL-5"


def test_a_fluid_that_two_components_take_is_a_set_up_of_both_and_one_that_has_it_alone_takes_its_minutes() -> None:
    asked = [(REAR, ("on stands",), GEAR_OIL), (FRONT, (), GEAR_OIL), (OTHER, (), GEAR_OIL)]
    shared = shared_set_ups(asked, (SetUp("on stands", 20, 500), PUMP))
    name = f"{SAME_FLUID}: {GEAR_OIL}"
    assert shared.of == {REAR: ("on stands", name), FRONT: (name,), OTHER: ()}
    assert shared.setups[-1] == SetUp(name, 10, 300)
    assert shared.own_minutes == {OTHER: 10}


def test_another_fluid_and_a_garage_without_that_row_share_nothing() -> None:
    assert shared_set_ups([(REAR, (), GEAR_OIL), (FRONT, (), "75W-90 GL-5")], (PUMP,)).of == {REAR: (), FRONT: ()}
    assert shared_set_ups([(REAR, (), GEAR_OIL), (FRONT, (), GEAR_OIL)], ()).of == {REAR: (), FRONT: ()}


def test_a_set_up_without_a_row_is_planned_all_the_same_and_named() -> None:
    shared = shared_set_ups([(REAR, ("on a lift",), "")], (PUMP,))
    assert shared.unpriced == ("on a lift",)
    assert SetUp("on a lift", USUAL_SET_UP_MIN, 0) in shared.setups
    (service,) = problem(wanted(set_ups=("on a lift",))).services
    assert service.setups == ("on a lift",)


def test_every_set_up_of_the_shipped_jobs_has_its_row() -> None:
    rows = {one.name for one in load_workshop(shipped_config() / SHIPPED_WORKSHOP).prices.setups}
    jobs = load_jobs(shipped_config() / SHIPPED_JOBS, Path("none")).jobs.values()
    assert {name for job in jobs for name in job.set_ups} == rows - {SAME_FLUID, "under-tray off"}


def test_two_axles_with_one_oil_come_in_together_and_the_pump_is_filled_once() -> None:
    """Both in one visit: 300 cents for the pump, not 600; and the reason says so, with the arrival saved."""
    both = [wanted(line=line, parts=((60, None),), set_ups=(), fluid=GEAR_OIL) for line in (REAR, FRONT)]
    of = problem(*both)
    answer = ExactSolver().solve(of, Limits(40))
    assert answer.plan is not None
    assert answer.outcome is Outcome.PROVEN
    assert audit(of, answer.plan) == ()
    (visit,) = answer.plan.visits
    made = [one.setup for one in visit.work if one.kind is WorkKind.SETUP]
    assert made == [f"{SAME_FLUID}: {GEAR_OIL}"]
    assert plan_cost(of, answer.plan).setups == 300
    (together,) = [
        each for each in explain(of, answer.plan, visit, ExactDays()).reasons if each.kind is ReasonKind.TOGETHER
    ]
    assert together.cents == PRICES.arrive + 300


def test_the_audit_misses_a_pump_that_nobody_filled() -> None:
    both = [wanted(line=line, parts=((60, None),), set_ups=(), fluid=GEAR_OIL) for line in (REAR, FRONT)]
    of = problem(*both)
    plan = ExactSolver().solve(of, Limits(40)).plan
    assert plan is not None
    (visit,) = plan.visits
    bare = replace(visit, work=tuple(one for one in visit.work if one.kind is not WorkKind.SETUP))
    assert len(audit(of, replace(plan, visits=(bare,)))) == 2
    assert set(service_days(of, plan)) == {str(REAR), str(FRONT)}
