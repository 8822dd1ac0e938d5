"""Depots planned side by side have the plans they have one after another, and their processes outlive nobody."""

from __future__ import annotations

import os
import signal
import subprocess
import sys

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.errors import SearchTrouble
from fleetcare.intake.schedule_files import plan_text
from fleetcare.solvers import side_by_side
from fleetcare.solvers.apart import ApartSolver
from fleetcare.solvers.exact import ExactSolver, only_depots, shares_of
from fleetcare.solvers.fleet import FleetSolver
from fleetcare.solvers.pick import solver_for
from fleetcare.solvers.side_by_side import SideBySide, groups_of
from tests.bench.bay_garages import garage
from tests.house.tree import ROOT
from tests.solvers.test_apart import ENDLESS, wait_until_gone

LIMITS = Limits(steps=9.0, seed=3)


def yards() -> BayProblem:
    """Three depots, with work enough for processes of their own."""
    return garage(name="yards", vehicles=27, days=60, seed=2, is_household=False, depots=3)


@pytest.fixture(scope="module")
def alone() -> Answer:
    """Planned in this process."""
    return FleetSolver().solve(yards(), LIMITS)


@pytest.fixture
def children(monkeypatch: pytest.MonkeyPatch) -> list[ApartSolver]:
    """The searches in processes of their own that are begun meanwhile."""
    begun: list[ApartSolver] = []

    class Noted(ApartSolver):
        def __enter__(self) -> Noted:
            begun.append(self)
            return self

    monkeypatch.setattr(side_by_side, "ApartSolver", Noted)
    return begun


@pytest.mark.parametrize("processes", [2, 3])
def test_however_many_processes_there_are_the_answer_is_the_same(
    alone: Answer, children: list[ApartSolver], processes: int
) -> None:
    told: list[tuple[Progress, BayPlan | None]] = []
    answer = SideBySide(FleetSolver, processes).solve(yards(), LIMITS, tell=lambda *heard: told.append(heard))
    assert len(children) == processes
    assert alone.plan is not None
    assert answer.plan is not None
    assert plan_text(answer.plan) == plan_text(alone.plan)
    assert answer == alone
    assert audit(yards(), answer.plan) == ()
    assert answer.total == plan_cost(yards(), answer.plan).total
    totals = [progress.total for progress, _ in told if progress.total is not None]
    assert totals
    assert totals == sorted(totals, reverse=True)
    last, plan = told[-1]
    assert (last.total, last.bound, plan) == (answer.total, answer.bound, answer.plan)


def test_a_depot_has_the_plan_it_has_by_itself(alone: Answer) -> None:
    problem = yards()
    shares = shares_of(problem, LIMITS.steps)
    assert alone.plan is not None
    for name in ("D0", "D1", "D2"):
        own = only_depots(problem, {name})
        answer = FleetSolver({name: shares[name]}).solve(own, Limits(shares[name], LIMITS.seed))
        vehicles = {vehicle.name for vehicle in own.vehicles}
        assert answer.plan is not None
        assert answer.plan.visits == tuple(visit for visit in alone.plan.visits if visit.vehicle in vehicles)


def test_stopped_it_answers_with_the_best_plans_so_far_and_leaves_nothing_behind(children: list[ApartSolver]) -> None:
    seen: list[BayPlan] = []
    processes: set[int] = set()

    def tell(progress: Progress, plan: BayPlan | None) -> None:
        processes.update(one.process_id for one in children if one.process_id is not None)
        if progress.total is not None and plan is not None:
            seen.append(plan)

    answer = SideBySide(FleetSolver, 2).solve(yards(), Limits(ENDLESS, 1, lambda: bool(seen)), tell=tell)
    assert answer.outcome is Outcome.FOUND
    assert answer.plan is not None
    assert audit(yards(), answer.plan) == ()
    assert len(processes) == 2
    assert all(wait_until_gone(process) for process in processes)


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_if_one_process_comes_to_grief_it_is_told_and_the_others_end(children: list[ApartSolver]) -> None:
    processes: set[int] = set()

    def tell(_progress: Progress, _plan: BayPlan | None) -> None:
        processes.update(one.process_id for one in children if one.process_id is not None)
        first = children[0].process_id
        if len(processes) == 2 and first is not None:
            os.kill(first, signal.SIGKILL)

    with pytest.raises(SearchTrouble, match="before it had an answer"):
        SideBySide(FleetSolver, 2).solve(yards(), Limits(ENDLESS), tell=tell)
    assert all(wait_until_gone(process) for process in processes)


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_if_the_search_is_killed_in_a_process_of_its_own_those_it_began_end_too() -> None:
    code = """
from fleetcare.bayplan.port import Limits
from fleetcare.solvers import side_by_side
from fleetcare.solvers.apart import ApartSolver
from fleetcare.solvers.fleet import FleetSolver
from tests.solvers.test_side_by_side import ENDLESS, yards
begun = []
class Noted(ApartSolver):
    def __enter__(self):
        begun.append(self)
        return self
side_by_side.ApartSolver = Noted
tell = lambda *_: print(*(one.process_id for one in begun), flush=True)
side_by_side.SideBySide(FleetSolver, 2).solve(yards(), Limits(ENDLESS), tell=tell)
"""
    with subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, text=True) as asking:
        assert asking.stdout is not None
        processes = [int(each) for each in asking.stdout.readline().split()]
        asking.kill()
    assert len(processes) == 2
    assert all(wait_until_gone(process) for process in processes)


def test_work_is_shared_out_evenly_and_depots_without_work_are_nobodys() -> None:
    assert groups_of({"a": 5.0, "b": 4.0, "c": 3.0, "d": 2.0, "e": 0.0}, 2) == [("a", "d"), ("b", "c")]
    assert groups_of({"a": 5.0}, 4) == [("a",)]


def test_one_processor_or_one_depot_is_planned_as_ever(children: list[ApartSolver]) -> None:
    assert isinstance(solver_for(yards(), processes=1), ExactSolver)
    assert isinstance(solver_for(yards(), processes=2), SideBySide)
    assert isinstance(solver_for(only_depots(yards(), {"D0"}), processes=2), ExactSolver)
    few = garage(name="yards", vehicles=4, days=20, seed=1, is_household=False, depots=2)
    assert SideBySide(ExactSolver, 2).solve(few, LIMITS) == ExactSolver().solve(few, LIMITS)
    assert not children
