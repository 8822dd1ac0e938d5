"""Everything worked out again: at start, when a day begins, when the book was changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fleetcare.actions.fleet_pass import FleetPass, pass_over_fleet
from fleetcare.actions.gather import Rules
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Change, Store


def refresh(
    store: Store,
    rules: Rules,
    *,
    now: datetime,
    base_url: str,
    why: str,
    progress: Callable[[int, int], None] | None = None,
    kept: KeptOutlooks | None = None,
) -> FleetPass | None:
    """Works out every vehicle as of now and renews every feed; None if there is no garage yet.

    progress: told how many vehicles are done, and how many there are. kept: what this process has worked out before;
    feeds are made of that then.
    """
    with store.read() as view:
        if view.garage() is None:
            return None
    return pass_over_fleet(store, rules, Change("fleetcare", why, now), base_url=base_url, progress=progress, kept=kept)
