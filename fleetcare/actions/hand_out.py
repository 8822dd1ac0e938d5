"""Everything a garage has entered, as values, for files that bring it back without loss."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.actions.gather import garage_of
from fleetcare.actions.ports import Store
from fleetcare.book.shopping import ShelfItem
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class HandedOut:
    """One garage, whole."""

    garage: Garage
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    readings: tuple[Reading, ...]
    work: tuple[WorkDone, ...]
    bookings: tuple[Booking, ...]
    events: tuple[UseEvent, ...]
    visits: tuple[BayVisit, ...]
    shelf: tuple[ShelfItem, ...] = ()
    orders: tuple[WorkOrder, ...] = ()
    found: tuple[Found, ...] = ()
    moves: tuple[Move, ...] = ()


def hand_out(store: Store) -> HandedOut:
    """Reads everything in one consistent view. Raises BadInput if there is no garage yet."""
    with store.read() as view:
        return HandedOut(
            garage=garage_of(view),
            people=view.people(),
            vehicles=view.vehicles(),
            readings=view.readings(),
            work=view.work(),
            bookings=view.bookings(),
            events=view.events(),
            visits=view.bay_visits(),
            shelf=view.shelf(),
            orders=view.orders(),
            found=view.found(),
            moves=view.moves(),
        )
