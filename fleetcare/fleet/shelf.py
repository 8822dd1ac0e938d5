"""The shelf: where a component lies that is on no vehicle. What lies there keeps what it has behind it, and waits.

It is kept as a vehicle that is out of the fleet and has no dial: nothing on it is due, and what holds for components
(moves, history, files) holds for it as well.
"""

from __future__ import annotations

from datetime import date

from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle, VehicleKind

SHELF_MARK = "SHELF"
SHELF_NAME = "Shelf"


def is_shelf(called: str) -> bool:
    """Whether the shelf is meant, in small or capital letters."""
    return called.strip().upper() == SHELF_MARK


def new_shelf(garage: Garage, on: date) -> Vehicle:
    """An empty shelf, there from that day on."""
    return Vehicle(SHELF_MARK, SHELF_NAME, VehicleKind.TRAILER, "parts", garage.unit, entered_on=on, out_of_fleet_on=on)


def free_key(place: Vehicle, key: str) -> str:
    """What a component can be called there: its own key, or with the first number that is free: `rear-axle-2`."""
    taken = {component.key for component in place.components}
    count, free = 1, key
    while free in taken:
        count += 1
        free = f"{key}-{count}"
    return free
