"""Services that a vehicle could carry beside those it has: what the book holds for each of its components."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.book.picking import choices_for, job
from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.due.counted_from import lines_of
from fleetcare.fleet.component import Component
from fleetcare.fleet.vehicle import Vehicle


@dataclass(frozen=True, slots=True)
class ServicesOf:
    """One component: the services it carries, and those it could carry as well, the proposed ones first."""

    component: Component
    carried: tuple[BookRow, ...]
    offered: tuple[BookRow, ...]


def services_of(vehicle: Vehicle, book: IntervalBook) -> tuple[ServicesOf, ...]:
    """By component. A job that a component carries already is not offered with other figures beside it."""
    found = []
    for component in vehicle.components:
        carried = tuple(row for row, _ in lines_of(vehicle, component, book))
        jobs = {job(row) for row in carried}
        more = [
            row
            for name, rows in choices_for(book, vehicle.kind, component.kind).items()
            if name not in jobs
            for row in rows
        ]
        more.sort(key=lambda row: (not row.proposed, row.title))
        found.append(ServicesOf(component, carried, tuple(more)))
    return tuple(found)
