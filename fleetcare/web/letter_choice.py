"""Your letters: when they come, chosen by a form without scripts by whose they are."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.choose_letters import LetterChoice, choose_letters, letters_in_words
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotAllowed
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.language import tr
from fleetcare.page.cards.frame import COME_IN_URL, LETTERS_URL
from fleetcare.page.cards.letter_choice import (
    DAY_FIELD,
    FROM_FIELD,
    HOUR_FIELD,
    LANGUAGE_FIELD,
    NEVER,
    UNTIL_FIELD,
    ZONE_FIELD,
    letter_choice_card,
)
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.who import reader_of

NOT_IN = "When letters come is chosen by whose they are. Come in, then send it again."
_FIELDS = (DAY_FIELD, HOUR_FIELD, ZONE_FIELD, FROM_FIELD, UNTIL_FIELD, LANGUAGE_FIELD)


def routes(parts: Parts) -> APIRouter:
    """`/letters`."""
    router = APIRouter(include_in_schema=False)

    @router.get(LETTERS_URL)
    def page(request: Request, saved: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, reader, seal_of(request), saved=saved == "1")

    @router.post(LETTERS_URL)
    async def choose(request: Request) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _choose(parts, request, form))

    return router


def _page(
    parts: Parts,
    reader: Person,
    seal: str,
    *,
    saved: bool = False,
    typed: dict[str, str] | None = None,
    problem: str = "",
) -> HTMLResponse:
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    card = letter_choice_card(
        garage=garage,
        reader=reader,
        today=garage_day(garage, parts.clock.now()),
        seal=seal,
        told=tr("Now: {letters}.", letters=letters_in_words(reader)),
        can_enter=any(vehicle.meters and may_enter(reader, vehicle, garage) for vehicle in vehicles),
        saved=saved,
        typed=typed,
        problem=problem,
        tongues=parts.tongues.all(),
    )
    return HTMLResponse(parts.pages.letter_choice(card), status_code=422 if problem else 200)


def _choose(parts: Parts, request: Request, form: FormData) -> Response:
    person = reader_of(request, parts)
    if person is None:
        raise NotAllowed(NOT_IN)
    refuse_unsealed(request, form)
    day = text_of(form, DAY_FIELD)
    try:
        choice = LetterChoice(
            weekday=None if day == NEVER else _count(day, 6),
            hour=_count(text_of(form, HOUR_FIELD), 23),
            zone=text_of(form, ZONE_FIELD),
            quiet=(_count(text_of(form, FROM_FIELD), 23), _count(text_of(form, UNTIL_FIELD), 23)),
            never=day == NEVER,
            language=offered_language(text_of(form, LANGUAGE_FIELD), parts) if LANGUAGE_FIELD in form else None,
        )
        choose_letters(
            parts.store,
            parts.rules,
            person.key,
            choice,
            now=parts.clock.now(),
            who=person.key,
            base_url=parts.base_url,
        )
    except BadInput as trouble:
        typed = {field: again(form, field) for field in _FIELDS}
        return _page(parts, person, seal_of(request), typed=typed, problem=trouble.words())
    return RedirectResponse(f"{LETTERS_URL}?saved=1", status_code=303)


def offered_language(code: str, parts: Parts) -> str:
    """A language that is offered, or none. Raises BadInput."""
    if code and code not in parts.tongues.offered:
        raise BadInput("That is none of what there is to choose.", remedy="Choose from the list.", field=LANGUAGE_FIELD)
    return code


def _count(text: str, most: int) -> int:
    """A whole number from 0 on. Raises BadInput."""
    if not (text.isascii() and text.isdigit() and len(text) <= 2 and int(text) <= most):
        raise BadInput("That is none of what there is to choose.", remedy="Choose from the list.", field=HOUR_FIELD)
    return int(text)
