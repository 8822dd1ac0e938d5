"""Room for what must be done and found none: put in where it goes as everything stands, at whatever price.

The linear programme lets a visit be half on one day and half on another, and counts the minutes of all people together;
so it may know room for a service in which no visit on offer can be laid out. The visits here are not chosen by price.
"""

from __future__ import annotations

from fleetcare.bayplan.standing import Standing, standing_of
from fleetcare.solvers.columns import Column, touched_days
from fleetcare.solvers.depot_work import DepotWork
from fleetcare.solvers.groups import key_of
from fleetcare.solvers.master import cheapest_alone
from fleetcare.solvers.minutes import Fit, place


def left_over(depot: DepotWork) -> list[int]:
    """Numbers of the services that must be done and are in no visit."""
    done = {number for column in depot.search.columns for number, _ in column.modes}
    return [one.number for one in depot.rows.modes_of if one.service.is_required and one.number not in done]


def put_in(depot: DepotWork, number: int) -> bool:
    """Adds a visit with this service alone on the first of its days, cheapest first, on which it goes beside
    everything else; false if there is none."""
    search, rows = depot.search, depot.rows
    grid = search.grid
    taken = standing_of(grid.problem, search.visits)
    beside = Standing((*search.standing.work, *taken.work), (*search.standing.stays, *taken.stays))
    used: dict[int, float] = {}
    for column in search.columns:
        for row, value in rows.coefficients(column).items():
            used[row] = used.get(row, 0.0) + value
    alone = _alone(depot, number)
    vehicle = alone[0].vehicle if alone else -1
    own = {day for column in search.columns if column.vehicle == vehicle for day in _days(depot, column)}
    open_days = {grid.problem.shift_by_name[work.shift].day for visit in search.visits for work in visit.work}

    def price(column: Column) -> int:
        day = int(grid.day[column.arrive])
        return column.cents + (0 if day in open_days else grid.opening[day])

    for column in sorted(alone, key=lambda one: (price(one), key_of(one))):
        entries = rows.coefficients(column)
        if own.intersection(_days(depot, column)) or any(
            used.get(row, 0.0) + value > rows.upper[row] + 1e-9
            for row, value in entries.items()
            if row >= rows.minutes_at
        ):
            continue
        fit, _ = place(grid, [column], seed=search.seed, standing=beside)
        if fit is Fit.YES:
            columns = [*search.columns, column]
            return search.take(columns, plan_price(depot, columns))
    return False


def visits_with(depot: DepotWork, number: int) -> list[Column]:
    """Visits that hold this service, wherever there may be room: by itself in every way it can be laid, and from every
    frame the one worth most with it in it."""
    search, master = depot.search, depot.master
    alone = _alone(depot, number)
    if not alone:
        return []
    y = master.y.copy()
    y[number] += search.left_out_cents
    every = master.pricers[alone[0].vehicle].one_a_frame(depot.rows.prices(y))
    return [*alone, *(column for column in every if number in dict(column.modes))]


def _alone(depot: DepotWork, number: int) -> list[Column]:
    grid = depot.search.grid
    vehicle, at = next(
        (each, at) for each in grid.vehicles for at, one in enumerate(each.services) if one.number == number
    )
    return cheapest_alone(grid, vehicle, at, len(vehicle.services[at].shifts))


def _days(depot: DepotWork, column: Column) -> range:
    return touched_days(depot.search.grid, column)


def plan_price(depot: DepotWork, columns: list[Column]) -> int:
    """Of these visits, with the days they open and what is left out."""
    grid, rows = depot.search.grid, depot.rows
    done = {number for column in columns for number, _ in column.modes}
    opened = {
        (row - rows.open_at) % len(grid.days)
        for column in columns
        for row in rows.coefficients(column)
        if rows.open_at <= row < rows.minutes_at
    }
    return (
        sum(column.cents for column in columns)
        + sum(grid.opening[grid.days[at]] for at in opened)
        + sum(cents for number, cents in enumerate(depot.master.skip_cents) if number not in done)
    )
