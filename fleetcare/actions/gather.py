"""What several actions begin with: the facts of the vehicles, read once, and the rules they are judged by.

Not an action: it decides nothing and writes nothing.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from fleetcare.actions.ports import ReadView, Store
from fleetcare.book.rows import IntervalBook
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.pace import KnownPace
from fleetcare.due.reckon import VehicleFacts, WorkedOut, reckon_fleet, work_out
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.duty import DutyCycle
from fleetcare.fleet.naming import vehicle_called
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import Tongues
from fleetcare.usage.learned import priors_in_force
from fleetcare.usage.priors import Priors
from fleetcare.work.found import found_where_it_is
from fleetcare.work.order import WorkOrder

FORECAST_NUMBERS = "forecast numbers"
"""What the log calls numbers that were learned; their entry stands for every vehicle, as all are worked out anew."""


@dataclass(frozen=True, slots=True)
class Rules:
    """What the garage goes by: its interval book, its duty cycles, the numbers of the forecast.

    priors: as shipped and as the garage's own file has them; see `rules_in_force` for what it learned. own_numbers:
    names of those that its file sets.
    """

    book: IntervalBook
    duties: Mapping[str, DutyCycle]
    priors: Priors
    own_numbers: frozenset[str] = frozenset()
    feeds: FeedRules = field(default_factory=FeedRules)
    tongues: Tongues = field(default_factory=Tongues)
    """The languages that calendars are written in."""


class _HasMark(Protocol):
    @property
    def mark(self) -> str: ...


_T = TypeVar("_T", bound=_HasMark)


def garage_of(view: ReadView) -> Garage:
    """The garage. Raises BadInput if the home is still empty."""
    garage = view.garage()
    if garage is None:
        raise BadInput(
            "There is no garage here yet.",
            remedy="Make one with: fleetcare init --keeper NAME, or: fleetcare import FOLDER",
        )
    return garage


def garage_day(garage: Garage, now: datetime) -> date:
    """The day it is in the garage."""
    return now.astimezone(ZoneInfo(garage.zone)).date()


def today_in(store: Store, now: datetime) -> date:
    """The day it is in the garage, for the cause of a write that is to begin. Raises BadInput without a garage."""
    with store.read() as view:
        return garage_day(garage_of(view), now)


def facts_of(view: ReadView, marks: Iterable[str] | None = None) -> tuple[VehicleFacts, ...]:
    """Everything stored about these vehicles (all if None), in the garage's order."""
    wanted = None if marks is None else tuple(marks)
    readings = _by_mark(view.readings(wanted))
    events = _by_mark(view.events(wanted))
    work = defaultdict(list)
    for record in view.work(wanted):
        work[record.line.mark].append(record)
    bookings = view.bookings()
    moves = view.moves(wanted)
    found = _by_mark(found_where_it_is(view.found(None if moves else wanted), moves))
    return tuple(
        VehicleFacts(
            vehicle=vehicle,
            readings=tuple(readings[vehicle.mark]),
            work=tuple(work[vehicle.mark]),
            events=tuple(events[vehicle.mark]),
            bookings=tuple(booking for booking in bookings if vehicle.mark in booking.marks),
            found=tuple(found[vehicle.mark]),
            moves=moves,
        )
        for vehicle in view.vehicles(wanted)
    )


def vehicle_in(view: ReadView, called: str) -> Vehicle:
    """The vehicle that is called so, by mark or name. By its mark it is found without looking at the others.

    Raises NotFound with what comes near.
    """
    exact: tuple[Vehicle, ...] = ()
    with suppress(BadInput):  # a sign that no database keeps is in no mark either
        exact = view.vehicles((called,))
    return exact[0] if exact else vehicle_called(view.vehicles(), called)


def sheet_in(view: ReadView, number: int) -> WorkOrder:
    """The work order with that number. Raises NotFound with what comes near."""
    order = view.order(number)
    if order is None:
        raise NotFound("sheet", f"{number:04d}", [each.sheet for each in view.orders()])
    return order


def rules_in_force(view: ReadView, rules: Rules) -> Rules:
    """The rules to reckon with: over the shipped numbers the newest fit, over it those the garage set itself.

    Whoever reckons asks here first; asked twice, it answers the same.
    """
    newest = view.newest_fit()
    if newest is None:
        return rules
    on = garage_day(garage_of(view), newest.at)
    return replace(rules, priors=priors_in_force(rules.priors, newest, own=rules.own_numbers, on=on))


def outlooks_of(
    view: ReadView, rules: Rules, today: date, marks: Iterable[str] | None = None, *, with_steps: bool = True
) -> tuple[VehicleOutlook, ...]:
    """Where these vehicles stand today (all if None), in the garage's order; with_steps as in `reckon_fleet`."""
    return outlooks_from(facts_of(view, marks), rules_in_force(view, rules), today, with_steps=with_steps)


def outlooks_from(
    facts: tuple[VehicleFacts, ...], rules: Rules, today: date, *, with_steps: bool = True
) -> tuple[VehicleOutlook, ...]:
    """Where vehicles stand today, from facts read before, by rules in force; with_steps as in `reckon_fleet`."""
    return reckon_fleet(
        facts, book=rules.book, duties=rules.duties, priors=rules.priors, today=today, with_steps=with_steps
    )


def worked_out_from(
    facts: Sequence[VehicleFacts],
    rules: Rules,
    today: date,
    known: Mapping[str, Sequence[KnownPace]] | None = None,
) -> tuple[WorkedOut, ...]:
    """The same with the inputs of their dates, for storing; without the sentences, which nobody stores.

    known: by mark, how far paces were worked out before under these rules.
    """
    return work_out(
        facts,
        book=rules.book,
        duties=rules.duties,
        priors=rules.priors,
        today=today,
        with_steps=False,
        known=known,
    )


def _by_mark(items: Iterable[_T]) -> defaultdict[str, list[_T]]:
    grouped: defaultdict[str, list[_T]] = defaultdict(list)
    for item in items:
        grouped[item.mark].append(item)
    return grouped
