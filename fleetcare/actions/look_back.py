"""How good the garage's dates were: its past readings replayed, and the windows of then held against what came."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force
from fleetcare.actions.ports import Store
from fleetcare.due.backtest import Backtest, backtest
from fleetcare.fleet.naming import vehicle_called
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle

Progress = Callable[[str, int, int], None]
"""Is told what is going on, how much of it is done, and of how much."""


@dataclass(frozen=True, slots=True)
class LookedBack:
    """A garage's past on one day. version: of the store, when it was read; at_most: how many past days were wanted."""

    garage: Garage
    today: date
    vehicles: tuple[Vehicle, ...]
    found: Backtest
    version: int
    at_most: int | None


def look_back(
    store: Store,
    rules: Rules,
    *,
    now: datetime,
    vehicle: str | None = None,
    at_most: int | None = None,
    kept: LookedBack | None = None,
    tell: Progress | None = None,
) -> LookedBack:
    """Replays the past of all vehicles, or of the one called so. Writes nothing.

    at_most: from so many past days and no more, spread evenly. kept: an answer for all vehicles from before; it is
    given again if nothing was written since and it is still the same day. Raises NotFound for a vehicle unknown here.
    """
    with store.read() as view:
        garage = garage_of(view)
        today, version = garage_day(garage, now), view.version()
        if (
            kept is not None
            and vehicle is None
            and (kept.today, kept.version, kept.at_most) == (today, version, at_most)
        ):
            return kept
        marks = None if vehicle is None else (vehicle_called(view.vehicles(), vehicle).mark,)
        facts, in_force = facts_of(view, marks), rules_in_force(view, rules)
    return LookedBack(
        garage=garage,
        today=today,
        vehicles=tuple(each.vehicle for each in facts),
        found=backtest(
            facts,
            book=in_force.book,
            duties=in_force.duties,
            priors=in_force.priors,
            today=today,
            at_most=at_most,
            tell=None if tell is None else lambda done, of: tell("Looking back", done, of),
        ),
        version=version,
        at_most=at_most,
    )
