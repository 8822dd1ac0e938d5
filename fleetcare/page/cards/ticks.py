"""Vehicles to tick; of more than one would tick, only those that are on, and a field in which others are typed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fleetcare.fleet.vehicle import Vehicle

TICKED_AT_MOST = 40
"""Of more vehicles only those that are on are there to tick; others are typed by their marks."""


@dataclass(frozen=True, slots=True)
class Tick:
    """Something to tick or choose."""

    value: str
    text: str
    is_on: bool


@dataclass(frozen=True, slots=True)
class VehicleTicks:
    """What is there to tick, and what is typed beside it: marks with commas between; None where all are to tick."""

    rows: tuple[Tick, ...]
    others: str | None


def vehicle_ticks(
    vehicles: Sequence[Vehicle], on: Collection[str], *, there: Collection[str] = (), others: str = ""
) -> VehicleTicks:
    """Vehicles in their order.

    on: marks that are ticked. there: marks that can be ticked anyway, so that one taken off can be put on again.
    others: marks as typed before. More than can be ticked that are on are typed, too.
    """
    if len(vehicles) <= TICKED_AT_MOST:
        return VehicleTicks(tuple(_tick(each, on) for each in vehicles), None)
    offered = [each for each in vehicles if each.mark in on or each.mark in there]
    if len(offered) > TICKED_AT_MOST:
        typed = [each.mark for each in offered if each.mark in on]
        return VehicleTicks((), ", ".join([*typed, *([others] if others else [])]))
    return VehicleTicks(tuple(_tick(each, on) for each in offered), others)


def _tick(vehicle: Vehicle, on: Collection[str]) -> Tick:
    return Tick(vehicle.mark, f"{vehicle.mark} {vehicle.name}", vehicle.mark in on)
