"""One job sheet with all it is made of, and who may look at it or work on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import RedirectResponse, Response

from fleetcare.actions.gather import facts_of, garage_day, garage_of, outlooks_from, rules_in_force
from fleetcare.actions.sheet_visits import begins_at, visit_of
from fleetcare.assemble import Parts
from fleetcare.book.rows import BookRow
from fleetcare.errors import NotAllowed, NotFound
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.web.who import reader_of
from fleetcare.work.found import Found
from fleetcare.work.order import OrderState, WorkOrder
from fleetcare.work.sheet_course import SheetCourse, sheet_course


@dataclass(frozen=True, slots=True)
class OneSheet:
    """One sheet as of one moment of the store, with what it is made of."""

    garage: Garage
    today: date
    order: WorkOrder
    vehicle: Vehicle
    found: tuple[Found, ...]
    course: SheetCourse
    titles: Mapping[str, str]
    names: Mapping[str, str]


class Stranger:
    """Nobody who may look."""


STRANGER = Stranger()


def looker(request: Request, parts: Parts) -> Person | Stranger | None:
    """Who looks: a person, None in an open house, or a stranger who has to come in first."""
    reader = reader_of(request, parts)
    return STRANGER if reader is None and not parts.settings.web.open_house else reader


def person_of(looker: Person | Stranger | None) -> Person | None:
    """The person who looks, if one came in."""
    return looker if isinstance(looker, Person) else None


def come_in() -> Response:
    """Sends a stranger to the door."""
    return RedirectResponse("/sign-in", status_code=303)


def signed_in(request: Request, parts: Parts) -> Person:
    """The person who came in. Raises NotAllowed."""
    person = reader_of(request, parts)
    if person is None:
        # Asked before the sheet is looked for: a stranger learns no names and no numbers.
        raise NotAllowed("Sheets are worked on by people who came in. Come in, then send it again.")
    return person


def refuse_others(person: Person, one: OneSheet) -> None:
    """Raises NotAllowed for whoever may not enter work on this vehicle."""
    if not may_enter(person, one.vehicle, one.garage):
        raise NotAllowed(
            saying("Sheets of {name} are worked on by its people. Its keeper can let you in.", name=one.vehicle.name)
        )


def number_of(text: str) -> int:
    """The number of a sheet in an address. Raises NotFound."""
    if not text.isascii() or not text.isdigit() or len(text) > 8:
        raise NotFound("sheet", text)
    return int(text)


def one_sheet(parts: Parts, number: int) -> OneSheet:
    """The sheet with that number. Raises NotFound."""
    now = parts.clock.now()
    with parts.store.read() as view:
        garage = garage_of(view)
        order = view.order(number)
        if order is None:
            raise NotFound("sheet", f"{number:04d}")
        today = garage_day(garage, now)
        facts = facts_of(view, (order.mark,))
        outlook = outlooks_from(facts, rules_in_force(view, parts.rules), today)[0]
        found = tuple(each for each in view.found((order.mark,)) if each.order == number)
        visit = visit_of(view, order)
        names = {person.key: person.name for person in view.people()}
    rows: dict[LineKey, BookRow] = {line.key: line.row for line in outlook.lines}
    for line in order.lines:
        if line not in rows and line.service in parts.rules.book.rows:
            rows[line] = parts.rules.book.rows[line.service]
    course = sheet_course(
        order,
        outlook.vehicle,
        rows,
        parts.jobs,
        begins_at=begins_at(order, visit, ZoneInfo(garage.zone)),
        now=now if order.state is OrderState.IN_HAND else None,
    )
    titles = {line.service: row.title for line, row in rows.items()}
    return OneSheet(garage, today, order, outlook.vehicle, found, course, titles, names)
