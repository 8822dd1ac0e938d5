"""A first whole plan of a large depot, rounded off from the linear programme: what the integer step then starts from.

With some thousand visits on offer that step may find no plan at all in its effort; from a plan it always goes on.
"""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.solvers.columns import Column, touched_days
from fleetcare.solvers.depot_work import DepotWork
from fleetcare.solvers.groups import Key, key_of
from fleetcare.solvers.squeeze import plan_price

LEAST = 1e-6
"""A visit of which the programme holds less is none of its own."""
MOST_DROPPED = 200
"""Visits dropped because they do not fit to the minute, before the rest is left as it is."""


def round_off(depot: DepotWork) -> bool:
    """Takes the visits that the programme holds most of, one after another as they go together, and lays them out;
    false if that leaves nothing. What is left out is not its matter."""
    picked = _picked(depot)
    for _ in range(MOST_DROPPED):
        if not picked:
            return False
        known = set(depot.search.together)
        if depot.search.take([column for _, column in picked], plan_price(depot, [column for _, column in picked])):
            return True
        picked = _without_clashes(depot, picked, known)
    return False


def _picked(depot: DepotWork) -> list[tuple[float, Column]]:
    master, rows = depot.master, depot.rows
    master.solve()
    held = list(master.highs.getSolution().col_value)[master.fixed :]
    by_share = sorted(
        (
            (float(share), column)
            for share, column in zip(held, master.columns, strict=True)
            if share > LEAST and column.modes
        ),
        key=lambda each: (-round(each[0], 6), each[1].cents, key_of(each[1])),
    )
    done: set[int] = set()
    used: dict[int, float] = {}
    days: set[tuple[int, int]] = set()
    picked: list[tuple[float, Column]] = []
    for share, column in by_share:
        numbers = {number for number, _ in column.modes}
        own = {(column.vehicle, day) for day in touched_days(depot.search.grid, column)}
        entries = {row: value for row, value in rows.coefficients(column).items() if row >= rows.minutes_at}
        if numbers & done or own & days:
            continue
        if any(used.get(row, 0.0) + value > rows.upper[row] + 1e-9 for row, value in entries.items()):
            continue
        done |= numbers
        days |= own
        for row, value in entries.items():
            used[row] = used.get(row, 0.0) + value
        picked.append((share, column))
    return picked


def _without_clashes(
    depot: DepotWork, picked: Sequence[tuple[float, Column]], known: set[tuple[Key, ...]]
) -> list[tuple[float, Column]]:
    """Of each set that was just found not to fit, the visit that the programme holds least of goes."""
    held = {(column.vehicle, column.arrive): share for share, column in picked}
    gone = set()
    for clash in depot.search.together:
        there = [] if clash in known else [key[:2] for key in clash if key[:2] in held]
        if there:
            gone.add(min(there, key=lambda arrival: (held[arrival], arrival)))
    if not gone:
        # Nothing new was learnt, so the same would be found again: the last one picked goes.
        return list(picked[:-1])
    return [each for each in picked if (each[1].vehicle, each[1].arrive) not in gone]
