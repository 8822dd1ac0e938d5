"""A garage as files: the same values always give the same bytes, and reading them gives the same values."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from decimal import Decimal

from fleetcare.book.shopping import ShelfItem
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import Component
from fleetcare.fleet.people import Garage, Light, Person
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.intake.chains import chain_words
from fleetcare.intake.csv_files import write_csv
from fleetcare.intake.csv_values import BOOKINGS, EVENTS, READINGS, VISITS, WORK
from fleetcare.intake.dates import instant_words
from fleetcare.intake.numbers import plain
from fleetcare.intake.order_text import orders_as_text
from fleetcare.intake.shelf_csv import shelf_as_text
from fleetcare.intake.splits import split_parts, split_words
from fleetcare.intake.toml_files import DEFAULT_MAX_KM_PER_DAY
from fleetcare.intake.toml_models import NEVER, WEEKDAY_WORDS
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DistanceUnit, km_from, km_to
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import Finding, WorkDone

GARAGE_FILE = "garage.toml"
PEOPLE_FILE = "people.toml"
VEHICLES_FILE = "vehicles.toml"
BOOK_FILE = "book.toml"
READINGS_FILE = "readings.csv"
WORK_FILE = "work.csv"
BOOKINGS_FILE = "bookings.csv"
EVENTS_FILE = "events.csv"
VISITS_FILE = "bay_visits.csv"
SHELF_FILE = "shelf.csv"
ORDERS_FILE = "orders.toml"
WORKSHOP_FILE = "workshop.toml"
"""The garage's own values of the workshop, word for word."""


def garage_as_files(
    garage: Garage | None,
    people: Sequence[Person],
    vehicles: Sequence[Vehicle],
    readings: Sequence[Reading],
    work: Sequence[WorkDone],
    bookings: Sequence[Booking],
    events: Sequence[UseEvent],
    book_text: str = "",
    *,
    visits: Sequence[BayVisit] = (),
    shelf: Sequence[ShelfItem] = (),
    orders: Sequence[WorkOrder] = (),
    found: Sequence[Found] = (),
    moves: Sequence[Move] = (),
) -> dict[str, str]:
    """The files of a garage by name; a file that would hold nothing is left out.

    Vehicles keep their order, which is the garage's; everything else is sorted, entries alike in their sort key keep
    theirs. book_text: the garage's own interval book, taken over as it stands. What the store gives (ids) is left out.
    Raises ValueError for a reading with more than one decimal, which no door lets in.
    """
    files = {
        GARAGE_FILE: "" if garage is None else _garage(garage),
        PEOPLE_FILE: "\n".join(_person(person) for person in sorted(people, key=lambda person: person.key)),
        VEHICLES_FILE: "\n".join(_vehicle(vehicle) for vehicle in vehicles),
        BOOK_FILE: book_text,
        READINGS_FILE: _readings(readings),
        WORK_FILE: _work(work),
        BOOKINGS_FILE: _bookings(bookings),
        EVENTS_FILE: _events(events),
        VISITS_FILE: _visits(visits),
        SHELF_FILE: shelf_as_text(shelf),
        ORDERS_FILE: orders_as_text(orders, found, moves),
    }
    return {name: text for name, text in files.items() if text.strip()}


def _garage(garage: Garage) -> str:
    pairs = [("name", garage.name), ("zone", garage.zone), ("unit", garage.unit), ("list_keeper", garage.list_keeper)]
    if garage.id:
        pairs.append(("id", garage.id))
    return _lines("[garage]", [f"{key} = {_text(value)}" for key, value in pairs])


def _person(person: Person) -> str:
    weekday = NEVER if person.letter_weekday is None else WEEKDAY_WORDS[person.letter_weekday]
    return _lines(
        "[[person]]",
        [
            f"key = {_text(person.key)}",
            f"name = {_text(person.name)}",
            f"mail = {_text(person.mail)}",
            f"zone = {_text(person.zone)}",
            f"unit = {_text(person.unit)}",
            f"roles = {_texts(person.roles)}",
            f"letter_weekday = {_text(weekday)}",
            f"letter_hour = {person.letter_hour}",
            f"quiet_from = {person.quiet_from}",
            f"quiet_until = {person.quiet_until}",
            *([f"language = {_text(person.language)}"] if person.language else []),
            *([f"light = {_text(person.light)}"] if person.light is not Light.DEVICE else []),
        ],
    )


