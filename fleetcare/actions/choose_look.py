"""How pages look to a person: the unit that distances are told in, and by day or by night."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of
from fleetcare.actions.ports import Change, Purpose, Store
from fleetcare.actions.renew_feeds import renew_feed
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.people import Light, Person
from fleetcare.quantities import DistanceUnit


@dataclass(frozen=True, slots=True)
class Look:
    """What is to change; None leaves it as it is."""

    unit: DistanceUnit | None = None
    light: Light | None = None


def choose_look(
    store: Store, rules: Rules, person: str, look: Look, *, now: datetime, who: str, base_url: str
) -> Person:
    """The person as changed; with an empty look, as they are. Their calendar follows at once. Raises NotFound."""
    with store.write(Change(who, "how pages look", now)) as unit:
        before = person_called(unit.people(), person)
        after = replace(before, unit=look.unit or before.unit, light=look.light or before.light)
        if after == before:
            return before
        unit.put_person(after)
        if after.unit is not before.unit:
            unit.log_change(after.key, "unit", before.unit.value, after.unit.value)
            if any(key.person == after.key and key.opens(Purpose.FEED, now) for key in unit.keys(Purpose.FEED)):
                renew_feed(unit, rules, garage_of(unit), after.key, now=now, base_url=base_url)
        if after.light is not before.light:
            unit.log_change(after.key, "light", before.light.value, after.light.value)
        return after
