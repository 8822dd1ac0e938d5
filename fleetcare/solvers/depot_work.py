"""One depot on its way: what is known of it while it is planned."""

from __future__ import annotations

from dataclasses import dataclass, field

from fleetcare.solvers.columns import Column, Rows
from fleetcare.solvers.depot import Search
from fleetcare.solvers.master import Master


@dataclass(slots=True)
class DepotWork:
    """One depot on its way: its search, its rows and programme, and the visits on offer for each vehicle."""

    search: Search
    rows: Rows
    master: Master
    offered: dict[int, list[Column]] = field(default_factory=dict)
    tight: dict[int, int] = field(default_factory=dict)
    """Services that found no room at first, by number, with how many of their days were tried since."""
    turn: int = 0
    idle: int = 0


def begun(search: Search) -> DepotWork:
    """A depot with its rows and programme, nothing done yet."""
    rows = Rows(search.grid, search.standing)
    return DepotWork(search, rows, Master(rows, search.left_out_cents))
