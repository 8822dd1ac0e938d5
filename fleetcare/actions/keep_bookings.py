"""Spells in which vehicles are spoken for are put down, changed and taken back; so are things that happened to one."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of, vehicle_in
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.causes import cause
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.figures import kept_day
from fleetcare.fleet.booking import CHANGED_HANDS, Booking, UseEvent
from fleetcare.fleet.calendar_bookings import is_from
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import FromBook, Saying, listed, saying, together
from fleetcare.quantities import DateSpan, DistanceUnit

LONGEST_DAYS = 366
LARGEST = Decimal(100_000)


@dataclass(frozen=True, slots=True)
class GivenBooking:
    """A spell as somebody gave it, its last day included. distance: of each vehicle, None if nobody knows."""

    title: str
    first: date
    last: date
    marks: tuple[str, ...]
    distance: Decimal | None = None
    unit: DistanceUnit = DistanceUnit.KM
    duty: str = ""
    event: str = ""


@dataclass(frozen=True, slots=True)
class Away:
    """What is known of one vehicle's spells and events. read_in: keys of bookings that a calendar made.

    by_sheet: events that handing in a sheet wrote.
    """

    garage: Garage
    today: date
    vehicles: tuple[Vehicle, ...]
    outlook: VehicleOutlook
    bookings: tuple[Booking, ...]
    events: tuple[UseEvent, ...]
    read_in: frozenset[str]
    by_sheet: frozenset[UseEvent]
    kinds: tuple[str, ...]


def booking_state(booking: Booking) -> str:
    """Changes when anything of it does; a form that was shown another state is an old one."""
    return hashlib.sha256(repr(booking).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def kinds_of_events(rules: Rules) -> tuple[str, ...]:
    """The kinds of event that a service of the book follows, and changed hands; sorted."""
    of_the_book = {after.event for row in rules.book.rows.values() for after in row.rule.after}
    return tuple(sorted({CHANGED_HANDS, *of_the_book}))


def away_of(store: Store, rules: Rules, mark: str, *, now: datetime) -> Away:
    """Spells and events of one vehicle. Raises NotFound."""
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        vehicle = vehicle_in(view, mark)
        sources = [source.key for source in view.calendars()]
        bookings = tuple(each for each in view.bookings() if vehicle.mark in each.marks)
        sheets = frozenset(
            UseEvent(order.mark, kind, order.closed_on, where)
            for order in view.orders((vehicle.mark,))
            if order.closed_on is not None
            for kind, where in order.events
        )
        return Away(
            garage,
            today,
            view.vehicles(),
            outlooks_of(view, rules, today, (vehicle.mark,))[0],
            bookings,
            view.events((vehicle.mark,)),
            frozenset(each.key for each in bookings if _is_read_in(each, sources)),
            sheets,
            kinds_of_events(rules),
        )


def keep_booking(
    store: Store,
    rules: Rules,
    given: GivenBooking,
    *,
    key: str = "",
    shown: str | None = None,
    may_plan: Collection[str],
    now: datetime,
    who: str,
    base_url: str,
) -> tuple[Booking, Settled]:
    """Puts a spell down, or changes the one with that key; its vehicles are worked out again in the same transaction.

    may_plan: marks for which this person may; others of the spell stay as they are. Raises BadInput, NotFound (booking,
    vehicle, kind of event), NotAllowed, and Clash if it is another one by now than was shown.
    """
    with store.write(Change(who, cause("{booking}, {day}", booking=given.title, day=given.first), now)) as unit:
        today = garage_day(garage_of(unit), now)
        there = {each.key: each for each in unit.bookings()}
        before = _shown(there, key, shown, {s.key for s in unit.calendars()}) if key else None
        marks = tuple(dict.fromkeys(vehicle_in(unit, each).mark for each in given.marks))
        was = before.marks if before is not None else ()
        if any(mark not in may_plan for mark in {*marks} ^ {*was}):
            raise NotAllowed("A vehicle is spoken for by its keeper or a mechanic; they can let you in.")
        _refuse(given, marks, rules, today, is_new=before is None)
        days = DateSpan.of_days(given.first, given.last)
        known = before is not None and before.event == given.event
        event = given.event if known or not given.event else _kind(rules, given.event)
        booking = Booking(
            key or _new_key(given, there), given.title, days, marks, given.distance, given.unit, given.duty, event
        )
        unit.put_booking(booking)
        for mark in sorted({*marks, *was}):
            earlier = _words(before) if before is not None and mark in was else ""
            unit.log_change(mark, "spoken for", earlier, _words(booking) if mark in marks else "")
        return booking, settle(unit, rules, now=now, base_url=base_url, marks=sorted({*marks, *was}))


def drop_booking(
    store: Store,
    rules: Rules,
    key: str,
    *,
    shown: str | None = None,
    may_plan: Collection[str],
    now: datetime,
    who: str,
    base_url: str,
) -> Settled:
    """Takes a spell back. Raises NotFound, NotAllowed and Clash as `keep_booking`."""
    with store.write(Change(who, "spell taken back", now)) as unit:
        garage_of(unit)
        booking = _shown({each.key: each for each in unit.bookings()}, key, shown, {s.key for s in unit.calendars()})
        if any(mark not in may_plan for mark in booking.marks):
            raise NotAllowed("That spell is another vehicle’s, too; its keeper or a mechanic can take it back.")
        unit.drop_bookings((key,))
        for mark in sorted(booking.marks):
            unit.log_change(mark, "spoken for", _words(booking), "")
        return settle(unit, rules, now=now, base_url=base_url, marks=sorted(booking.marks))


def take_back_event(store: Store, rules: Rules, event: UseEvent, *, now: datetime, who: str, base_url: str) -> Settled:
    """Something did not happen after all. Raises NotFound, and BadInput for what a sheet wrote."""
    with store.write(Change(who, f"{event.kind} taken back", now)) as unit:
        garage_of(unit)
        for order in unit.orders((event.mark,)):
            if order.closed_on == event.on and (event.kind, event.component) in order.events:
                raise BadInput(
                    saying("Sheet {sheet} wrote that.", sheet=order.sheet),
                    remedy="Put the sheet back instead.",
                    field="event",
                )
        if not unit.take_back_events((event,)):
            raise NotFound("event", event.kind, [each.kind for each in unit.events((event.mark,))])
        unit.log_change(
            event.mark, "event", saying("{event} on {day}", event=FromBook(event.kind), day=kept_day(event.on)), ""
        )
        return settle(unit, rules, now=now, base_url=base_url, marks=(event.mark,))


def _shown(there: dict[str, Booking], key: str, shown: str | None, calendars: Collection[str]) -> Booking:
    booking = there.get(key)
    if booking is None:
        if shown is not None:
            raise Clash("Somebody took that spell back meanwhile. Here is what stands now.")
        raise NotFound("booking", key, there)
    if _is_read_in(booking, calendars):
        raise BadInput("That spell is read from a calendar.", remedy="Change it there.", field="title")
    if shown is not None and shown != booking_state(booking):
        raise Clash("Somebody changed that spell meanwhile. Here it is as it is now.")
    return booking


def _is_read_in(booking: Booking, calendars: Iterable[str]) -> bool:
    return any(is_from(each, booking) for each in calendars)


def _refuse(given: GivenBooking, marks: Collection[str], rules: Rules, today: date, *, is_new: bool) -> None:
    if not given.title.strip():
        raise BadInput("What it is for is missing.", remedy="Say it in a few words.", field="title")
    if given.last < given.first:
        raise BadInput("It ends before it begins.", remedy="Give the first day, then the last one.", field="last")
    if is_new and given.last < today:
        raise BadInput("Those days are over.", remedy="Give days ahead; what happened is an event.", field="last")
    if (given.last - given.first).days >= LONGEST_DAYS:
        raise BadInput("That is longer than a year.", remedy="Lay the vehicle up instead.", field="last")
    if not marks:
        raise BadInput("No vehicle is ticked.", remedy="Tick at least one.", field="vehicle")
    if given.distance is not None and not 0 <= given.distance <= LARGEST:
        raise BadInput(
            saying("{distance} is no distance for a trip.", distance=given.distance),
            remedy="Give 0 to 100000.",
            field="distance",
        )
    if given.duty and given.duty not in rules.duties:
        raise NotFound("duty", given.duty, rules.duties)


def _kind(rules: Rules, given: str) -> str:
    kinds = kinds_of_events(rules)
    found = next((each for each in kinds if each.casefold() == given.strip().casefold()), None)
    if found is None:
        raise NotFound("kind of event in the interval book", given, kinds)
    return found


def _new_key(given: GivenBooking, taken: Collection[str]) -> str:
    plain = "-".join(re.findall(r"[a-z0-9]+", given.title.casefold()))[:40] or "spell"
    base = f"{plain}-{given.first.isoformat()}"
    return next(each for each in (base, *(f"{base}-{n}" for n in range(2, len(taken) + 3))) if each not in taken)


def _words(booking: Booking) -> Saying:
    first, last = kept_day(booking.days.first), kept_day(booking.days.last)
    day = Saying("{day}", {"day": first})
    days = day if booking.days.first == booking.days.last else saying("{first} to {last}", first=first, last=last)
    duty = FromBook(booking.duty) if booking.duty else ""
    far = [f"{booking.distance} {booking.unit.value}"] if booking.distance is not None else []
    return listed(booking.title, days, *([together(*far, duty)] if far or duty else []), by=", ")
