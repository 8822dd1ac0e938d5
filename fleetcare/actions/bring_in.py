"""A whole garage, or a part of one, is taken over from files: all of it, or nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.screening import Screened, screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.book.shopping import ShelfItem
from fleetcare.chance import KeyMaker, new_id
from fleetcare.errors import BadFile, BadInput, Clash, Fault
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.busy import CalendarSource, pointed_elsewhere
from fleetcare.fleet.calendar_address import shown_address
from fleetcare.fleet.entering import entered, refuse_taken
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.reading import Reading
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone

Progress = Callable[[str, int, int], None]
"""Told what is going on, how many steps of it are done, and how many there are."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stood: file and 1-based line."""

    file: str
    line: int


@dataclass(frozen=True, slots=True)
class Arrivals:
    """What is brought in. `reading_places` goes along with `readings`."""

    garage: Garage | None = None
    people: tuple[Person, ...] = ()
    vehicles: tuple[Vehicle, ...] = ()
    readings: tuple[Reading, ...] = ()
    reading_places: tuple[Place, ...] = ()
    work: tuple[WorkDone, ...] = ()
    bookings: tuple[Booking, ...] = ()
    events: tuple[UseEvent, ...] = ()
    calendars: tuple[CalendarSource, ...] = ()
    """To be read by their URL when their turn comes."""
    visits: tuple[BayVisit, ...] = ()
    shelf: tuple[ShelfItem, ...] = ()
    orders: tuple[WorkOrder, ...] = ()
    found: tuple[Found, ...] = ()
    moves: tuple[Move, ...] = ()
    """Each takes the place of the one with its name; what else lies there stays."""
    has_book: bool = False
    """The garage's own interval book came along, so every date is worked out again."""


@dataclass(frozen=True, slots=True)
class BroughtIn:
    """How much was new, and where everything stands now."""

    people: int
    vehicles: int
    readings: int
    work: int
    bookings: int
    events: int
    visits: int
    settled: Settled
    known_readings: int = field(default=0)
    screened: tuple[Screened, ...] = ()
    """Readings, brought in or here before, that are held now, or used again."""

    @property
    def held(self) -> tuple[Screened, ...]:
        """Those that are held now."""
        return tuple(each for each in self.screened if each.is_held)


def bring_in(
    store: Store,
    rules: Rules,
    keys: KeyMaker,
    arrivals: Arrivals,
    *,
    now: datetime,
    base_url: str,
    who: str,
    why: str,
    progress: Progress | None = None,
) -> BroughtIn:
    """Stores everything in one transaction and works out the vehicles it touches.

    Readings that stand here already are passed over, so a file can be brought in twice. Nothing is asked: a reading
    that does not fit is stored and held, with a note that says why. Raises BadFile (a day to come, each with its
    line), Clash, BadInput (no garage yet).
    """
    tell = progress or (lambda what, done, of: None)
    with store.write(Change(who, why, now)) as unit:
        garage = _garage(unit, keys, arrivals.garage)
        unit.put_garage(garage)
        _refuse_days_to_come(arrivals, garage, now)
        people, vehicles = _nouns(unit, arrivals, now, garage)
        for booking in arrivals.bookings:
            unit.put_booking(booking)
        for visit in arrivals.visits:
            unit.put_bay_visit(visit)
        _take_calendars(unit, arrivals.calendars)
        unit.put_on_shelf(arrivals.shelf)
        _take_orders(unit, arrivals)
        tell("storing", 0, len(arrivals.readings))
        new_readings = unit.add_readings(arrivals.readings)
        new_work = unit.add_work(arrivals.work)
        new_events = unit.add_events(arrivals.events)
        tell("storing", len(arrivals.readings), len(arrivals.readings))
        screened = screen(unit, rules, facts_of(unit, _with_meters_touched(arrivals)))
        unit.log_change(
            "garage",
            "brought in",
            "",
            f"{people} people, {vehicles} vehicles, {new_readings} readings, {new_work} records of work, "
            f"{len(arrivals.bookings)} bookings, {new_events} events, {len(arrivals.visits)} visits to the bay",
        )
        settled = settle(
            unit,
            rules,
            now=now,
            base_url=base_url,
            marks=_touched(arrivals),
            progress=lambda done, of: tell("working out", done, of),
        )
        return BroughtIn(
            people=people,
            vehicles=vehicles,
            readings=new_readings,
            work=new_work,
            bookings=len(arrivals.bookings),
            events=new_events,
            visits=len(arrivals.visits),
            settled=settled,
            known_readings=len(arrivals.readings) - new_readings,
            screened=screened,
        )


