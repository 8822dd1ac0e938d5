"""The whole problem of a depot in one model, without generating visits: a second opinion of another family.

Ingredients stand by themselves: where each service is laid, where each set-up is done, which visits there are, which
days are opened. Its bound is weaker than that of whole visits, so it proves small garages only; it shares the numbers
of the depot and the minute step with the other solver, and neither pricing, columns nor the linear programme.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from fleetcare.bayplan.day_costs import move_cents, out_of_use_cents
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.columns import Column
from fleetcare.solvers.depot import Search
from fleetcare.solvers.engine import search_engine
from fleetcare.solvers.exact import joined, left_out_price
from fleetcare.solvers.grid import DepotGrid, VehicleGrid, depot_grid
from fleetcare.solvers.groups import Key

MOST_TRIES = 200


@dataclass(slots=True)
class _Parts:
    """The variables of a depot's model."""

    modes: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    """(service, mode)."""
    stays: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)
    """(vehicle, first shift, last shift)."""
    setups: dict[tuple[int, int, int], cp_model.IntVar] = field(default_factory=dict)
    """(vehicle, set-up, shift)."""
    skips: dict[int, cp_model.IntVar] = field(default_factory=dict)
    opened: dict[int, cp_model.IntVar] = field(default_factory=dict)


class CompactSolver:
    """One model for each depot. Good for a household."""

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """Plans each depot in turn; steps are shared out evenly."""
        price = left_out_price(problem)
        depots = sorted(problem.depots, key=lambda one: one.name)
        searches = []
        for depot in depots:
            search = Search(
                depot_grid(problem, depot, standing),
                price,
                limits.seed,
                limits.steps / len(depots),
                limits.is_stopped,
                lambda one, phase: None,
            )
            search.standing, search.steps = standing, search.left
            searches.append(search)
            _solve_depot(search)
        return joined(problem, searches)


def _solve_depot(search: Search) -> None:
    model, parts = _model(search)
    while not search.is_over:
        solver = search_engine(effort=search.left, seed=search.seed)
        status = solver.solve(model)
        search.left -= solver.response_proto.deterministic_time + 0.001
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return
        search.bound = max(search.bound, int(solver.best_objective_bound))
        chosen = [key for key, variable in parts.modes.items() if solver.boolean_value(variable)]
        columns = _columns(search.grid, parts, solver, chosen)
        cents = round(solver.objective_value)
        if search.take(columns, cents):
            search.is_proven = status == cp_model.OPTIMAL and not search.has_doubt
            return
        for group in list(search.together):
            model.add_bool_or([variable.negated() for key in group for variable in _variables(parts, key)])


def _variables(parts: _Parts, key: Key) -> Iterable[cp_model.IntVar]:
    """What a visit of this key is made of."""
    vehicle, first, last, modes, setups = key
    yield parts.stays[vehicle, first, last]
    for number, mode in modes:
        yield parts.modes[number, mode]
    for at, q in setups:
        yield parts.setups[vehicle, at, q]


def _model(search: Search) -> tuple[cp_model.CpModel, _Parts]:
    grid = search.grid
    model, parts = cp_model.CpModel(), _Parts()
    parts.opened = {day: model.new_bool_var("") for day in grid.days}
    terms: list[tuple[int, cp_model.IntVar]] = [(grid.opening[day], one) for day, one in parts.opened.items()]
    load: dict[tuple[int, str], list[tuple[int, cp_model.IntVar]]] = {}
    held: dict[tuple[str, int], list[tuple[int, cp_model.IntVar]]] = {}
    for vehicle in grid.vehicles:
        _vehicle(model, parts, search, vehicle, terms, load, held)
    skilled: dict[str, int] = {}
    for (q, skill), used in load.items():
        able = sum(not skill or skill in grid.problem.hand_by_name[name].skills for name in grid.shifts[q].people)
        model.add(sum(minutes * one for minutes, one in used) <= able * int(grid.length[q]))
        skilled[skill] = 1
    for q in range(len(grid.shifts)):
        used = [*load.get((q, ""), []), *held.get(("through", q), [])]
        if used:
            model.add(sum(minutes * one for minutes, one in used) <= grid.depot.bays * int(grid.length[q]))
        over = held.get(("past", q), [])
        if over:
            model.add(sum(one for _, one in over) <= grid.depot.bays)
    _orders(model, parts, grid)
    model.minimize(sum(cents * one for cents, one in terms))
    return model, parts