def _vehicle(vehicle: Vehicle) -> str:
    unit = vehicle.unit
    parts = ", ".join(f"{duty} = {plain(part)}" for duty, part in split_parts(vehicle.usual_split).items())
    spells = [f"{{ first = {spell.first}, last = {spell.last} }}" for spell in vehicle.laid_up]
    lines = [
        f"mark = {_text(vehicle.mark)}",
        f"name = {_text(vehicle.name)}",
        f"kind = {_text(vehicle.kind)}",
        f"called = {_text(vehicle.called)}",
        f"unit = {_text(unit)}",
        f"keeper = {_text(vehicle.keeper)}",
        f"drivers = {_texts(vehicle.drivers)}",
    ]
    optional: list[tuple[str, object, str]] = [
        ("description", vehicle.description, _text(vehicle.description)),
        ("vin", vehicle.vin, _text(vehicle.vin)),
        ("in_service_on", vehicle.in_service_on, str(vehicle.in_service_on)),
        ("entered_on", vehicle.entered_on, str(vehicle.entered_on)),
    ]
    lines += [f"{key} = {text}" for key, value, text in optional if value]
    if vehicle.yearly_km is not None:
        lines.append(f"yearly_distance = {plain(distance_for(vehicle.yearly_km, unit))}")
    lines.append(f"usual_split = {{ {parts} }}")
    if spells:
        lines.append(f"laid_up = {_list(spells)}")
    if vehicle.towed_by:
        lines.append(f"towed_by = {_texts(vehicle.towed_by)}")
    if vehicle.out_of_fleet_on is not None:
        lines.append(f"out_of_fleet_on = {vehicle.out_of_fleet_on}")
    if vehicle.max_km_per_day != DEFAULT_MAX_KM_PER_DAY:
        lines.append(f"max_distance_per_day = {plain(distance_for(vehicle.max_km_per_day, unit))}")
    tables = [_meter(meter) for meter in vehicle.meters] + [_component(component) for component in vehicle.components]
    return _lines("[[vehicle]]", lines) + "".join(tables)


def _meter(meter: Meter) -> str:
    lines = [
        f"key = {_text(meter.key)}",
        f"unit = {_text(meter.unit)}",
        f"digits = {meter.digits}",
        f"rolls_over = {'true' if meter.rolls_over else 'false'}",
        f"delivery_value = {plain(meter.delivery_value)}",
    ]
    changes = [
        f"{{ on = {change.on}, old_end = {plain(change.old_end)}, new_start = {plain(change.new_start)} }}"
        for change in meter.changes
    ]
    if changes:
        lines.append(f"changes = {_list(changes)}")
    return _lines("[[vehicle.meter]]", lines)


def _component(component: Component) -> str:
    lines = [
        f"key = {_text(component.key)}",
        f"kind = {_text(component.kind)}",
        f"title = {_text(component.title)}",
    ]
    if component.fluid_grade:
        lines.append(f"fluid_grade = {_text(component.fluid_grade)}")
    if component.fluid_capacity_l is not None:
        lines.append(f"fluid_capacity_l = {plain(component.fluid_capacity_l)}")
    if component.fitted_on is not None:
        lines.append(f"fitted_on = {component.fitted_on}")
    facts = [
        f"{{ name = {_text(fact.name)}, value = {_text(fact.value)}, basis = {_text(fact.basis)} }}"
        for fact in component.facts
    ]
    if facts:
        lines.append(f"facts = {_list(facts)}")
    services = [
        f"{{ row = {_text(line.service)}, history = {_text(line.history)}"
        + (f", entered_on = {line.entered_on} }}" if line.entered_on is not None else " }")
        for line in component.lines
    ]
    lines.append(f"services = {_list(services)}")
    return _lines("[[vehicle.component]]", lines)