def _garage(unit: WriteUnit, keys: KeyMaker, given: Garage | None) -> Garage:
    stored = unit.garage()
    if given is None and stored is None:
        raise BadInput("There is no garage here yet.", remedy="Bring in garage.toml first, or a whole folder.")
    garage = given or stored
    assert garage is not None  # one of the two is there
    # The id is made once and stays: entries that lie on phones are named after it.
    own_id = (stored.id if stored else "") or garage.id or new_id(keys)
    return replace(garage, id=own_id)


def _nouns(unit: WriteUnit, arrivals: Arrivals, now: datetime, garage: Garage) -> tuple[int, int]:
    stored = {person.key: person for person in unit.people()}
    people = 0
    for person in arrivals.people:
        if stored.get(person.key) != person:
            unit.put_person(person)
            unit.log_change(person.key, "person", "" if person.key not in stored else "changed", person.name)
            people += 1
    by_mark = {vehicle.mark: vehicle for vehicle in unit.vehicles()}
    by_name = {vehicle.name.casefold(): vehicle for vehicle in by_mark.values()}
    vehicles = 0
    today = garage_day(garage, now)
    for given in arrivals.vehicles:
        vehicle = entered(given, by_mark.get(given.mark), today)
        refuse_taken(vehicle, (by_name[name] for name in [vehicle.name.casefold()] if name in by_name))
        if by_mark.get(vehicle.mark) != vehicle:
            unit.put_vehicle(vehicle)
            unit.log_change(vehicle.mark, "vehicle", "" if vehicle.mark not in by_mark else "changed", vehicle.name)
            vehicles += 1
    return people, vehicles


def _take_calendars(unit: WriteUnit, given: tuple[CalendarSource, ...]) -> None:
    """Calendars that are new, or lie at another address now; one that is there as given keeps its copy and its age."""
    there = {source.key: source for source in unit.calendars()}
    for source in given:
        before = there.get(source.key)
        if before is None:
            unit.put_calendar(source)
        elif (before.owner_kind, before.owner) != (source.owner_kind, source.owner):
            raise Clash(
                saying(
                    "The calendar {key} is that of {owner}. Take that one away first.",
                    key=source.key,
                    owner=before.owner,
                )
            )
        elif before.url != source.url:
            unit.put_calendar(pointed_elsewhere(before, source.url))
        else:
            continue
        unit.log_change(f"calendar {source.key}", "address", "", shown_address(source.url))


def _take_orders(unit: WriteUnit, arrivals: Arrivals) -> None:
    """Sheets that are new, with what was found on them; one that stands here otherwise is refused."""
    for order in arrivals.orders:
        there = unit.order(order.number)
        if there is not None and there != order:
            raise Clash(
                saying(
                    "Sheet {sheet} stands here already, and not so. Give this one another number.", sheet=order.sheet
                )
            )
        if there is None:
            unit.put_order(order)
            unit.log_change(f"sheet {order.sheet}", "work order", "", f"brought in: {order.state.value}")
    unit.add_found(arrivals.found)
    there_already = set(unit.moves())
    for move in arrivals.moves:
        if move not in there_already:
            unit.put_move(move)
            unit.log_change(move.to_mark, "component", f"{move.from_mark}/{move.from_component}", move.to_component)


def _refuse_days_to_come(arrivals: Arrivals, garage: Garage, now: datetime) -> None:
    today = garage_day(garage, now)
    faults = [
        Fault(
            place.file, place.line, saying("{on} is still to come.", on=reading.on), "Give the day the dial was read."
        )
        for reading, place in zip(arrivals.readings, arrivals.reading_places, strict=True)
        if reading.on > today
    ]
    if faults:
        raise BadFile(faults)


def _with_meters_touched(arrivals: Arrivals) -> tuple[str, ...]:
    """Marks of the vehicles whose readings have to be walked again."""
    marks = {v.mark for v in arrivals.vehicles} | {r.mark for r in arrivals.readings}
    return tuple(sorted(marks | {mark for booking in arrivals.bookings for mark in booking.marks}))


def _touched(arrivals: Arrivals) -> tuple[str, ...] | None:
    """Marks to work out again; None for all, when what everybody's dates rest on was brought in."""
    marks = {v.mark for v in arrivals.vehicles} | {r.mark for r in arrivals.readings}
    marks |= {w.line.mark for w in arrivals.work} | {e.mark for e in arrivals.events}
    marks |= {order.mark for order in arrivals.orders}
    marks |= {mark for move in arrivals.moves for mark in (move.from_mark, move.to_mark)}
    marks |= {mark for booking in arrivals.bookings for mark in booking.marks}
    marks |= {visit.mark for visit in arrivals.visits}
    everything = arrivals.garage is not None or arrivals.people or arrivals.has_book
    return None if everything else tuple(sorted(marks))
