"""Which solver for which problem."""

from __future__ import annotations

from fleetcare.bayplan.port import Solver
from fleetcare.bayplan.problem import BayProblem
from fleetcare.solvers.exact import ExactSolver


def solver_for(problem: BayProblem) -> Solver:
    """The solver that suits a problem of this size."""
    return ExactSolver()