def _vehicle(
    model: cp_model.CpModel,
    parts: _Parts,
    search: Search,
    vehicle: VehicleGrid,
    terms: list[tuple[int, cp_model.IntVar]],
    load: dict[tuple[int, str], list[tuple[int, cp_model.IntVar]]],
    held: dict[tuple[str, int], list[tuple[int, cp_model.IntVar]]],
) -> None:
    grid, number = search.grid, vehicle.number
    inner: dict[tuple[int, int], frozenset[int]] = {}
    for shape in vehicle.shapes:
        for frame in shape.shifts.tolist():
            inner[frame[shape.arrive], frame[shape.last]] = frozenset(frame)
    on_day: dict[int, list[cp_model.IntVar]] = {}
    own_load: dict[int, list[tuple[int, cp_model.IntVar]]] = {}
    for (a, b), _ in sorted(inner.items()):
        stay = parts.stays[number, a, b] = model.new_bool_var("")
        cents = vehicle.vehicle.arrive_cents + vehicle.vehicle.arrive_min * int(grid.premium[a])
        cents += out_of_use_cents(vehicle.vehicle.out_cents_per_hour, int(grid.ends[b] - grid.starts[a]))
        terms.append((cents, stay))
        own_load.setdefault(a, []).append((vehicle.vehicle.arrive_min, stay))
        for day in range(int(grid.day[a]), int(grid.day[b]) + 1):
            on_day.setdefault(day, []).append(stay)
        for day in (int(grid.day[a]), int(grid.day[b])):
            model.add_implication(stay, parts.opened[day])
        if a != b:
            for q in range(len(grid.shifts)):
                if grid.ends[a] <= grid.ends[q] < grid.starts[b]:
                    held.setdefault(("past", q), []).append((1, stay))
                # With work of its own in a shift between, its minutes count by themselves; a stay without services
                # there holds the bay all the same, which the minute step sees.
    for per_day in on_day.values():
        model.add_at_most_one(per_day)
    covering = {
        q: [parts.stays[number, a, b] for (a, b), shifts in inner.items() if q in shifts]
        for q in sorted(frozenset().union(*inner.values()) if inner else ())
    }
    for at, name in enumerate(vehicle.setups):
        setup = grid.problem.setup_by_name[name]
        for q in covering:
            done = parts.setups[number, at, q] = model.new_bool_var("")
            terms.append((setup.cents + setup.minutes * int(grid.premium[q]), done))
            own_load.setdefault(q, []).append((setup.minutes, done))
            model.add(sum(covering[q]) >= done)
            model.add_implication(done, parts.opened[int(grid.day[q])])
        for (a, b), shifts in inner.items():
            if len(shifts) > 1:
                here = [parts.setups[number, at, q] for q in sorted(shifts)]
                model.add(sum(here) <= 1).only_enforce_if(parts.stays[number, a, b])
    ends: dict[int, list[cp_model.IntVar]] = {}
    for one in vehicle.services:
        skip = parts.skips[one.number] = model.new_bool_var("")
        price = (
            search.left_out_cents
            if one.service.is_required
            else (one.service.skip_cents + move_cents(one.service, None))
        )
        terms.append((price, skip))
        options = [skip]
        for mode, shifts in enumerate(one.shifts.tolist()):
            over = [parts.stays[number, a, b] for (a, b), within in inner.items() if within.issuperset(shifts)]
            laid = parts.modes[one.number, mode] = model.new_bool_var("")
            options.append(laid)
            terms.append((int(one.cents[mode]), laid))
            model.add(sum(over) >= laid)
            for stage, q in zip(one.service.stages, shifts, strict=True):
                own_load.setdefault(q, []).append((stage.minutes, laid))
                if stage.skill:
                    load.setdefault((q, stage.skill), []).append((stage.minutes, laid))
                model.add_implication(laid, parts.opened[int(grid.day[q])])
                ends.setdefault(q, []).append(laid)
            for name in one.service.setups:
                placed = parts.setups.get((number, vehicle.setups.index(name), shifts[0]))
                if placed is None:
                    model.add(laid == 0)
                else:
                    model.add_implication(laid, placed)
        model.add_exactly_one(options)
    for a, b in inner:
        model.add(sum(ends.get(b, [])) >= parts.stays[number, a, b])
    for q, used in own_load.items():
        model.add(sum(minutes * one for minutes, one in used) <= int(grid.length[q]))
        load.setdefault((q, ""), []).extend(used)


def _orders(model: cp_model.CpModel, parts: _Parts, grid: DepotGrid) -> None:
    numbers = {one.service.name: one for one in grid.services}
    for one, after in ((each, after) for each in grid.services for after in each.service.after):
        before, gap = numbers[after.service], after.gap_days
        for mode, shifts in enumerate(one.shifts.tolist()):
            first = int(grid.day[shifts[0]])
            clash = [
                parts.modes[before.number, other]
                for other, theirs in enumerate(before.shifts.tolist())
                if int(grid.day[theirs[-1]]) + gap > first
            ]
            if clash:
                model.add(sum(clash) + parts.modes[one.number, mode] <= 1)


def _columns(grid: DepotGrid, parts: _Parts, solver: cp_model.CpSolver, chosen: list[tuple[int, int]]) -> list[Column]:
    found = []
    stays = [key for key, variable in parts.stays.items() if solver.boolean_value(variable)]
    modes_of = {one.number: one for one in grid.services}
    for vehicle, a, b in stays:
        own = {one.number for one in grid.vehicles[vehicle].services}
        days = range(int(grid.day[a]), int(grid.day[b]) + 1)
        modes = tuple(sorted((n, m) for n, m in chosen if n in own and int(grid.day[modes_of[n].shifts[m, 0]]) in days))
        setups = tuple(
            sorted(
                (at, q)
                for (number, at, q), variable in parts.setups.items()
                if number == vehicle and int(grid.day[q]) in days and solver.boolean_value(variable)
            )
        )
        found.append(Column(vehicle, a, b, modes, setups, 0))
    return found
