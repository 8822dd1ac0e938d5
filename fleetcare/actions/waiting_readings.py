"""Readings that are held, each with what is odd about it and what may have been meant. They never expire."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from fleetcare.actions.gather import Rules, facts_of, rules_in_force
from fleetcare.actions.ports import Store
from fleetcare.due.judging import held_doubt
from fleetcare.due.meter_walk import walk_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.doubt import Doubt
from fleetcare.meter.reading import Reading, ReadingState


@dataclass(frozen=True, slots=True)
class WaitingReading:
    """One held reading. doubt: what is odd about it as things stand now; None if nothing stands before it."""

    vehicle: Vehicle
    reading: Reading
    doubt: Doubt | None


def waiting_readings(store: Store, rules: Rules, marks: Collection[str]) -> tuple[WaitingReading, ...]:
    """The held readings of these vehicles, newest first; two of one day by mark and value."""
    with store.read() as view:
        rules = rules_in_force(view, rules)
        held = {r.mark for r in view.readings(tuple(marks)) if r.state is ReadingState.HELD}
        fleet = facts_of(view, tuple(sorted(held)))
    found = []
    for facts in fleet:
        for meter in facts.vehicle.meters:
            walked = walk_of(facts, meter, rules.priors)
            for place, reading in enumerate(walked.readings):
                if reading.state is ReadingState.HELD:
                    found.append(WaitingReading(facts.vehicle, reading, held_doubt(walked, place, facts.vehicle)))
    return tuple(sorted(found, key=lambda each: (-each.reading.on.toordinal(), each.vehicle.mark, each.reading.value)))
