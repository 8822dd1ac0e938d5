"""A search in a child process finds what it finds here, ends when told, and outlives nobody."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.errors import SearchTrouble
from fleetcare.solvers.apart import ApartSolver
from fleetcare.solvers.pick import solver_for
from tests.bench.bay_garages import garage
from tests.house.tree import ROOT

PATIENCE_S = 120.0
ENDLESS = 1e9
"""Steps that nobody waits for."""


def small(seed: int = 1) -> BayProblem:
    return garage(name="apart", vehicles=3, days=45, seed=seed, is_household=True)


def large() -> BayProblem:
    """Big enough that its search goes on until it is ended."""
    return garage(name="long", vehicles=30, days=60, seed=1, is_household=False)


def is_gone(process: int) -> bool:
    """Ended; what nobody has waited for yet counts as that."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] == "Z"
    except OSError:
        return True


def wait_until_gone(process: int) -> bool:
    end = time.monotonic() + PATIENCE_S
    while not is_gone(process) and time.monotonic() < end:
        time.sleep(0.05)
    return is_gone(process)


class Asked:
    """A search that goes on in a thread, and what it has told."""

    def __init__(self, problem: BayProblem, *, grace_s: float) -> None:
        self.apart = ApartSolver(grace_s=grace_s)
        self.has_plan = threading.Event()
        self.told: list[BayPlan] = []
        self.answers: list[Answer] = []
        self._thread = threading.Thread(target=self._search, args=(problem,), daemon=True)
        self._thread.start()

    def _search(self, problem: BayProblem) -> None:
        self.answers.append(self.apart.solve(problem, Limits(ENDLESS), tell=self._heard))

    def _heard(self, progress: Progress, plan: BayPlan | None) -> None:
        if plan is not None:
            self.told.append(plan)
        if self.told and progress.total is not None:
            self.has_plan.set()

    def answer(self) -> Answer:
        self._thread.join(PATIENCE_S)
        (answer,) = self.answers
        return answer


def test_it_finds_what_is_found_here_and_one_child_serves_for_several() -> None:
    told: list[Progress] = []
    with ApartSolver() as apart:
        children = set()
        for seed in (1, 2):
            found = apart.solve(small(seed), Limits(5.0), tell=lambda progress, _: told.append(progress))
            assert found == solver_for(small(seed)).solve(small(seed), Limits(5.0))
            children.add(apart.process_id)
    assert len(children) == 1
    assert told
    (child,) = children
    assert child is not None
    assert is_gone(child)


@pytest.mark.parametrize("grace_s", [PATIENCE_S, 0.0])
def test_stopped_it_answers_with_the_best_plan_so_far(grace_s: float) -> None:
    """By itself if it is given the time, and by what it had told if it is not."""
    problem = large()
    asked = Asked(problem, grace_s=grace_s)
    try:
        assert asked.has_plan.wait(PATIENCE_S)
        asked.apart.stop()
        answer = asked.answer()
    finally:
        child = asked.apart.process_id
        asked.apart.close()
    assert answer.plan is not None
    assert answer.outcome is Outcome.FOUND
    assert not audit(problem, answer.plan)
    assert answer.total == plan_cost(problem, answer.plan).total
    if grace_s == 0.0:
        assert answer.plan == asked.told[-1]
    assert child is not None
    assert is_gone(child)


def test_stopped_before_it_has_begun_it_says_so_and_starts_nothing() -> None:
    with ApartSolver() as apart:
        apart.stop()
        answer = apart.solve(small(), Limits(5.0))
        assert apart.process_id is None
    assert (answer.outcome, answer.plan) == (Outcome.NOTHING, None)
    with ApartSolver() as other:
        assert other.solve(small(), Limits(5.0, is_stopped=lambda: True)).plan is None
        assert other.process_id is None


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_a_child_that_comes_to_grief_is_a_named_trouble() -> None:
    with ApartSolver() as apart:
        killed = threading.Event()

        def kill(_progress: Progress, _plan: BayPlan | None) -> None:
            if not killed.is_set():
                killed.set()
                assert apart.process_id is not None
                os.kill(apart.process_id, signal.SIGKILL)

        with pytest.raises(SearchTrouble, match="before it had an answer"):
            apart.solve(large(), Limits(ENDLESS), tell=kill)


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
def test_if_who_asked_is_killed_the_child_ends_too() -> None:
    code = """
import os
from fleetcare.bayplan.port import Limits
from fleetcare.solvers.apart import ApartSolver
from tests.solvers.test_apart import ENDLESS, large
apart = ApartSolver()
apart.solve(large(), Limits(ENDLESS), tell=lambda *_: print(apart.process_id, flush=True))
"""
    with subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stdout=subprocess.PIPE, text=True) as asking:
        assert asking.stdout is not None
        child = int(asking.stdout.readline())
        assert not is_gone(child)
        asking.kill()
    assert wait_until_gone(child)
