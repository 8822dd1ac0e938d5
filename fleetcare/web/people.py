"""People and keys over HTTP, for who keeps the list: added, changed, let in, let go."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime, timedelta

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.api_keys import end_api_key
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.keep_people import (
    Given,
    add_person,
    change_person,
    household,
    let_go,
    state_of,
)
from fleetcare.actions.links import make_key, revoke
from fleetcare.actions.write_letters import write_come_in_letter
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.access import PRINTED_SIGN_IN_TIME, Purpose, Scope, link_address
from fleetcare.fleet.naming import keeps_list, may_enter
from fleetcare.fleet.people import Person, Role
from fleetcare.intake.numbers import parse_whole
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.frame import COME_IN_URL, PEOPLE_URL
from fleetcare.page.cards.people import (
    DAYS_FIELD,
    DRIVES_FIELD,
    KEEPS_FIELD,
    LONGEST_KEY_NAME,
    MAIL_FIELD,
    NAME_FIELD,
    ROLE_FIELD,
    SCOPE_FIELD,
    SHORT_FIELD,
    SHOWN_FIELD,
    UNIT_FIELD,
    VEHICLE_FIELD,
    ZONE_FIELD,
    ShownOnce,
    TriedPerson,
    people_card,
    person_card,
    person_url,
)
from fleetcare.page.drawings.code import square_code
from fleetcare.quantities import DistanceUnit
from fleetcare.web.changed import back_to, changed_at
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_YOURS = "People and keys are kept by who keeps the list. Come in as that person, or ask them."
LONGEST_DAYS = 3660
Step = Callable[[Parts, Request, Person, FormData, str, datetime], Response]


def routes(parts: Parts) -> APIRouter:
    """`/people`, `/people/{person}` and what is done there."""
    router = APIRouter(include_in_schema=False)

    def keeper(person: Person | None) -> Person:
        with parts.store.read() as view:
            if person is None or not keeps_list(person, garage_of(view)):
                raise NotAllowed(NOT_YOURS)
        return person

    async def told(request: Request, key: str, step: Step) -> Response:
        def done(form: FormData) -> Response:
            person = keeper(sender_of(parts, request, form, not_in=NOT_YOURS))
            return step(parts, request, person, form, key, parts.clock.now())

        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: done(form))

    @router.get(PEOPLE_URL)
    def everybody(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _people(parts, request, keeper(reader))

    @router.get(f"{PEOPLE_URL}/{{person}}")
    def one(request: Request, person: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _person(parts, request, keeper(reader), person)

    @router.post(PEOPLE_URL)
    async def add(request: Request) -> Response:
        return await told(request, "", _add)

    @router.post(f"{PEOPLE_URL}/{{person}}")
    async def change(request: Request, person: str) -> Response:
        return await told(request, person, _change)

    @router.post(f"{PEOPLE_URL}/{{person}}/{{what}}")
    async def other(request: Request, person: str, what: str) -> Response:
        def step(*given: object) -> Response:
            if what not in _STEPS:
                raise NotFound("address", what, list(_STEPS))
            return _STEPS[what](*given)  # type: ignore[arg-type]  # the very arguments of a step

        return await told(request, person, step)

    return router


def _people(
    parts: Parts, request: Request, reader: Person, *, tried: TriedPerson | None = None, status: int = 200
) -> HTMLResponse:
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
    )
    return HTMLResponse(parts.pages.people(card, seal_of(request)), status_code=status)


def _person(
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
    )
    return HTMLResponse(parts.pages.person(card, seal_of(request)), status_code=status)


def _ticked(form: FormData, field: str) -> tuple[str, ...]:
    return tuple(each for each in form.getlist(field) if isinstance(each, str))


def _given(form: FormData) -> Given:
    """The form as a person. Raises BadInput."""
    roles, unit = _ticked(form, ROLE_FIELD), text_of(form, UNIT_FIELD)
    if any(role not in [each.value for each in Role] for role in roles):
        raise BadInput("There is no such role.", remedy="Tick one of them.", field=ROLE_FIELD)
    if unit not in [each.value for each in DistanceUnit]:
        raise BadInput("Distances are shown in km or mi.", remedy="Choose one.", field=UNIT_FIELD)
    return Given(
        name=clean_text(text_of(form, NAME_FIELD), field=NAME_FIELD, required=True),
        mail=clean_text(text_of(form, MAIL_FIELD), field=MAIL_FIELD),
        zone=clean_text(text_of(form, ZONE_FIELD), field=ZONE_FIELD),
        unit=DistanceUnit(unit),
        roles=tuple(role for role in Role if role.value in roles),
        keeps=_ticked(form, KEEPS_FIELD),
        drives=_ticked(form, DRIVES_FIELD),
    )


def _tried(form: FormData, trouble: BadInput | Clash | NotFound) -> TriedPerson:
    field = getattr(trouble, "field", "") or NAME_FIELD
    return TriedPerson(
        str(trouble),
        field if field in (NAME_FIELD, MAIL_FIELD, ZONE_FIELD, ROLE_FIELD) else NAME_FIELD,
        name=text_of(form, NAME_FIELD)[:254],
        mail=text_of(form, MAIL_FIELD)[:254],
        zone=text_of(form, ZONE_FIELD)[:60],
        unit=text_of(form, UNIT_FIELD),
        roles=_ticked(form, ROLE_FIELD),
        keeps=_ticked(form, KEEPS_FIELD),
        drives=_ticked(form, DRIVES_FIELD),
    )


def _status(trouble: BadInput | Clash | NotFound) -> int:
    return 422 if isinstance(trouble, NotFound) else status_of(trouble)


def _add(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    try:
        person = add_person(parts.store, parts.rules, _given(form), now=now, who=reader.key, base_url=parts.base_url)
    except (BadInput, Clash, NotFound) as trouble:
        return _people(parts, request, reader, tried=_tried(form, trouble), status=_status(trouble))
    return back_to(person_url(person.key), now)


def _change(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    _is_there(parts, key, now)
    try:
        change_person(
            parts.store,
            parts.rules,
            key,
            _given(form),
            shown_state=text_of(form, SHOWN_FIELD) or None,
            now=now,
            who=reader.key,
            base_url=parts.base_url,
        )
    except (BadInput, Clash, NotFound) as trouble:
        return _person(parts, request, reader, key, tried=_tried(form, trouble), status=_status(trouble))
    return back_to(person_url(key), now)


def _leave(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    try:
        let_go(
            parts.store,
            parts.rules,
            key,
            shown_state=text_of(form, SHOWN_FIELD) or None,
            now=now,
            who=reader.key,
            base_url=parts.base_url,
        )
    except (BadInput, Clash) as trouble:
        return _person(parts, request, reader, key, said=str(trouble), status=status_of(trouble))
    return back_to(PEOPLE_URL, now)


def _mail(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    mail = _is_there(parts, key, now).mail
    if not mail:
        raise BadInput("No mail address is known.", remedy="Show a link to print instead.")
    write_come_in_letter(parts.store, parts.desk, mail, now=now)
    said = f"A link is on its way to {mail}. It opens once, within a quarter of an hour; then “Come in” sends another."
    return _person(parts, request, reader, key, said=said)


def _print(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    person = _is_there(parts, key, now)
    if person.has_left:
        raise BadInput(f"{person.name} left.", remedy="Take them in again first.")
    secret = make_key(
        parts.store,
        parts.keys,
        now=now,
        who=reader.key,
        purpose=Purpose.SIGN_IN,
        person=key,
        lasts=PRINTED_SIGN_IN_TIME,
    )
    address = link_address(parts.base_url, Purpose.SIGN_IN, secret)
    told = "It opens the garage once, until this time tomorrow. Print this page, or let their phone read the code."
    once = ShownOnce(f"The way in for {person.first_name}", told, address, square_code(address))
    return _person(parts, request, reader, key, once=once)


def _sessions(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    purposes = (Purpose.SESSION, Purpose.SIGN_IN)
    _is_there(parts, key, now)
    revoke(parts.store, now=now, who=reader.key, purposes=purposes, person=key)
    return back_to(person_url(key), now)


def _key(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    person = _is_there(parts, key, now)
    typed = {each: text_of(form, each)[:60] for each in (NAME_FIELD, SCOPE_FIELD, VEHICLE_FIELD, DAYS_FIELD)}
    try:
        name = clean_text(typed[NAME_FIELD], field=NAME_FIELD, limit=LONGEST_KEY_NAME, required=True)
        if person.has_left:
            raise BadInput(f"{person.name} left.", remedy="Take them in again first.")
        if typed[SCOPE_FIELD] not in [each.value for each in Scope]:
            raise BadInput("What it may do is not said.", remedy="Choose one.", field=SCOPE_FIELD)
        days = typed[DAYS_FIELD].strip()
        secret = make_key(
            parts.store,
            parts.keys,
            now=now,
            who=reader.key,
            purpose=Purpose.API,
            person=key,
            mark=typed[VEHICLE_FIELD],
            lasts=timedelta(parse_whole(days, least=1, most=LONGEST_DAYS, field=DAYS_FIELD)) if days else None,
            name=name,
            scope=Scope(typed[SCOPE_FIELD]),
        )
    except (BadInput, Clash, NotFound) as trouble:
        shown = {**typed, "problem": str(trouble)}
        return _person(parts, request, reader, key, key_typed=shown, status=_status(trouble))
    told = "The program sends it along as: Authorization: Bearer, then the key."
    return _person(parts, request, reader, key, once=ShownOnce(f"The key “{name}” is made", told, secret, None))


def _end_key(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    end_api_key(parts.store, key, text_of(form, SHORT_FIELD), who=reader.key, now=now)
    return back_to(person_url(key), now, "#keys")


def _is_there(parts: Parts, key: str, now: datetime) -> Person:
    """The person with that key. Raises NotFound."""
    people = household(parts.store, now=now).people
    found = next((each for each in people if each.key == key), None)
    if found is None:
        raise NotFound("person", key, [each.key for each in people])
    return found


_STEPS: dict[str, Step] = {
    "leave": _leave,
    "mail": _mail,
    "print": _print,
    "sessions": _sessions,
    "key": _key,
    "end-key": _end_key,
}
