"""Calendars brought up to date after writes that did not wait for it: before the next poll is answered, or soon."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of, rules_in_force
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.renew_feeds import renew_feeds


def bring_feeds_up(store: Store, rules: Rules, *, now: datetime, base_url: str) -> int:
    """Renews the calendars that show what was changed since; returns of how many vehicles. Most often there are none.

    Several changes that came meanwhile are shown in one go. Raises StoreBusy, StoreFull or StoreDamaged; then
    everything is still owed.
    """
    with store.read() as view:
        if not view.feeds_owed():
            return 0
    # Not typed by anybody: what is lost with the power is owed again, and published anew.
    with store.write(Change("fleetcare", "calendars renewed", now), typed=False) as unit:
        # Once more: another process may have done it.
        marks = unit.feeds_owed()
        if marks and unit.garage() is not None:
            rules = rules_in_force(unit, rules)
            renew_feeds(unit, rules, garage_of(unit), touched=marks, outlooks=(), now=now, base_url=base_url)
            unit.feeds_given(marks)
    return len(marks)
