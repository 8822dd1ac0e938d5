"""Readings that are held, each with what is odd about it and what may have been meant. They never expire."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Store
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.doubt import Doubt
from fleetcare.meter.reading import Reading


@dataclass(frozen=True, slots=True)
class WaitingReading:
    """One held reading. doubt: what is odd about it as things stand now; None if nothing stands before it."""

    vehicle: Vehicle
    reading: Reading
    doubt: Doubt | None


def waiting_readings(
    store: Store, rules: Rules, marks: Collection[str], *, now: datetime, kept: KeptOutlooks | None = None
) -> tuple[WaitingReading, ...]:
    """The held readings of these vehicles, newest first; two of one day by mark and value.

    kept: what this process has worked out before; only what has changed since is worked out then.
    """
    with store.read() as view:
        fleet = (kept or KeptOutlooks()).look(view, rules, garage_day(garage_of(view), now), marks)
    found = [WaitingReading(each.outlook.vehicle, *held) for each in fleet for held in each.held]
    return tuple(sorted(found, key=lambda each: (-each.reading.on.toordinal(), each.vehicle.mark, each.reading.value)))
