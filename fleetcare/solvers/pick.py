"""Which solver for which problem."""

from __future__ import annotations

import os
from collections import Counter

from fleetcare.bayplan.port import Solver
from fleetcare.bayplan.problem import BayProblem
from fleetcare.solvers.exact import ExactSolver
from fleetcare.solvers.fleet import FleetSolver
from fleetcare.solvers.side_by_side import SideBySide

MOST_TO_PROVE = 25
"""Vehicles of one depot up to which a proof is tried for; beyond it the time is better spent on the plan."""


def solver_for(problem: BayProblem, *, processes: int | None = None) -> Solver:
    """The solver that suits a problem of this size. processes: how many may work on its depots side by side; else as
    many as there are processors to use."""
    depots = Counter(vehicle.depot for vehicle in problem.vehicles)
    kind = ExactSolver if max(depots.values(), default=0) <= MOST_TO_PROVE else FleetSolver
    many = usable_processors() if processes is None else processes
    return SideBySide(kind, many) if many > 1 and len(depots) > 1 else kind()


def usable_processors() -> int:
    """Those that this process may run on."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
