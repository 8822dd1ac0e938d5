"""What a due date is worked out from: everything known of one vehicle."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.meter.reading import Reading
from fleetcare.quantities import km_from
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class VehicleFacts:
    """One vehicle with all that was entered of it, in any order and any state. Bookings of others are passed over."""

    vehicle: Vehicle
    readings: tuple[Reading, ...] = ()
    work: tuple[WorkDone, ...] = ()
    events: tuple[UseEvent, ...] = ()
    bookings: tuple[Booking, ...] = ()
    found: tuple[Found, ...] = ()
    """What was found on the components that are on it now, wherever they were then."""
    moves: tuple[Move, ...] = ()
    """All moves of components that ever were on it."""


@dataclass(frozen=True, slots=True)
class Trip:
    """Booked distance of one vehicle, taken as driven by the start of the booking's last day (an ordinal)."""

    ordinal: int
    km: float
    split: DutySplit
    title: str
    says_duty: bool


def trips_of(facts: VehicleFacts) -> tuple[Trip, ...]:
    """The bookings of this vehicle that name a distance, by last day and title."""
    vehicle = facts.vehicle
    trips = [
        Trip(
            ordinal=booking.days.last.toordinal(),
            km=km_from(booking.distance, booking.unit),
            split=DutySplit(((booking.duty, 1.0),)) if booking.duty else vehicle.usual_split,
            title=booking.title,
            says_duty=bool(booking.duty),
        )
        for booking in facts.bookings
        if vehicle.mark in booking.marks and booking.distance is not None and booking.distance > 0
    ]
    return tuple(sorted(trips, key=lambda trip: (trip.ordinal, trip.title, trip.km)))
