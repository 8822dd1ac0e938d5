"""People and keys over HTTP, for who keeps the list: added, changed, let in, let go."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_of
from fleetcare.actions.hand_list_over import hand_list_over
from fleetcare.actions.keep_people import Given, add_person, change_person, let_go
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.naming import keeps_list
from fleetcare.fleet.people import Person, Role
from fleetcare.intake.text import clean_text
from fleetcare.language import tr
from fleetcare.page.cards.frame import COME_IN_URL, PEOPLE_URL
from fleetcare.page.cards.letter_choice import LANGUAGE_FIELD
from fleetcare.page.cards.person import (
    DRIVES_FIELD,
    DRIVES_OTHERS_FIELD,
    KEEPS_FIELD,
    KEEPS_OTHERS_FIELD,
    MAIL_FIELD,
    NAME_FIELD,
    ROLE_FIELD,
    SHOWN_FIELD,
    UNIT_FIELD,
    ZONE_FIELD,
    TriedPerson,
    person_url,
)
from fleetcare.quantities import DistanceUnit
from fleetcare.web.changed import back_to
from fleetcare.web.form_seal import sender_of
from fleetcare.web.letter_choice import offered_language
from fleetcare.web.messages import told_page
from fleetcare.web.person_page import people_page, person_page, person_there, status_on_page
from fleetcare.web.person_ways import end_key_step, key_step, mail_step, print_step, sessions_step
from fleetcare.web.reading_form import count_of, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.who import reader_of

NOT_YOURS = "People and keys are kept by who keeps the list. Come in as that person, or ask them."
LONGEST_FIND = 60
_TYPED_AT_MOST = 60_000
"""So many letters are the marks of the largest garage."""
_ON_FORM = (NAME_FIELD, MAIL_FIELD, ZONE_FIELD, ROLE_FIELD, KEEPS_OTHERS_FIELD, DRIVES_OTHERS_FIELD, LANGUAGE_FIELD)
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
    def everybody(request: Request, find: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return people_page(parts, request, keeper(reader), find=find[:LONGEST_FIND], start=count_of(start))

    @router.get(f"{PEOPLE_URL}/{{person}}")
    def one(request: Request, person: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return person_page(parts, request, keeper(reader), person)

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


def _ticked(form: FormData, field: str) -> tuple[str, ...]:
    return tuple(each for each in form.getlist(field) if isinstance(each, str))


def _given(parts: Parts, form: FormData) -> Given:
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
        keeps=(*_ticked(form, KEEPS_FIELD), *_typed(parts, form, KEEPS_OTHERS_FIELD)),
        drives=(*_ticked(form, DRIVES_FIELD), *_typed(parts, form, DRIVES_OTHERS_FIELD)),
        language=offered_language(text_of(form, LANGUAGE_FIELD), parts) if LANGUAGE_FIELD in form else None,
    )


def _typed(parts: Parts, form: FormData, field: str) -> tuple[str, ...]:
    """The marks typed in a field that only a large garage has. Raises BadInput."""
    text = text_of(form, field)
    if not text.strip():
        return ()
    with parts.store.read() as view:
        return marks_typed(text, view.marks(), field=field)


def _tried(form: FormData, trouble: BadInput | Clash | NotFound) -> TriedPerson:
    field = getattr(trouble, "field", "") or NAME_FIELD
    return TriedPerson(
        trouble.words(),
        field if field in _ON_FORM else NAME_FIELD,
        name=text_of(form, NAME_FIELD)[:254],
        mail=text_of(form, MAIL_FIELD)[:254],
        zone=text_of(form, ZONE_FIELD)[:60],
        unit=text_of(form, UNIT_FIELD),
        language=text_of(form, LANGUAGE_FIELD),
        roles=_ticked(form, ROLE_FIELD),
        keeps=_ticked(form, KEEPS_FIELD),
        drives=_ticked(form, DRIVES_FIELD),
        keeps_others=text_of(form, KEEPS_OTHERS_FIELD)[:_TYPED_AT_MOST],
        drives_others=text_of(form, DRIVES_OTHERS_FIELD)[:_TYPED_AT_MOST],
    )


def _add(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    try:
        person = add_person(
            parts.store, parts.rules, _given(parts, form), now=now, who=reader.key, base_url=parts.base_url
        )
    except (BadInput, Clash, NotFound) as trouble:
        return people_page(parts, request, reader, tried=_tried(form, trouble), status=status_on_page(trouble))
    return back_to(person_url(person.key), now)


def _change(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    person_there(parts, key, now)
    try:
        change_person(
            parts.store,
            parts.rules,
            key,
            _given(parts, form),
            shown_state=text_of(form, SHOWN_FIELD) or None,
            now=now,
            who=reader.key,
            base_url=parts.base_url,
        )
    except (BadInput, Clash, NotFound) as trouble:
        return person_page(parts, request, reader, key, tried=_tried(form, trouble), status=status_on_page(trouble))
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
        return person_page(parts, request, reader, key, said=trouble.words(), status=status_of(trouble))
    return back_to(PEOPLE_URL, now)


def _hand_over(parts: Parts, request: Request, reader: Person, form: FormData, key: str, now: datetime) -> Response:
    person = person_there(parts, key, now)
    try:
        hand_list_over(parts.store, parts.rules, key, now=now, who=reader.key, base_url=parts.base_url)
    except BadInput as trouble:
        return person_page(parts, request, reader, key, said=trouble.words(), status=status_of(trouble))
    told = tr(
        "From now on {name} keeps the list: people and keys, the Handbook, and what concerns the whole garage. "
        "Only they can give it back.",
        name=person.name,
    )
    return HTMLResponse(told_page(parts, tr("{name} keeps the list", name=person.first_name), told))


_STEPS: dict[str, Step] = {
    "leave": _leave,
    "list": _hand_over,
    "mail": mail_step,
    "print": print_step,
    "sessions": sessions_step,
    "key": key_step,
    "end-key": end_key_step,
}
