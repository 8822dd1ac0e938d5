"""One depot on its way: a first plan from generated visits, and a better one by freeing a few vehicles at a time."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.solvers.choose import Offer, choose
from fleetcare.solvers.clashes import clashes
from fleetcare.solvers.columns import Column
from fleetcare.solvers.depot import ROUND_STEPS, decide
from fleetcare.solvers.depot_work import DepotWork
from fleetcare.solvers.groups import key_of
from fleetcare.solvers.master import safe_bound
from fleetcare.solvers.rounding import round_off
from fleetcare.solvers.squeeze import left_over, put_in, visits_with

CALM_SHARE = 0.0004
"""Six rounds of pricing that together gain less than this share end the first pass."""
FEWEST_FREED, MOST_FREED = 6, 16
"""Vehicles freed at a time: half of the depot's, within these. Sixteen of fifty bring a plan from 10 % above the
bound to 1.5 % in the time in which six bring it to 4 % (measured)."""
MOST_OFFERED = 4_000
"""Visits offered to one choice among freed vehicles."""
WIDTH_SHARE = 0.004
"""Visits of freed vehicles are offered up to this share of the depot's bound, as reduced price."""
EFFORT = 3.0
"""Of the choice among all visits of a depot."""
EFFORT_EACH = 0.25
"""Of a choice among freed vehicles, for each of them."""
FEWEST_TURNS = 8
"""Without gain, before a depot is left as it is."""
TIGHT_DAYS = 6
"""Days that are tried for a service that found no room at first, before it is left to the turns of its vehicle."""
MANY = 25
"""Vehicles of a depot beyond which the first plan is rounded off from the programme: a choice among all visits comes to
nothing there, and a few vehicles at a time do better."""
MOST_LAID_OUT = 6
"""Choices of one turn that may turn out not to fit to the minute."""


def first_plan(depot: DepotWork, *, calm_share: float = CALM_SHARE) -> None:
    """Generates visits, chooses among them, and puts in what was left out though it must be done. calm_share: as for
    the programme; nought prices to the end."""
    search, master = depot.search, depot.master
    master.begin()
    rounds = master.generate(
        most_rounds=max(4, int(search.left / ROUND_STEPS)),
        is_stopped=search.is_stopped,
        tell=lambda number, value: search.tell(search, "generating visits") if number % 5 == 0 else None,
        calm_share=calm_share,
    )
    search.left -= ROUND_STEPS * rounds
    if len(search.grid.vehicles) > MANY:
        round_off(depot)
        for number in left_over(depot):
            put_in(depot, number)
    if search.cents is None:
        decide(search, depot.rows, master, master.columns, effort=EFFORT)
    if search.is_stopped():
        return
    for number in left_over(depot):
        depot.tight[number] = 0
        put_in(depot, number)


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
    """Turns without gain after which a depot is left as it is: through its vehicles twice, and eight at least."""
    return max(FEWEST_TURNS, 2 * len(depot.search.grid.vehicles) // freed_at_once(depot))


def freed_at_once(depot: DepotWork) -> int:
    """How many vehicles of a depot are freed at a time."""
    return min(MOST_FREED, max(FEWEST_FREED, len(depot.search.grid.vehicles) // 2))


def improve(depot: DepotWork, seed: int) -> None:
    """Frees vehicles that visit near one day, the others fixed, and keeps what is cheaper. For what found no room at
    first, that is one of its best days, with those who have it."""
    search = depot.search
    if search.cents is None:
        depot.idle = patience(depot)
        return
    before = search.cents
    tight = _tight(depot)
    if tight is not None:
        depot.tight[tight.number] += 1
    freed = _near_one_day(depot, seed, tight)
    depot.turn += 1
    if tight is None:
        # A day tried for what found no room says nothing about the other days.
        depot.idle += 1
    pool = [column for vehicle in sorted(freed) for column in _offered(depot, vehicle)]
    if tight is not None:
        pool += visits_with(depot, tight.number)
    for _ in range(MOST_LAID_OUT):
        if _chosen(depot, freed, pool, seed):
            break
    if search.cents < before:
        depot.idle = 0


def _chosen(depot: DepotWork, freed: set[int], pool: list[Column], seed: int) -> bool:
    """Chooses among these visits of freed vehicles and those they have; false if what was chosen does not fit to the
    minute, so that another choice may."""
    search, rows = depot.search, depot.rows
    kept = [column for column in search.columns if column.vehicle not in freed]
    now = [column for column in search.columns if column.vehicle in freed]
    every = [*kept, *{key_of(column): column for column in (*now, *pool)}.values()]
    fixed = len(kept)
    choice = choose(
        rows,
        Offer(
            every,
            [rows.with_days(rows.coefficients(column)) for column in every],
            depot.master.skip_cents,
            search.grid.opening,
            clashes([[column] for column in every], search.together),
        ),
        effort=min(EFFORT_EACH * len(freed), max(search.left, 0.01)),
        seed=seed,
        hint=[*range(fixed), *(fixed + at for at in range(len(now)))],
        taken=range(fixed),
        below=search.cents,
        is_stopped=search.is_stopped,
    )
    search.left -= choice.spent + ROUND_STEPS
    if choice.cents is None or search.is_over:
        return True
    return search.take([every[at] for at in choice.picked], choice.cents)


@dataclass(frozen=True, slots=True)
class Tight:
    """A service that found no room at first, by its number; its vehicle, and a day it would like to be on."""

    number: int
    vehicle: int
    day: int


def _tight(depot: DepotWork) -> Tight | None:
    """One of those that found no room at first, each turn with another of its cheapest days; None if all were tried."""
    grid = depot.search.grid
    for number, tried in sorted(depot.tight.items()):
        one = depot.rows.modes_of[number]
        if tried < min(TIGHT_DAYS, len(one.shifts)):
            mode = int(one.cents.argsort(kind="stable")[tried])
            vehicle = next(each.number for each in grid.vehicles if each.vehicle.name == one.service.vehicle)
            return Tight(number, vehicle, int(grid.day[one.shifts[mode, 0]]))
    return None


def _near_one_day(depot: DepotWork, seed: int, tight: Tight | None) -> set[int]:
    """Vehicles with a visit nearest to a day; the days come round in strides that meet all of them."""
    grid = depot.search.grid
    days = grid.days
    stride = next(step for step in (7, 11, 13, 17, 1) if len(days) % step or step == 1)
    day = days[(seed + depot.turn * stride) % len(days)]
    if tight is not None:
        day = tight.day
    apart: dict[int, int] = {}
    for column in depot.search.columns:
        distance = abs(int(grid.day[column.arrive]) - day)
        apart[column.vehicle] = min(distance, apart.get(column.vehicle, distance))
    for vehicle in grid.vehicles:
        if vehicle.services:
            apart.setdefault(vehicle.number, 10_000)
    if tight is not None:
        apart[tight.vehicle] = -1
    return set(sorted(apart, key=lambda number: (apart[number], number))[: freed_at_once(depot)])


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
    most = MOST_OFFERED // freed_at_once(depot)
    found = pricer.cheapest(prices, width, most)
    while found is None:
        width /= 2
        found = pricer.cheapest(prices, width, most)
    return found
