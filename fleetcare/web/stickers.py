"""Stickers for the glovebox: made and ended by the keeper, printed from a page that is shown once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.stickers import Sticker, end_sticker, make_stickers, stand_of, stickers_of
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash
from fleetcare.fleet.access import Purpose, link_address
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.numbers import parse_whole
from fleetcare.language import tr
from fleetcare.page.cards.frame import COME_IN_URL, SEAL_FIELD, STICKERS_URL
from fleetcare.page.cards.stickers import (
    ALL_FIELD,
    COPIES_FIELD,
    FIND_FIELD,
    MOST_COPIES,
    OTHERS_FIELD,
    STAND_FIELD,
    START_FIELD,
    VEHICLE_FIELD,
    Held,
    sheet_card,
    stickers_card,
    stickers_shown,
)
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.messages import here
from fleetcare.web.reading_form import count_of, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.who import reader_of

NOT_IN = "Stickers are made and ended by keepers who came in. Come in, then send it again."
MOST_VEHICLES = 400
LONGEST_FIND, LONGEST_OTHERS = 60, 6_000


def routes(parts: Parts) -> APIRouter:
    """`/stickers` and what lies below it."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, step: Callable[[Person, FormData], Response]) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: step(sender_of(parts, request, form, not_in=NOT_IN), form))

    @router.get(STICKERS_URL)
    def page(request: Request, find: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, request, reader, part=_Part(find[:LONGEST_FIND], count_of(start)))

    @router.post(STICKERS_URL)
    async def make(request: Request) -> Response:
        return await told(request, lambda person, form: _make(parts, request, person, form))

    @router.post(f"{STICKERS_URL}/{{short}}/end")
    async def end(request: Request, short: str) -> Response:
        def step(person: Person, form: FormData) -> Response:
            vehicle = end_sticker(parts.store, person, short, now=parts.clock.now())
            done = tr("Ended: that sticker of {name} opens nothing any more.", name=vehicle.name)
            return _page(parts, request, person, done=done, part=_part_of(form))

        return await told(request, step)

    return router


@dataclass(frozen=True, slots=True)
class _Part:
    """Which part of the list, and what was typed or ticked beside it."""

    find: str = ""
    start: int = 0
    others: str = ""
    is_all: bool = False


def _part_of(form: FormData) -> _Part:
    return _Part(
        text_of(form, FIND_FIELD)[:LONGEST_FIND],
        count_of(text_of(form, START_FIELD)),
        text_of(form, OTHERS_FIELD)[:LONGEST_OTHERS],
        bool(text_of(form, ALL_FIELD)),
    )


def _page(
    parts: Parts,
    request: Request,
    reader: Person,
    *,
    part: _Part,
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
        vehicles=_rows(stickers),
        find=part.find,
        start=part.start,
        others=part.others if trouble else "",
        is_all=part.is_all and trouble is not None,
        hidden=((SEAL_FIELD, seal_of(request)), (STAND_FIELD, stand_of(stickers))),
        ticked=ticked,
        done=done,
        problem=trouble.words() if trouble else "",
    )
    return HTMLResponse(parts.pages.stickers(card), status_code=status_of(trouble) if trouble else 200)


def _rows(stickers: Sequence[tuple[Vehicle, Sequence[Sticker]]]) -> list[Held]:
    return [
        (vehicle, [(each.short, each.made_at, each.used.at if each.used else None) for each in held])
        for vehicle, held in stickers
    ]


def _wanted(parts: Parts, person: Person, part: _Part, ticked: tuple[str, ...]) -> tuple[str, ...]:
    """The marks ticked, typed, and those of the page without a sticker if all of them are. Raises BadInput."""
    if not part.others and not part.is_all:
        return ticked
    stickers = stickers_of(parts.store, person, now=parts.clock.now())
    typed = marks_typed(part.others, [vehicle.mark for vehicle, _ in stickers], field=OTHERS_FIELD)
    _, _, shown = stickers_shown(_rows(stickers), part.find, part.start)
    without = [vehicle.mark for vehicle, held in shown if not held] if part.is_all else []
    return tuple(dict.fromkeys((*ticked, *without, *typed)))[:MOST_VEHICLES]


def _make(parts: Parts, request: Request, person: Person, form: FormData) -> Response:
    ticked = tuple(mark for mark in form.getlist(VEHICLE_FIELD)[:MOST_VEHICLES] if isinstance(mark, str))
    part = _part_of(form)
    try:
        wanted = _wanted(parts, person, part, ticked)
        copies = parse_whole(text_of(form, COPIES_FIELD) or "1", least=1, most=MOST_COPIES, field=COPIES_FIELD)
        made = make_stickers(
            parts.store, parts.keys, person, wanted, stand=text_of(form, STAND_FIELD), now=parts.clock.now()
        )
    except (BadInput, Clash) as trouble:
        return _page(parts, request, person, trouble=trouble, ticked=ticked, part=part)
    garage, today = here(parts)
    addresses = [(vehicle, link_address(parts.base_url, Purpose.ODOMETER, key)) for vehicle, key in made]
    card = sheet_card(garage=garage, reader=person, today=today, stickers=addresses, copies=copies)
    return HTMLResponse(parts.pages.sticker_sheet(card))