def distance_for(km: float, unit: DistanceUnit) -> Decimal:
    """The shortest figure in `unit` that `km_from` turns into exactly `km`.

    Where there is none (no figure in miles gives that very float), the nearest; reading and writing it again changes
    nothing any more.
    """
    about = km_to(km, unit)
    for digits in range(1, 18):
        figure = Decimal(f"{about:.{digits - 1}e}")
        if km_from(figure, unit) == km:
            return figure
    nearest_km = km_from(about, unit)
    return distance_for(nearest_km, unit) if nearest_km != km else Decimal(repr(about))


def _readings(readings: Sequence[Reading]) -> str:
    rows = [
        (
            reading.mark,
            reading.meter,
            reading.on.isoformat(),
            _amount(reading.value),
            reading.unit,
            "" if reading.split is None else split_words(reading.split),
            reading.by,
            reading.door,
            reading.state,
            reading.note,
            instant_words(reading.entered_at),
            reading.vouched_by,
        )
        for reading in sorted(readings, key=lambda reading: (reading.mark, reading.meter, reading.on))
    ]
    return write_csv(READINGS, rows) if rows else ""


def _work(work: Sequence[WorkDone]) -> str:
    rows = [
        (
            *done.line,
            done.on.isoformat(),
            "" if done.at is None else _amount(done.at),
            done.unit or "",
            done.by,
            done.note,
            *_finding(finding),
        )
        for done in sorted(work, key=lambda done: (done.line, done.on))
        for finding in done.findings or (None,)
    ]
    return write_csv(WORK, rows) if rows else ""


def _finding(finding: Finding | None) -> tuple[str, str, str]:
    if finding is None:
        return ("", "", "")
    again, settled = finding.look_again_on, finding.settled_on
    return (finding.text, again.isoformat() if again else "", settled.isoformat() if settled else "")


def _bookings(bookings: Sequence[Booking]) -> str:
    rows = [
        (
            booking.key,
            booking.title,
            booking.days.first.isoformat(),
            booking.days.last.isoformat(),
            " ".join(booking.marks),
            "" if booking.distance is None else _amount(booking.distance),
            booking.unit,
            booking.duty,
            booking.event,
        )
        for booking in sorted(bookings, key=lambda booking: (booking.days.first, booking.key))
    ]
    return write_csv(BOOKINGS, rows) if rows else ""


def _visits(visits: Sequence[BayVisit]) -> str:
    rows = [
        (
            visit.mark,
            str(visit.number),
            visit.state,
            instant_words(visit.begins_at),
            " ".join(f"{line.component}/{line.service}" for line in visit.lines),
            chain_words(visit.stretches),
            visit.mechanic,
            visit.reason,
        )
        for visit in sorted(visits, key=lambda visit: visit.key)
    ]
    return write_csv(VISITS, rows) if rows else ""


def _events(events: Sequence[UseEvent]) -> str:
    rows = [
        (event.mark, event.component, event.kind, event.on.isoformat(), event.note)
        for event in sorted(events, key=lambda event: (event.mark, event.on, event.kind, event.component))
    ]
    return write_csv(EVENTS, rows) if rows else ""


def _amount(value: Decimal) -> str:
    """A figure off a dial. Three decimals would be read back as thousands, so more than one is refused."""
    text = plain(value)
    if len(text.partition(".")[2]) > 1:
        raise ValueError(f"a dial shows at most one decimal, not {text}")
    return text


def _lines(head: str, lines: Iterable[str]) -> str:
    return "\n".join([head, *lines]) + "\n"


def _list(entries: Sequence[str]) -> str:
    """A list on one line if it is short, else an entry a line."""
    line = f"[{', '.join(entries)}]"
    return line if len(line) <= 100 else "[\n" + "".join(f"    {entry},\n" for entry in entries) + "]"


def _texts(texts: Iterable[str]) -> str:
    return f"[{', '.join(_text(text) for text in texts)}]"


def _text(text: str) -> str:
    # a JSON string is a TOML basic string, as long as it holds no control characters; the text gate lets none in
    return json.dumps(str(text), ensure_ascii=False)
