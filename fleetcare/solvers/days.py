"""Exact prices of one visit on other days, everything else as it stands; and single visits laid on a day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fleetcare.bayplan.cost import blocked, days_opened, visits_cost
from fleetcare.bayplan.day_costs import DayPrices
from fleetcare.bayplan.explain import DayPrice, Obstacles
from fleetcare.bayplan.plan import BayPlan, Visit
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import beside, standing_of
from fleetcare.solvers.bays import with_bays
from fleetcare.solvers.columns import Column, Rows
from fleetcare.solvers.grid import DepotGrid, Shape, VehicleGrid, depot_grid
from fleetcare.solvers.minutes import Fit, place
from fleetcare.solvers.pricing import Pricer
from fleetcare.solvers.states import Wide, columns_of

REWARD = 1e12
"""For each service asked for: a visit without one of them is worth a reward less than one with all, whatever it
costs."""
MOST_TRIED = 12
"""Layouts of one day tried to the minute, the cheapest first."""
MOST_LAID = 20_000
"""Layouts of one shape of visit; beyond this the shape is left out."""


class ExactDays:
    """Prices days by laying the visit anew on each."""

    def other_days(self, problem: BayProblem, plan: BayPlan, visit: Visit, days: Sequence[int]) -> tuple[DayPrice, ...]:
        """For each day the exact difference, or what forbids it."""
        others = tuple(one for one in plan.visits if one != visit)
        laid = visits_on(problem, others, visit.vehicle, visit.services, days, all_begin=True)
        # All else is in both plans and cancels out, but for the days that it opens anyway.
        prices, opened = DayPrices(problem), days_opened(problem, others)
        now = visits_cost(problem, (visit,), prices, opened).total
        obstacles = Obstacles(problem, plan, visit)
        return tuple(
            DayPrice(day, visits_cost(problem, (laid[day],), prices, opened).total - now)
            if day in laid
            else DayPrice(day, None, obstacles.on(day))
            for day in days
        )


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
    small = _around(problem, standing, vehicle, names, days)
    depot = small.depots[0]
    settled = standing_of(problem, _beside(problem, standing, small))
    grid = depot_grid(small, depot, settled)
    if not grid.vehicles or any(len(one.shifts) == 0 for one in grid.vehicles[0].services):
        return {}
    rows = Rows(grid, settled)
    own = _all_on_arrival(grid.vehicles[0]) if all_begin else grid.vehicles[0]
    y = np.zeros(rows.count)
    y[: rows.n_services] = REWARD
    # Days have their price at once, so that the visits come out in order of what they cost with them.
    y[rows.open_at : rows.minutes_at] = [-grid.opening[day] for day in grid.days]
    many = len(names)
    asked = Pricer(rows, own).wide_below(rows.prices(y), -REWARD * (many - 0.5), MOST_LAID)
    wide = [one for one in asked if one is not None]
    stays = [(stay.bay, stay.starts_at, stay.ends_at) for stay in settled.stays]
    found = {}
    for day in days:
        tried = 0
        for column in _cheapest_first(grid, wide, day, REWARD * many):
            if not _has_room(rows, column):
                continue
            tried += 1
            fit, laid = place(grid, [column], standing=settled)
            if fit is Fit.YES:
                (visit,) = with_bays(small, laid, depot.bays, stays)
                if visit.bay >= 0:
                    found[day] = visit
                    break
            if tried == MOST_TRIED:
                break
    return found


def _around(
    problem: BayProblem, standing: Sequence[Visit], vehicle: str, names: Sequence[str], days: Sequence[int]
) -> BayProblem:
    """The problem of these services alone, with the shifts that a visit beginning on one of the days can reach."""
    depot = problem.vehicle_by_name[vehicle].depot
    reach = problem.max_visit_min // 1440 + 1
    near = {on + more for on in days for more in range(reach + 1)}
    mine = [one for one in standing if one.vehicle == vehicle]
    # Shifts of its other visits as well, by which the days of those are known; it is away then.
    known = {work.shift for visit in mine for work in visit.work}
    services = tuple(one for one in problem.services if one.vehicle == vehicle)
    alone = replace(
        problem,
        depots=(problem.depot_by_name[depot],),
        people=tuple(one for one in problem.people if one.depot == depot),
        shifts=tuple(one for one in problem.shifts if one.depot == depot and (one.day in near or one.name in known)),
        vehicles=(problem.vehicle_by_name[vehicle],),
        services=services,
    )
    return beside(alone, mine, names)


def _beside(problem: BayProblem, standing: Sequence[Visit], small: BayProblem) -> list[Visit]:
    """The visits that are in the depot while one of the shifts is that the small problem is about."""
    if not small.shifts:
        return []
    first, last = min(one.starts_at for one in small.shifts), max(one.ends_at for one in small.shifts)
    found = []
    for visit in standing:
        if problem.vehicle_by_name[visit.vehicle].depot == small.depots[0].name:
            begins, ends = blocked(problem, visit)
            if begins < last and first < ends:
                found.append(visit)
    return found


def _all_on_arrival(vehicle: VehicleGrid) -> VehicleGrid:
    """The vehicle with those layouts alone in which the first stage of a service lies on the day it arrives."""
    return replace(vehicle, shapes=tuple(_on_arrival(shape) for shape in vehicle.shapes))


def _on_arrival(shape: Shape) -> Shape:
    day = np.array(shape.days)
    kept = [day[patterns[:, 0]] == shape.days[shape.arrive] for patterns in shape.positions]
    return replace(
        shape,
        modes=tuple(modes[:, keep] for modes, keep in zip(shape.modes, kept, strict=True)),
        positions=tuple(patterns[keep] for patterns, keep in zip(shape.positions, kept, strict=True)),
    )


def _cheapest_first(grid: DepotGrid, wide: Sequence[Wide], day: int, reward: float) -> Iterator[Column]:
    """The visits arriving on a day, those of least price first, the shift they end in and what they hold deciding
    between equals. reward: what each has in its value for its services."""
    on_day = []
    for one in wide:
        shape = one.states.shape
        arrive = shape.shifts[one.states.looked[one.frames], shape.arrive]
        places = np.flatnonzero(grid.day[arrive] == day)
        on_day.append((one, places, np.rint(one.value[places] + reward).astype(np.int64)))
    for cents in np.unique(np.concatenate([np.zeros(0, dtype=np.int64), *(prices for _, _, prices in on_day)])):
        equals: list[Column] = []
        for one, places, prices in on_day:
            equals += [column for _, column in columns_of(one.taken(places[prices == cents]))]
        yield from sorted(equals, key=lambda one: (one.last, one.modes, one.setups))


def _has_room(rows: Rows, column: Column) -> bool:
    entries = rows.coefficients(column)
    return all(value <= rows.upper[row] + 1e-9 for row, value in entries.items() if row >= rows.minutes_at)
