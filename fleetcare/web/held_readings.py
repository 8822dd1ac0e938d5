"""The readings that are kept aside, and the forms that settle them."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.settle_held import How, settle_held
from fleetcare.actions.waiting_readings import waiting_readings
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.intake.numbers import parse_dial
from fleetcare.language import saying
from fleetcare.meter.reading import ReadingState
from fleetcare.page.cards.frame import COME_IN_URL
from fleetcare.page.cards.held import (
    HELD_URL,
    HOW_FIELD,
    MARK_FIELD,
    MEANT_FIELD,
    TriedHeld,
    Waiting,
    held_card,
    settled_words,
)
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.who import reader_of

LONGEST_NUMBER = 18


def routes(parts: Parts) -> APIRouter:
    """`/readings/held` and `/readings/held/{number}`."""
    router = APIRouter(include_in_schema=False)

    @router.get(HELD_URL)
    def page(request: Request, settled: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, reader, seal_of(request), done=_became(parts, reader, settled))

    @router.post(f"{HELD_URL}/{{number}}")
    async def settle(request: Request, number: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _settle(parts, request, form, number))

    return router


def _page(
    parts: Parts, reader: Person, seal: str, *, done: str = "", tried: TriedHeld | None = None, status: int = 200
) -> HTMLResponse:
    with parts.store.read() as view:
        garage, people = garage_of(view), view.people()
        marks = [v.mark for v in view.vehicles() if may_enter(reader, v, garage)]
    waiting = waiting_readings(parts.store, parts.rules, marks, now=parts.clock.now(), kept=parts.kept_outlooks)
    card = held_card(
        garage=garage,
        reader=reader,
        today=garage_day(garage, parts.clock.now()),
        waiting=[Waiting(each.vehicle, each.reading, each.doubt) for each in waiting],
        names={person.key: person.first_name for person in people},
        seal=seal,
        done=done,
        tried=tried,
    )
    return HTMLResponse(parts.pages.held(card), status_code=status)


def _settle(parts: Parts, request: Request, form: FormData, number: str) -> Response:
    person = reader_of(request, parts)
    if person is None:
        # Asked before anything is looked for: a stranger learns no numbers and no marks.
        raise NotAllowed("Readings are settled by people who came in. Come in, then send it again.")
    refuse_unsealed(request, form)
    with parts.store.read() as view:
        garage = garage_of(view)
        found = view.vehicles((text_of(form, MARK_FIELD)[:120],))
        reading = next((r for r in view.readings([v.mark for v in found]) if str(r.id) == number), None)
    if not found or reading is None:
        raise NotFound("reading", number)
    if not may_enter(person, found[0], garage):
        raise NotAllowed(saying("Readings of {name} are settled by its people.", name=found[0].name))
    if reading.state is not ReadingState.HELD:
        # Sent twice, or somebody else was quicker: what became of it is said, and nothing is changed.
        return RedirectResponse(f"{HELD_URL}?settled={number}", status_code=303)
    typed = text_of(form, MEANT_FIELD)
    try:
        how = _how(text_of(form, HOW_FIELD))
        meant, unit = parse_dial(typed, field=MEANT_FIELD) if how is How.MEANT else (None, None)
        settle_held(
            parts.store,
            parts.rules,
            mark=found[0].mark,
            reading_id=reading.id or 0,
            how=how,
            who=person.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
            meant=meant,
            meant_unit=unit,
        )
    except BadInput as trouble:
        tried = TriedHeld(number, again(form, MEANT_FIELD), trouble.words())
        return _page(parts, person, seal_of(request), tried=tried, status=422)
    return RedirectResponse(f"{HELD_URL}?settled={number}", status_code=303)


def _how(word: str) -> How:
    for how in How:
        if how.value == word:
            return how
    raise BadInput("Say whether it is right, wrong, or what it was.", field=HOW_FIELD)


def _became(parts: Parts, reader: Person, number: str) -> str:
    """What became of the reading with that number, for somebody who may know; empty if there is nothing to say."""
    if not (number.isascii() and number.isdigit() and len(number) <= LONGEST_NUMBER):
        return ""
    with parts.store.read() as view:
        garage = garage_of(view)
        marks = {v.mark: v for v in view.vehicles() if may_enter(reader, v, garage)}
        readings = view.readings(tuple(marks))
    reading = next((r for r in readings if r.id == int(number)), None)
    if reading is None or reading.state is ReadingState.HELD:
        return ""
    same_day = [
        r
        for r in readings
        if (r.mark, r.meter, r.on) == (reading.mark, reading.meter, reading.on)
        and r.state is ReadingState.USED
        and r.id != reading.id
        and r.vouched_by
    ]
    is_used = reading.state is ReadingState.USED
    instead = None if is_used else max(same_day, key=lambda r: r.entered_at, default=None)
    return settled_words(marks[reading.mark], reading, instead, is_used=is_used)
