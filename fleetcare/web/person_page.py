"""The pages about people, as they stand now: everybody, one of them, and what is said of a form that was not taken."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from fastapi import Request
from fastapi.responses import HTMLResponse

from fleetcare.actions.gather import garage_day
from fleetcare.actions.keep_people import household, state_of
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.page.cards.people import people_card
from fleetcare.page.cards.person import ShownOnce, TriedPerson, person_card
from fleetcare.web.changed import changed_at
from fleetcare.web.form_seal import seal_of
from fleetcare.web.safety import status_of


def people_page(
    parts: Parts,
    request: Request,
    reader: Person,
    *,
    find: str = "",
    start: int = 0,
    tried: TriedPerson | None = None,
    status: int = 200,
) -> HTMLResponse:
    """The list of people. tried: a form that could not be taken."""
    now = parts.clock.now()
    house = household(parts.store, now=now)
    today = garage_day(house.garage, now)
    card = people_card(
        garage=house.garage,
        reader=reader,
        today=today,
        people=house.people,
        vehicles=house.vehicles,
        keys=house.keys,
        can_enter=any(v.meters and may_enter(reader, v, house.garage) for v in house.vehicles),
        done=changed_at(parts, request, reader, today),
        tried=tried,
        find=find,
        start=start,
        tongues=parts.tongues.all(),
    )
    return HTMLResponse(parts.pages.people(card, seal_of(request)), status_code=status)


def person_page(
    parts: Parts,
    request: Request,
    reader: Person,
    key: str,
    *,
    once: ShownOnce | None = None,
    said: str = "",
    tried: TriedPerson | None = None,
    key_typed: Mapping[str, str] | None = None,
    status: int = 200,
) -> HTMLResponse:
    """One person. once: shown this once. said: what was done that left no trace in the log. Raises NotFound."""
    now = parts.clock.now()
    house = household(parts.store, now=now)
    today = garage_day(house.garage, now)
    person = next((each for each in house.people if each.key == key), None)
    if person is None:
        raise NotFound("person", key, [each.key for each in house.people])
    card = person_card(
        garage=house.garage,
        reader=reader,
        today=today,
        person=person,
        vehicles=house.vehicles,
        keys=[each for each in house.keys if each.person == key],
        hands=house.visits_ahead.get(key, 0),
        state=state_of(person, house.vehicles),
        can_enter=any(v.meters and may_enter(reader, v, house.garage) for v in house.vehicles),
        done=changed_at(parts, request, reader, today),
        once=once,
        said=said,
        tried=tried,
        key_typed=key_typed,
        tongues=parts.tongues.all(),
    )
    return HTMLResponse(parts.pages.person(card, seal_of(request)), status_code=status)


def status_on_page(trouble: BadInput | Clash | NotFound) -> int:
    """The status of the page that says what is wrong; a vehicle that is not there is a fault of the form."""
    return 422 if isinstance(trouble, NotFound) else status_of(trouble)


def person_there(parts: Parts, key: str, now: datetime) -> Person:
    """The person with that key. Raises NotFound."""
    people = household(parts.store, now=now).people
    found = next((each for each in people if each.key == key), None)
    if found is None:
        raise NotFound("person", key, [each.key for each in people])
    return found
