"""Spells in which vehicles are spoken for, and events that make a service due."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fleetcare.quantities import DateSpan, DistanceUnit

CHANGED_HANDS = "changed-hands"
"""Kind of event: the vehicle came to another driver or owner, so that less is taken from how it ran before."""


@dataclass(frozen=True, slots=True)
class Booking:
    """A spell in which vehicles are spoken for, with the distance and duty expected of each."""

    key: str
    title: str
    days: DateSpan
    marks: tuple[str, ...]
    distance: Decimal | None = None
    """Per vehicle, over the whole spell."""
    unit: DistanceUnit = DistanceUnit.KM
    duty: str = ""
    """Duty of that distance; empty means the vehicle's usual split."""
    event: str = ""
    """Kind of event that takes place, such as `track day`; lines that follow it look here."""


@dataclass(frozen=True, slots=True)
class UseEvent:
    """Something that happened to a vehicle, or to one component: track day, immersion, gears renewed, wheel fitted."""

    mark: str
    kind: str
    on: date
    component: str = ""
    """Empty: the whole vehicle."""
    note: str = ""
