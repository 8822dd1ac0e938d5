"""Visits that do not fit together to the minute, and what else cannot fit together then.

Whoever does the same work in the same shifts and more besides needs all the room of whoever does less: where work comes
out of a layout that fits, what is left still fits. So what was found out for a few visits holds for every visit that
holds one of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fleetcare.solvers.columns import Column
from fleetcare.solvers.grid import DepotGrid
from fleetcare.solvers.groups import Key, key_of

Clash = tuple[tuple[int, ...], ...]
"""Places of visits, some for each visit that was looked at: no plan holds one out of each."""


def clashes(offered: Sequence[Sequence[Column]], together: Mapping[tuple[Key, ...], bool]) -> list[Clash]:
    """What these sets of visits forbid among those offered; sets of which a visit is not offered forbid nothing.

    offered: at each place one visit, or some of which any may be meant; a place counts if it does for all of them.
    together: sets of visits that do not fit together; true where that is proven, so that it holds for more.
    """
    if not together:
        return []
    arriving: dict[tuple[int, int], list[int]] = {}
    for place, members in enumerate(offered):
        if len({one.arrive for one in members}) == 1:
            arriving.setdefault((members[0].vehicle, members[0].arrive), []).append(place)
    found: dict[Clash, None] = {}
    for keys, is_proven in together.items():
        clash = tuple(
            tuple(
                place
                for place in arriving.get((key[0], key[1]), ())
                if all(_holds(one, key) if is_proven else key_of(one) == key for one in offered[place])
            )
            for key in keys
        )
        if all(clash):
            found[clash] = None
    return list(found)


def _holds(column: Column, key: Key) -> bool:
    """Whether a visit that arrives in the same shift does all that this one does."""
    return set(key[3]) <= set(column.modes) and set(key[4]) <= set(column.setups)


def without(grid: DepotGrid, column: Column, number: int) -> Column:
    """The visit without one of its services, and without the set-ups that the others do not need."""
    vehicle = grid.vehicles[column.vehicle]
    modes = tuple(pair for pair in column.modes if pair[0] != number)
    left = {service for service, _ in modes}
    needed = {name for one in vehicle.services if one.number in left for name in one.service.setups}
    setups = tuple(pair for pair in column.setups if vehicle.setups[pair[0]] in needed)
    return replace(column, modes=modes, setups=setups)
