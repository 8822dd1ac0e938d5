"""Stickers for the glovebox: made and ended by the keeper, printed from a page that is shown once."""

from __future__ import annotations

from collections.abc import Callable

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.stickers import end_sticker, make_stickers, stand_of, stickers_of
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash
from fleetcare.fleet.access import Purpose, link_address
from fleetcare.fleet.people import Person
from fleetcare.intake.numbers import parse_whole
from fleetcare.page.cards.frame import COME_IN_URL, SEAL_FIELD
from fleetcare.page.cards.stickers import (
    COPIES_FIELD,
    MOST_COPIES,
    STAND_FIELD,
    STICKERS_URL,
    VEHICLE_FIELD,
    sheet_card,
    stickers_card,
)
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.messages import here
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_IN = "Stickers are made and ended by keepers who came in. Come in, then send it again."
MOST_VEHICLES = 400


def routes(parts: Parts) -> APIRouter:
    """`/stickers` and what lies below it."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, step: Callable[[Person, FormData], Response]) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: step(sender_of(parts, request, form, not_in=NOT_IN), form))

    @router.get(STICKERS_URL)
    def page(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, request, reader)

    @router.post(STICKERS_URL)
    async def make(request: Request) -> Response:
        return await told(request, lambda person, form: _make(parts, request, person, form))

    @router.post(f"{STICKERS_URL}/{{short}}/end")
    async def end(request: Request, short: str) -> Response:
        def step(person: Person, form: FormData) -> Response:
            vehicle = end_sticker(parts.store, person, short, now=parts.clock.now())
            return _page(parts, request, person, done=f"Ended: that sticker of {vehicle.name} opens nothing any more.")

        return await told(request, step)

    return router


def _page(
    parts: Parts,
    request: Request,
    reader: Person,
    *,
    done: str = "",
    trouble: BadInput | Clash | None = None,
    ticked: tuple[str, ...] = (),
) -> HTMLResponse:
    garage, today = here(parts)
    stickers = stickers_of(parts.store, reader, now=parts.clock.now())
    card = stickers_card(
        garage=garage,
        reader=reader,
        today=today,
        vehicles=[
            (vehicle, [(each.short, each.made_at, each.used.at if each.used else None) for each in held])
            for vehicle, held in stickers
        ],
        hidden=((SEAL_FIELD, seal_of(request)), (STAND_FIELD, stand_of(stickers))),
        ticked=ticked,
        done=done,
        problem=trouble.words() if trouble else "",
    )
    return HTMLResponse(parts.pages.stickers(card), status_code=status_of(trouble) if trouble else 200)


def _make(parts: Parts, request: Request, person: Person, form: FormData) -> Response:
    ticked = tuple(mark for mark in form.getlist(VEHICLE_FIELD)[:MOST_VEHICLES] if isinstance(mark, str))
    try:
        copies = parse_whole(text_of(form, COPIES_FIELD) or "1", least=1, most=MOST_COPIES, field=COPIES_FIELD)
        made = make_stickers(
            parts.store, parts.keys, person, ticked, stand=text_of(form, STAND_FIELD), now=parts.clock.now()
        )
    except (BadInput, Clash) as trouble:
        return _page(parts, request, person, trouble=trouble, ticked=ticked)
    garage, today = here(parts)
    addresses = [(vehicle, link_address(parts.base_url, Purpose.ODOMETER, key)) for vehicle, key in made]
    card = sheet_card(garage=garage, reader=person, today=today, stickers=addresses, copies=copies)
    return HTMLResponse(parts.pages.sticker_sheet(card))
