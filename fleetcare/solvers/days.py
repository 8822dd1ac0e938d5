"""Exact prices of one visit on other days, everything else as it stands; and single visits laid on a day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetcare.bayplan.cost import blocked, plan_cost
from fleetcare.bayplan.explain import DayPrice, why_not
from fleetcare.bayplan.plan import BayPlan, Visit
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import beside, standing_of
from fleetcare.solvers.bays import with_bays
from fleetcare.solvers.columns import Column, Rows
from fleetcare.solvers.grid import DepotGrid, depot_grid
from fleetcare.solvers.minutes import Fit, place
from fleetcare.solvers.pricing import Pricer

REWARD = 1e12
"""For each service asked for: a visit without one of them is worth a reward less than one with all, whatever it
costs."""
MOST_TRIED = 12
"""Layouts of one day tried to the minute, the cheapest first."""


class ExactDays:
    """Prices days by laying the visit anew on each."""

    def other_days(self, problem: BayProblem, plan: BayPlan, visit: Visit, days: Sequence[int]) -> tuple[DayPrice, ...]:
        """For each day the exact difference, or what forbids it."""
        others = tuple(one for one in plan.visits if one != visit)
        now = plan_cost(problem, plan).total
        laid = visits_on(problem, others, visit.vehicle, visit.services, days, all_begin=True)
        found = []
        for day in days:
            made = laid.get(day)
            if made is None:
                found.append(DayPrice(day, None, why_not(problem, plan, visit, day)))
            else:
                total = plan_cost(problem, replace(plan, visits=(*others, made))).total
                found.append(DayPrice(day, total - now))
        return tuple(found)


def place_on_day(
    problem: BayProblem, visits: Sequence[Visit], vehicle: str, names: Sequence[str], day: int
) -> Visit | None:
    """The cheapest visit with all these services that begins on the day, beside the visits that stand; None if none."""
    return visits_on(problem, visits, vehicle, names, [day]).get(day)


def visits_on(
    problem: BayProblem,
    standing: Sequence[Visit],
    vehicle: str,
    names: Sequence[str],
    days: Sequence[int],
    *,
    all_begin: bool = False,
) -> dict[int, Visit]:
    """For each day on which it can be, the cheapest visit with all these services beginning on it.

    all_begin: each of them is begun on that day, as a wish for the day has it (`bayplan/wish.py`), so that a vehicle is
    not fetched on one day to be worked on upon another.
    """
    own = problem.vehicle_by_name[vehicle]
    depot = problem.depot_by_name[own.depot]
    alone = replace(
        problem,
        depots=(depot,),
        people=tuple(one for one in problem.people if one.depot == depot.name),
        shifts=tuple(one for one in problem.shifts if one.depot == depot.name),
        vehicles=(own,),
        services=tuple(one for one in problem.services if one.vehicle == vehicle),
    )
    small = _near(beside(alone, [one for one in standing if one.vehicle == vehicle], names), days)
    settled = standing_of(problem, [one for one in standing if _is_beside(problem, one, small)])
    grid = depot_grid(small, depot, settled)
    if not grid.vehicles or any(len(one.shifts) == 0 for one in grid.vehicles[0].services):
        return {}
    rows = Rows(grid, settled)
    y = np.zeros(rows.count)
    y[: rows.n_services] = REWARD
    many = len(names)
    asked, _ = Pricer(rows, grid.vehicles[0]).below(rows.prices(y), -REWARD * (many - 0.5), 20_000)
    on: dict[int, list[tuple[int, Column]]] = {}
    for _, column in asked:
        if all_begin and not _begins_all(grid, rows, column):
            continue
        on.setdefault(int(grid.day[column.arrive]), []).append((_whole_price(grid, rows, column), column))
    found = {}
    for day in days:
        options = sorted(on.get(day, []), key=lambda pair: (pair[0], pair[1].last, pair[1].modes, pair[1].setups))
        options = [pair for pair in options if _has_room(rows, pair[1])]
        for _, column in options[:MOST_TRIED]:
            fit, laid = place(grid, [column], standing=settled)
            if fit is Fit.YES:
                stays = [(stay.bay, stay.starts_at, stay.ends_at) for stay in settled.stays]
                (visit,) = with_bays(small, laid, depot.bays, stays)
                if visit.bay >= 0:
                    found[day] = visit
                    break
    return found


def _is_beside(problem: BayProblem, visit: Visit, small: BayProblem) -> bool:
    """Whether a visit is in the depot while one of the shifts is that the small problem is about."""
    if problem.vehicle_by_name[visit.vehicle].depot != small.depots[0].name or not small.shifts:
        return False
    begins, ends = blocked(problem, visit)
    return begins < max(one.ends_at for one in small.shifts) and min(one.starts_at for one in small.shifts) < ends


def _near(problem: BayProblem, days: Sequence[int]) -> BayProblem:
    """The problem with the shifts alone that a visit beginning on one of the days can reach."""
    reach = problem.max_visit_min // 1440 + 1
    kept = {on + more for on in days for more in range(reach + 1)}
    return replace(problem, shifts=tuple(shift for shift in problem.shifts if shift.day in kept))


def _begins_all(grid: DepotGrid, rows: Rows, column: Column) -> bool:
    """Whether the first stage of each of its services lies on the day it arrives."""
    first = {int(grid.day[rows.modes_of[number].shifts[mode, 0]]) for number, mode in column.modes}
    return first <= {int(grid.day[column.arrive])}


def _whole_price(grid: DepotGrid, rows: Rows, column: Column) -> int:
    """With the days it opens."""
    count = len(grid.days)
    worked = {
        (row - rows.open_at) % count for row in rows.coefficients(column) if rows.open_at <= row < rows.minutes_at
    }
    return column.cents + sum(grid.opening[grid.days[k]] for k in worked)


def _has_room(rows: Rows, column: Column) -> bool:
    entries = rows.coefficients(column)
    return all(value <= rows.upper[row] + 1e-9 for row, value in entries.items() if row >= rows.minutes_at)
