"""The integer step: which of the visits at hand make the cheapest whole plan."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from fleetcare.solvers.clashes import Clash
from fleetcare.solvers.columns import Column, Rows, touched_days
from fleetcare.solvers.engine import search_engine

LOOK_EVERY_S = 0.05
"""Between two looks whether to stop."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Columns chosen (places in the list given), their price in cents with opening and leaving out, a bound under every
    choice, and the work spent. cents None: none was found; is_closed: bound and price meet, or there is none at all."""

    picked: tuple[int, ...]
    cents: int | None
    bound: int
    spent: float
    is_closed: bool


@dataclass(frozen=True, slots=True)
class Offer:
    """What may be chosen from. skip_cents: by service number. opening: cents by open day. clashes: what does not fit
    together to the minute."""

    columns: Sequence[Column]
    coefficients: Sequence[dict[int, float]]
    skip_cents: Sequence[int]
    opening: dict[int, int]
    clashes: Sequence[Clash] = ()


def choose(
    rows: Rows,
    offer: Offer,
    *,
    effort: float,
    seed: int,
    hint: Iterable[int] = (),
    taken: Iterable[int] = (),
    below: int | None = None,
    is_from_below: bool = False,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Choice:
    """The cheapest choice within the effort (deterministic seconds of the solver).

    hint: columns of a good choice. taken: columns that are chosen already. below: only what is cheaper than this is
    wanted. is_from_below: raises the bound step by step instead of looking for better choices.
    """
    model = cp_model.CpModel()
    grid = rows.grid
    take = [model.new_bool_var("") for _ in offer.columns]
    skip = [model.new_bool_var("") for _ in offer.skip_cents]
    opened = [model.new_bool_var("") for _ in grid.days]
    by_row: dict[int, list[tuple[int, int]]] = {}
    on_day: dict[tuple[int, int], list[int]] = {}
    for at, (column, entries) in enumerate(zip(offer.columns, offer.coefficients, strict=True)):
        for row, value in entries.items():
            by_row.setdefault(row, []).append((at, round(value)))
        for day in touched_days(grid, column):
            on_day.setdefault((column.vehicle, day), []).append(at)
    for number, left in enumerate(skip):
        model.add_exactly_one([left, *(take[at] for at, _ in by_row.get(number, ()))])
    days = len(grid.days)
    for row in sorted(by_row):
        terms = by_row[row]
        if row < rows.n_services:
            continue
        if row < rows.minutes_at:
            model.add(sum(take[at] for at, _ in terms) <= opened[(row - rows.open_at) % days])
            continue
        room = round(float(rows.room[row]))
        if sum(weight for _, weight in terms) > room:
            day_at = rows.opened_by.get(row)
            if day_at is not None and room:
                model.add(sum(weight * take[at] for at, weight in terms) <= room * opened[day_at])
            elif all(weight == 1 for _, weight in terms) and room == 1:
                model.add_at_most_one([take[at] for at, _ in terms])
            else:
                model.add(sum(weight * take[at] for at, weight in terms) <= room)
    for key in sorted(on_day):
        if len(on_day[key]) > 1:
            model.add_at_most_one([take[at] for at in on_day[key]])
    for at in taken:
        model.add(take[at] == 1)
    for clash in offer.clashes:
        # Those that stand for the same visit arrive on the same day, and of these a plan holds one at most.
        model.add(sum(take[at] for places in clash for at in places) <= len(clash) - 1)
    cents = cp_model.LinearExpr.weighted_sum(
        [*take, *skip, *opened],
        [
            *(column.cents for column in offer.columns),
            *offer.skip_cents,
            *(offer.opening[day] for day in grid.days),
        ],
    )
    if below is not None:
        model.add(cents <= below - 1)
    model.minimize(cents)
    hinted = frozenset(hint)
    if hinted:
        done = {number for at in hinted for number, _ in offer.columns[at].modes}
        open_days = {day for at in hinted for day in _worked(rows, offer.coefficients[at])}
        for at, variable in enumerate(take):
            model.add_hint(variable, at in hinted)
        for number, variable in enumerate(skip):
            model.add_hint(variable, number not in done)
        for k, variable in enumerate(opened):
            model.add_hint(variable, k in open_days)
    solver = search_engine(effort=effort, seed=seed)
    solver.parameters.linearization_level = 2
    # With ten thousand visits probing takes most of the time, and its like is found by the search anyway (measured:
    # 7.3 -> 2.6 and 13.1 -> 8.3 CPU s).
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.max_presolve_iterations = 1
    solver.parameters.optimize_with_core = is_from_below
    with _Watched(solver, is_stopped):
        status = solver.solve(model)
    spent = solver.response_proto.deterministic_time
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        picked = tuple(at for at, variable in enumerate(take) if solver.boolean_value(variable))
        value = round(solver.objective_value)
        bound = value if status == cp_model.OPTIMAL else int(solver.best_objective_bound)
        return Choice(picked, value, bound, spent, status == cp_model.OPTIMAL)
    if status == cp_model.INFEASIBLE:
        return Choice((), None, below if below is not None else 2**62, spent, True)
    return Choice((), None, int(min(solver.best_objective_bound, below or 2**62)), spent, False)


def _worked(rows: Rows, entries: dict[int, float]) -> set[int]:
    days = len(rows.grid.days)
    return {(row - rows.open_at) % days for row in entries if rows.open_at <= row < rows.minutes_at}


class _Watched:
    """While a search runs, asks now and then whether somebody wants it to end, and ends it."""

    def __init__(self, solver: cp_model.CpSolver, is_stopped: Callable[[], bool]) -> None:
        self._solver, self._is_stopped = solver, is_stopped
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def _watch(self) -> None:
        while not self._done.wait(LOOK_EVERY_S):
            if self._is_stopped():
                self._solver.stop_search()

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()
