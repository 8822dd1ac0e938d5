"""What several actions begin with: the facts of the vehicles, read once, and the rules they are judged by.

Not an action: it decides nothing and writes nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from fleetcare.actions.ports import ReadView
from fleetcare.book.rows import IntervalBook
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.reckon import VehicleFacts, reckon_fleet
from fleetcare.errors import BadInput
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.people import Garage
from fleetcare.usage.priors import Priors


@dataclass(frozen=True, slots=True)
class Rules:
    """What the garage goes by: its interval book, its duty cycles, the numbers of the forecast."""

    book: IntervalBook
    duties: Mapping[str, DutyCycle]
    priors: Priors


class _HasMark(Protocol):
    @property
    def mark(self) -> str: ...


_T = TypeVar("_T", bound=_HasMark)


def garage_of(view: ReadView) -> Garage:
    """The garage. Raises BadInput if the home is still empty."""
    garage = view.garage()
    if garage is None:
        raise BadInput("There is no garage here yet.", remedy="Make one with: fleetcare import FOLDER")
    return garage


def garage_day(garage: Garage, now: datetime) -> date:
    """The day it is in the garage."""
    return now.astimezone(ZoneInfo(garage.zone)).date()


def facts_of(view: ReadView, marks: Iterable[str] | None = None) -> tuple[VehicleFacts, ...]:
    """Everything stored about these vehicles (all if None), in the garage's order."""
    wanted = None if marks is None else tuple(marks)
    readings = _by_mark(view.readings(wanted))
    events = _by_mark(view.events(wanted))
    work = defaultdict(list)
    for record in view.work(wanted):
        work[record.line.mark].append(record)
    bookings = view.bookings()
    return tuple(
        VehicleFacts(
            vehicle=vehicle,
            readings=tuple(readings[vehicle.mark]),
            work=tuple(work[vehicle.mark]),
            events=tuple(events[vehicle.mark]),
            bookings=tuple(booking for booking in bookings if vehicle.mark in booking.marks),
        )
        for vehicle in view.vehicles(wanted)
    )


def outlooks_of(
    view: ReadView, rules: Rules, today: date, marks: Iterable[str] | None = None
) -> tuple[VehicleOutlook, ...]:
    """Where these vehicles stand today (all if None), in the garage's order."""
    return outlooks_from(facts_of(view, marks), rules, today)


def outlooks_from(facts: tuple[VehicleFacts, ...], rules: Rules, today: date) -> tuple[VehicleOutlook, ...]:
    """Where vehicles stand today, from facts read before."""
    return reckon_fleet(facts, book=rules.book, duties=rules.duties, priors=rules.priors, today=today)


def _by_mark(items: Iterable[_T]) -> defaultdict[str, list[_T]]:
    grouped: defaultdict[str, list[_T]] = defaultdict(list)
    for item in items:
        grouped[item.mark].append(item)
    return grouped
