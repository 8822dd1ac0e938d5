"""What is known of a vehicle is changed by hand: what is another now, and which dates moved by it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of, vehicle_in
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import Settled, settle
from fleetcare.errors import Clash
from fleetcare.fleet.entering import refuse_mixed_up, refuse_odd_days, refuse_strangers, refuse_taken
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import (
    CHANGED_MEANWHILE,
    Changed,
    Changes,
    changed_vehicle,
    differences,
    stand_of,
    value_in_words,
)


@dataclass(frozen=True, slots=True)
class Edited:
    """How the vehicle stands now. changed: field by field; empty if it stood here so before."""

    vehicle: Vehicle
    changed: tuple[Changed, ...]
    settled: Settled


def edit_vehicle(
    store: Store,
    rules: Rules,
    changes: Changes,
    *,
    vehicle: str,
    now: datetime,
    who: str,
    base_url: str,
    stand: str = "",
) -> Edited:
    """Stores the changes in one transaction and works the vehicle out again; said twice they count once.

    stand: what `stand_of` said of the vehicle that was looked at; empty if nobody looked. Raises NotFound (vehicle,
    person), BadInput (a day that cannot be), Clash (another vehicle is called so, or it was changed since that look).
    """
    with store.write(Change(who, f"{vehicle} changed", now)) as unit:
        garage = garage_of(unit)
        before = vehicle_in(unit, vehicle)
        after = changed_vehicle(before, changes)
        changed = differences(before, after)
        if changed and stand and stand != stand_of(before):
            raise Clash(CHANGED_MEANWHILE)
        if changed:
            others = unit.vehicles()
            refuse_taken(after, others)
            refuse_mixed_up(after, others)
            refuse_odd_days(after, garage_day(garage, now))
            refuse_strangers(after, [p.key for p in unit.people()], [other.mark for other in others])
            unit.put_vehicle(after)
        for each in changed:
            what = each.field.replace("_", " ")
            unit.log_change(after.mark, what, value_in_words(each.was), value_in_words(each.now))
        return Edited(after, changed, settle(unit, rules, now=now, base_url=base_url, marks=(after.mark,)))
