"""What a sheet that was handed in took from the shelf: the fluid that really went in, and the parts it names."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from fleetcare.book.bench import Need
from fleetcare.book.shopping import ShelfItem, drawn_down
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.order import Filled, WorkOrder


def used_by(order: WorkOrder, vehicle: Vehicle, shelf: Sequence[ShelfItem]) -> tuple[Need, ...]:
    """What the sheet says went in, called so that it is found on the shelf.

    A fill is known by the name somebody wrote if that lies on the shelf, else by the fluid of its component.
    """
    names = {item.key for item in shelf}
    fills = [Need(_name(filled, vehicle, names), filled.litres, "L") for filled in order.fills]
    return (*fills, *(Need(part.what, part.amount, part.unit) for part in order.parts))


def taken_from(before: Sequence[ShelfItem], used: Sequence[Need]) -> tuple[tuple[ShelfItem, ...], dict[str, Decimal]]:
    """The items that are less now, and by key how much of each was taken, in its own unit."""
    after, _ = drawn_down(before, used)
    taken = {old.key: old.amount - new.amount for old, new in zip(before, after, strict=True)}
    return tuple(item for item in after if taken[item.key] > 0), {
        key: amount for key, amount in taken.items() if amount
    }


def _name(filled: Filled, vehicle: Vehicle, names: set[str]) -> str:
    if " ".join(filled.what.casefold().split()) in names:
        return filled.what
    component = vehicle.component(filled.component)
    return f"{filled.what}, {component.fluid_grade}" if component is not None else filled.what
