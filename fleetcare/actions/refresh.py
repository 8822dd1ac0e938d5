"""Everything worked out again: at start, when a day begins, when the book was changed."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import Settled, settle


def refresh(store: Store, rules: Rules, *, now: datetime, base_url: str, why: str) -> Settled | None:
    """Works out every vehicle as of now and renews every feed; None if there is no garage yet."""
    with store.read() as view:
        if view.garage() is None:
            return None
    with store.write(Change("fleetcare", why, now), typed=False) as unit:
        return settle(unit, rules, now=now, base_url=base_url)
