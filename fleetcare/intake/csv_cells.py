"""Cells of readings, work, bookings, events and visits that name something of the garage."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from typing import TypeVar

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.booking import CHANGED_HANDS
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.intake.csv_rows import Row
from fleetcare.intake.dates import parse_day
from fleetcare.intake.known import Roster, nearest, unknown
from fleetcare.intake.toml_models import is_key
from fleetcare.language import saying
from fleetcare.work.record import Finding

EnumT = TypeVar("EnumT", bound=StrEnum)


def findings_in(row: Row) -> tuple[Finding, ...]:
    """What was found at that work, with the days to look again and it was settled; none if the cell is empty."""
    text = row.text("finding")
    again, settled = row.take("look_again_on", parse_day), row.take("settled_on", parse_day)
    if text:
        return (Finding(text, again, settled),)
    if again is not None or settled is not None:
        row.blame("finding", "There is a day for a finding, but no finding.", "Write what was found.")
    return ()


def meter_in(row: Row, roster: Roster, vehicle: Vehicle | None) -> Meter | None:
    """The dial that is named, or the only one of the vehicle; None if that is a fault, which is noted."""
    if vehicle is None:
        return None
    return (
        row.take("meter", lambda text: roster.meter(vehicle, text)) if row.row["meter"] else _only(row, vehicle, roster)
    )


def _only(row: Row, vehicle: Vehicle, roster: Roster) -> Meter | None:
    try:
        return roster.meter(vehicle, "")
    except BadInput as bad:
        row.blame("meter", bad.what, bad.remedy)
        return None


def component_in(row: Row, roster: Roster, vehicle: Vehicle | None) -> Component | None:
    """The component that is named, or None with a fault noted."""
    if vehicle is None:
        return None
    return row.take("component", lambda text: roster.component(vehicle, text))


def service_in(row: Row, roster: Roster, vehicle: Vehicle | None, component: Component | None) -> str:
    """The key of the service as written, folded; a fault is noted if that component does not have it."""
    text = row.row["service"].casefold()
    if not text:
        row.blame("service", "There is no service.", "Write the key of its row in the interval book.")
    if vehicle is None or component is None or not text:
        return text
    carried = [line.service for line in component.lines]
    if text in carried:
        return text
    if roster.book is not None and text in roster.book.rows:
        what = saying(
            "The {key} of {name} does not have the service {text_}.", key=component.key, name=vehicle.name, text_=text
        )
        row.blame("service", what, "Add it to `services` of that component, or name one it has.")
    else:
        bad = unknown(f"service on the {component.key} of {vehicle.name}", row.row["service"], carried)
        row.blame("service", bad.what, bad.remedy)
    return text


def several_vehicles(text: str, roster: Roster) -> tuple[Vehicle, ...]:
    """Vehicles by mark, blanks or commas between them; one alone may be given by its name."""
    whole = roster.called.get(text.strip().casefold())
    if whole is not None:
        return (whole,)
    words = text.replace(",", " ").replace(";", " ").split()
    if not words:
        raise BadInput("There is no vehicle.", remedy="Write marks with blanks between them: AN BE.", field="vehicles")
    return tuple(vehicle for vehicle in map(roster.vehicle, words) if vehicle is not None)


def check_event(row: Row, roster: Roster, kind: str) -> None:
    """A misspelt event is a fault, because nothing would follow it; one that no service follows is only said."""
    events = roster.events()
    if not kind or not events or kind in events or kind == CHANGED_HANDS:
        return
    near = nearest(kind, events)
    if near is not None:
        row.blame(
            "event",
            saying("No service follows {kind}.", kind=shown(kind, 40)),
            saying("Did you mean {near}?", near=near),
        )
    else:
        row.found.warnings.append(
            row.place.fault(saying("No service follows the event {kind}.", kind=shown(kind, 40)), "It is kept.")
        )


def one_of(enum: type[EnumT]) -> Callable[[str], EnumT]:
    """A reader of one of the values of `enum`; it raises `BadInput` with the nearest or all of them."""

    def read(text: str) -> EnumT:
        try:
            return enum(text.strip().casefold())
        except ValueError:
            choices = [member.value for member in enum]
            near = nearest(text, choices)
            remedy = (
                saying("Did you mean {near}?", near=near)
                if near
                else saying("Write {choices} or {last}.", choices=", ".join(choices[:-1]), last=choices[-1])
            )
            raise BadInput(saying("It cannot be {text_}.", text_=shown(text, 40)), remedy=remedy) from None

    return read


def a_key(text: str) -> str:
    """A key as given. Raises `BadInput` if it cannot be one."""
    if not is_key(text):
        raise BadInput(
            saying("{text_} cannot be a key.", text_=shown(text, 40)),
            remedy="Use lower case letters, digits and hyphens.",
        )
    return text


def lines_in(text: str, vehicle: Vehicle) -> tuple[LineKey, ...]:
    """Service lines written as component/service, blanks between them."""
    known = {f"{each.key}/{line.service}": each for each in vehicle.components for line in each.lines}
    words = text.replace(",", " ").casefold().split()
    for word in words:
        if word not in known:
            raise unknown(f"service on {vehicle.name}", word, known)
    if not words:
        raise BadInput("There is no service.", remedy="Write component/service, as in rear-axle/axle-vents.")
    return tuple(dict.fromkeys(LineKey(vehicle.mark, *word.split("/", 1)) for word in words))


def person_in(text: str, roster: Roster) -> str:
    """The key of a person. Raises `BadInput` if nobody has it."""
    if text not in roster.people:
        raise unknown("person", text, sorted(roster.people))
    return text


def a_count(text: str) -> int:
    """A number of a visit, counted from 1. Raises `BadInput`."""
    if not (text.isascii() and text.isdigit() and len(text) <= 6 and int(text) > 0):
        raise BadInput(saying("{text_} is no number of a visit.", text_=shown(text, 20)), remedy="Count them from 1.")
    return int(text)
