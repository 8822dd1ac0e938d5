"""The child process: bay problems on standard input, how each search comes on and its answer on standard output.

Both ways go values as Python keeps them; nobody but the process that started this one holds the other ends. When they
close, this process ends, whatever it is at.
"""

from __future__ import annotations

import os
import pickle
import queue
import sys
import threading
from dataclasses import dataclass
from typing import IO

from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress, Solver
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing

STOP = "stop"
"""Sent instead of a task: end the search that goes on, with the best plan so far."""


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked. steps, seed: as `Limits` has them. proven: a proof is wanted, however large the problem is.
    solver: who is asked; else whichever suits the problem."""

    problem: BayProblem
    standing: Standing
    steps: float
    seed: int
    proven: bool = False
    solver: Solver | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """How the search stands, with a plan if it is another one than before; or its answer."""

    progress: Progress | None = None
    plan: BayPlan | None = None
    answer: Answer | None = None


def main(niceness: int) -> None:
    """Answers one task after another until nobody asks any more. niceness: how far it stands back for others."""
    if hasattr(os, "nice"):
        os.nice(niceness)
    said_to = os.fdopen(os.dup(1), "wb")
    # An engine that prints would be taken for an answer.
    os.dup2(2, 1)
    from fleetcare.solvers.exact import ExactSolver
    from fleetcare.solvers.pick import solver_for

    tasks: queue.SimpleQueue[Task] = queue.SimpleQueue()
    stopped = threading.Event()
    threading.Thread(target=_listen, args=(sys.stdin.buffer, tasks, stopped), daemon=True).start()
    while True:
        task = tasks.get()
        last: list[BayPlan | None] = [None]

        def tell(progress: Progress, plan: BayPlan | None, last: list[BayPlan | None] = last) -> None:
            news = None if plan == last[0] else plan
            last[0] = plan
            _say(said_to, Said(progress, news))

        limits = Limits(task.steps, task.seed, stopped.is_set)
        solver = ExactSolver() if task.proven else task.solver or solver_for(task.problem)
        answer = solver.solve(task.problem, limits, tell=tell, standing=task.standing)
        _say(said_to, Said(answer=answer))


def _listen(pipe: IO[bytes], tasks: queue.SimpleQueue[Task], stopped: threading.Event) -> None:
    """Hears beside the search; the end of what it hears is the end of this process."""
    while True:
        try:
            heard = pickle.load(pipe)  # noqa: S301 - what the process says that started this one
        except (EOFError, OSError):
            os._exit(0)
        if isinstance(heard, Task):
            tasks.put(heard)
        elif heard == STOP:
            stopped.set()


def _say(pipe: IO[bytes], said: Said) -> None:
    try:
        pickle.dump(said, pipe)
        pipe.flush()
    except OSError:
        os._exit(0)
