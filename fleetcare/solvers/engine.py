"""The search engine as it is used here: one thread, a fixed beginning, and an end after so much work, not time."""

from __future__ import annotations

from ortools.sat.python import cp_model


def search_engine(*, effort: float, seed: int) -> cp_model.CpSolver:
    """An engine that takes the same way each time. effort: deterministic seconds."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    solver.parameters.max_deterministic_time = effort
    # Ctrl-C belongs to the command; the engine would take it, and not give it back.
    solver.parameters.catch_sigint_signal = False
    return solver
