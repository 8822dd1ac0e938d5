"""Which solver for which problem."""

from __future__ import annotations

from collections import Counter

from fleetcare.bayplan.port import Solver
from fleetcare.bayplan.problem import BayProblem
from fleetcare.solvers.exact import ExactSolver
from fleetcare.solvers.fleet import FleetSolver

MOST_TO_PROVE = 25
"""Vehicles of one depot up to which a proof is tried for; beyond it the time is better spent on the plan."""


def solver_for(problem: BayProblem) -> Solver:
    """The solver that suits a problem of this size."""
    largest = max(Counter(vehicle.depot for vehicle in problem.vehicles).values(), default=0)
    return ExactSolver() if largest <= MOST_TO_PROVE else FleetSolver()
