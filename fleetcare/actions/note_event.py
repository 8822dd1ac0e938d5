"""Something happened that makes services due: a track day, an immersion, new gears."""

from __future__ import annotations

from datetime import datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of, vehicle_in
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.causes import cause
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.booking import CHANGED_HANDS, UseEvent
from fleetcare.language import saying


def note_event(store: Store, rules: Rules, event: UseEvent, *, now: datetime, base_url: str, who: str) -> Settled:
    """Records one event; the same one given twice counts once. `event.mark` may be a mark or a name.

    Raises NotFound (vehicle, component, kind of event) and BadInput (a day to come).
    """
    of_the_book = {after.event for row in rules.book.rows.values() for after in row.rule.after}
    known_kinds = sorted({CHANGED_HANDS, *of_the_book})
    kind = next((each for each in known_kinds if each.casefold() == event.kind.strip().casefold()), None)
    if kind is None:
        raise NotFound("kind of event in the interval book", event.kind, known_kinds)
    with store.write(Change(who, cause("{event} on {day}", event=kind, day=event.on), now)) as unit:
        vehicle = vehicle_in(unit, event.mark)
        if event.on > garage_day(garage_of(unit), now):
            raise BadInput("That day is still to come.", remedy="Put it in as a booking instead.", field="on")
        if event.component and vehicle.component(event.component) is None:
            raise NotFound(
                saying("component on {name}", name=vehicle.name), event.component, [c.key for c in vehicle.components]
            )
        placed = UseEvent(vehicle.mark, kind, event.on, event.component, event.note)
        if unit.add_events((placed,)):
            unit.log_change(vehicle.mark, "event", "", f"{kind} on {event.on}")
        return settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
