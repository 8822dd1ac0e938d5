"""Where the garage stands today: what the pages, the commands and the API show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.ports import LogEntry, Store
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Garage, Person
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class Ahead:
    """The garage on one day."""

    garage: Garage
    today: date
    people: tuple[Person, ...]
    outlooks: tuple[VehicleOutlook, ...]
    bookings: tuple[Booking, ...]
    work: tuple[WorkDone, ...]


def look_ahead(store: Store, rules: Rules, *, now: datetime, marks: Iterable[str] | None = None) -> Ahead:
    """Reads these vehicles (all if None) and works out where they stand. Writes nothing."""
    wanted = None if marks is None else tuple(marks)
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        return Ahead(
            garage=garage,
            today=today,
            people=view.people(),
            outlooks=outlooks_of(view, rules, today, wanted),
            bookings=view.bookings(),
            work=view.work(wanted),
        )


def changes_of(store: Store, subject: str, limit: int = 10) -> tuple[LogEntry, ...]:
    """The newest changes of one line, vehicle or person, newest first."""
    with store.read() as view:
        return view.log(subject, limit)
