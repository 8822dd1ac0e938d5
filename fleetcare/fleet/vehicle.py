"""A vehicle, its meters and the spells in which it is laid up."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.component import Component
from fleetcare.fleet.duty import ALL_DAILY, DutySplit
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit

ODOMETER = "odometer"
HOUR_METER = "hours"


class VehicleKind(StrEnum):
    """What the interval book goes by. `Vehicle.called` is what people say."""

    CAR = "car"
    VAN = "van"
    LIGHT_TRUCK = "light truck"
    HEAVY_TRUCK = "heavy truck"
    BUS = "bus"
    TRAILER = "trailer"


@dataclass(frozen=True, slots=True)
class MeterChange:
    """A meter was replaced: what the old one showed last and the new one first, in the meter's unit."""

    on: date
    old_end: Decimal
    new_start: Decimal


@dataclass(frozen=True, slots=True)
class Meter:
    """An odometer, hub odometer or hour meter.

    digits: how many whole digits the dial has; it rolls over to nought after the highest.
    rolls_over: a fall from near the top to near nought is a rollover, not a mistake.
    changes: replacements, oldest first. True distance runs on across them.
    """

    key: str
    unit: MeterUnit
    digits: int = 6
    rolls_over: bool = False
    changes: tuple[MeterChange, ...] = ()
    delivery_value: Decimal = Decimal(0)
    """What it showed on the in-service date."""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """One vehicle. `mark` stands for it everywhere and is unique in the garage."""

    mark: str
    name: str
    kind: VehicleKind
    called: str
    """What people call its kind: tow rig, track coupe, car trailer."""
    unit: DistanceUnit
    keeper: str = ""
    """Key of the person who answers for it."""
    drivers: tuple[str, ...] = ()
    description: str = ""
    vin: str = ""
    in_service_on: date | None = None
    entered_on: date | None = None
    usual_split: DutySplit = ALL_DAILY
    yearly_km: float | None = None
    """What its people say it runs in a year; used until readings know better."""
    meters: tuple[Meter, ...] = ()
    components: tuple[Component, ...] = ()
    laid_up: tuple[DateSpan, ...] = ()
    towed_by: tuple[str, ...] = ()
    """For a trailer without a meter: marks of the vehicles that pull it."""
    out_of_fleet_on: date | None = None
    """Sold or retired; no forecast from that day on."""
    max_km_per_day: float = 1600.0

    @property
    def odometer(self) -> Meter | None:
        """Its odometer or hub odometer, if it has one."""
        return next((m for m in self.meters if m.unit is not MeterUnit.HOURS), None)

    @property
    def hour_meter(self) -> Meter | None:
        """Its hour meter, if it has one."""
        return next((m for m in self.meters if m.unit is MeterUnit.HOURS), None)

    def is_gone(self, on: date) -> bool:
        """Whether it is out of the fleet on that day."""
        return self.out_of_fleet_on is not None and self.out_of_fleet_on <= on

    def component(self, key: str) -> Component | None:
        """The component with that key, or None."""
        return next((c for c in self.components if c.key == key), None)
