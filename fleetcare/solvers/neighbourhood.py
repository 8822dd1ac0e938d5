"""One depot on its way: a first plan from generated visits, and a better one by freeing a few vehicles at a time."""

from __future__ import annotations

from dataclasses import dataclass, field

from fleetcare.solvers.choose import Offer, choose
from fleetcare.solvers.columns import Column, Rows
from fleetcare.solvers.depot import ROUND_STEPS, Search, decide
from fleetcare.solvers.groups import key_of
from fleetcare.solvers.master import Master, safe_bound

CALM_SHARE = 0.0004
"""Six rounds of pricing that together gain less than this share end the first pass."""
FREED = 6
"""Vehicles freed at a time."""
MOST_OFFERED = 4_000
"""Visits offered to one choice among freed vehicles."""
WIDTH_SHARE = 0.004
"""Visits of freed vehicles are offered up to this share of the depot's bound, as reduced price."""
EFFORT = 1.5
STRANDED_WIDTH = 0.02
"""The same share for a vehicle with a service that has found no room: it may cost something to make some."""
STRANDED_DAYS = 12


@dataclass(slots=True)
class DepotWork:
    """One depot on its way: its search, its rows and programme, and the visits on offer for each vehicle."""

    search: Search
    rows: Rows
    master: Master
    offered: dict[int, list[Column]] = field(default_factory=dict)
    turn: int = 0
    idle: int = 0


def begun(search: Search, price: int) -> DepotWork:
    """A depot with its rows and programme, nothing done yet. price: of leaving out what must be done."""
    rows = Rows(search.grid, search.standing)
    return DepotWork(search, rows, Master(rows, price))


def first_plan(depot: DepotWork, *, calm_share: float = CALM_SHARE) -> None:
    """Generates visits and chooses among them. calm_share: as for the programme; nought prices to the end."""
    search, master = depot.search, depot.master
    master.begin()
    rounds = master.generate(
        most_rounds=max(4, int(search.left / ROUND_STEPS)),
        is_stopped=search.is_stopped,
        tell=lambda number, value: search.tell(search, "generating visits") if number % 5 == 0 else None,
        calm_share=calm_share,
    )
    search.left -= ROUND_STEPS * rounds
    decide(search, depot.rows, master, master.columns, effort=EFFORT * 2)


def bound_it(depot: DepotWork) -> None:
    """Prices to the end: only then is the programme's value a bound."""
    search, master = depot.search, depot.master
    if not master.is_converged and not search.is_over:
        rounds = master.generate(
            most_rounds=max(4, int(search.left / ROUND_STEPS)),
            is_stopped=search.is_stopped,
            tell=lambda number, value: None,
        )
        search.left -= ROUND_STEPS * rounds
    if master.is_converged:
        search.bound = max(search.bound, safe_bound(master.value))
        search.is_proven = search.cents is not None and search.cents <= search.bound and not search.has_doubt
        search.tell(search, "improving")


def is_idle(depot: DepotWork) -> bool:
    """Nothing has improved for so long that it is not worth going on, or the search is over."""
    return depot.search.is_over or depot.idle >= patience(depot)


def patience(depot: DepotWork) -> int:
    """Turns without gain after which a depot is left as it is: once through all its days."""
    return max(4, 2 * len(depot.search.grid.vehicles) // FREED)


def improve(depot: DepotWork, seed: int) -> None:
    """Frees vehicles that visit near one day, the others fixed, and keeps what is cheaper."""
    search, rows = depot.search, depot.rows
    if search.cents is None:
        depot.idle = patience(depot)
        return
    stranded = _stranded(depot)
    freed = _near_one_day(depot, seed, stranded)
    depot.turn += 1
    kept = [column for column in search.columns if column.vehicle not in freed]
    now = [column for column in search.columns if column.vehicle in freed]
    pool = {key_of(column): column for column in now}
    for vehicle in sorted(freed):
        is_stranded = stranded is not None and stranded[0] == vehicle
        offered = _below(depot, vehicle, STRANDED_WIDTH) if is_stranded else _offered(depot, vehicle)
        pool |= {key_of(column): column for column in offered}
    every = [*kept, *pool.values()]
    fixed = len(kept)
    choice = choose(
        rows,
        Offer(
            every,
            [rows.with_days(rows.coefficients(column)) for column in every],
            depot.master.skip_cents,
            search.grid.opening,
            _together(search, every),
        ),
        effort=min(EFFORT, max(search.left, 0.01)),
        seed=seed,
        hint=[*range(fixed), *(fixed + at for at in range(len(now)))],
        taken=range(fixed),
        below=search.cents,
        is_stopped=search.is_stopped,
    )
    search.left -= choice.spent + ROUND_STEPS
    depot.idle += 1
    if choice.cents is not None:
        before = search.cents
        search.take([every[at] for at in choice.picked], choice.cents)
        if search.cents < before:
            depot.idle = 0


def _together(search: Search, columns: list[Column]) -> list[tuple[int, ...]]:
    places = {key_of(column): at for at, column in enumerate(columns)}
    return [tuple(places[key] for key in group) for group in search.together if all(key in places for key in group)]


def _stranded(depot: DepotWork) -> tuple[int, int] | None:
    """A vehicle with a service that must be done and is in no visit, and a day on which it could be, another each
    turn."""
    grid = depot.search.grid
    done = {number for column in depot.search.columns for number, _ in column.modes}
    for one in depot.rows.modes_of:
        if one.service.is_required and one.number not in done and len(one.shifts):
            order = one.cents.argsort(kind="stable")[:STRANDED_DAYS]
            mode = int(order[depot.turn % len(order)])
            vehicle = next(each.number for each in grid.vehicles if each.vehicle.name == one.service.vehicle)
            return vehicle, int(grid.day[one.shifts[mode, 0]])
    return None


def _near_one_day(depot: DepotWork, seed: int, stranded: tuple[int, int] | None) -> set[int]:
    """Vehicles with a visit nearest to a day; the days come round in strides that meet all of them."""
    grid = depot.search.grid
    days = grid.days
    stride = next(step for step in (7, 11, 13, 17, 1) if len(days) % step or step == 1)
    day = days[(seed + depot.turn * stride) % len(days)]
    if stranded is not None:
        day = stranded[1]
    apart: dict[int, int] = {}
    for column in depot.search.columns:
        distance = abs(int(grid.day[column.arrive]) - day)
        apart[column.vehicle] = min(distance, apart.get(column.vehicle, distance))
    for vehicle in grid.vehicles:
        if vehicle.services:
            apart.setdefault(vehicle.number, 10_000)
    if stranded is not None:
        apart[stranded[0]] = -1
    return set(sorted(apart, key=lambda number: (apart[number], number))[:FREED])


def _offered(depot: DepotWork, vehicle: int) -> list[Column]:
    """Visits of a vehicle that are worth offering, the same in every turn: those of least reduced price."""
    if vehicle not in depot.offered:
        depot.offered[vehicle] = _below(depot, vehicle, WIDTH_SHARE)
    return depot.offered[vehicle]


def _below(depot: DepotWork, vehicle: int, share: float) -> list[Column]:
    master = depot.master
    prices = depot.rows.prices(master.y)
    width = share * abs(master.value)
    pricer = master.pricers[vehicle]
    found, is_whole = pricer.below(prices, width, MOST_OFFERED)
    while not is_whole:
        width /= 2
        found, is_whole = pricer.below(prices, width, MOST_OFFERED)
    found.sort(key=lambda pair: (pair[0], pair[1].arrive, pair[1].last, pair[1].modes, pair[1].setups))
    return [column for _, column in found[: MOST_OFFERED // FREED]]
