"""The sheets of a vehicle over HTTP, and the form that opens another."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import facts_of, garage_day, garage_of, outlooks_from, rules_in_force
from fleetcare.actions.order_work import (
    Opening,
    open_order,
)
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.naming import may_enter, vehicle_called
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import parse_day
from fleetcare.intake.text import clean_text
from fleetcare.language import saying
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.page.cards.sheets import SERVICE_FIELD, sheets_card
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.sheet_desk import STRANGER, come_in, looker, person_of, signed_in


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/work`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/vehicles/{mark}/work")
    def sheets(request: Request, mark: str) -> Response:
        reader = looker(request, parts)
        return come_in() if reader is STRANGER else _sheets_page(parts, person_of(reader), mark, seal_of(request))

    @router.post("/vehicles/{mark}/work")
    async def open_one(request: Request, mark: str) -> Response:
        person, seal = signed_in(request, parts), seal_of(request)
        async with request.form() as form:
            refuse_unsealed(request, form)
            return await run_in_threadpool(lambda: _open(parts, person, mark, form, seal))

    return router


def _sheets_page(parts: Parts, reader: Person | None, mark: str, seal: str, problem: str = "") -> Response:
    with parts.store.read() as view:
        garage = garage_of(view)
        vehicle = vehicle_called(view.vehicles(), mark)
        today = garage_day(garage, parts.clock.now())
        outlook = outlooks_from(facts_of(view, (vehicle.mark,)), rules_in_force(view, parts.rules), today)[0]
        orders = view.orders((vehicle.mark,))
    card = sheets_card(
        garage=garage,
        reader=reader,
        outlook=outlook,
        orders=orders,
        may_work=reader is not None and may_enter(reader, vehicle, garage),
        problem=problem,
    )
    return HTMLResponse(parts.pages.sheets(card, seal), status_code=422 if problem else 200)


def _open(parts: Parts, person: Person, mark: str, form: FormData, seal: str) -> Response:
    with parts.store.read() as view:
        garage, vehicle = garage_of(view), vehicle_called(view.vehicles(), mark)
    if not may_enter(person, vehicle, garage):
        raise NotAllowed(
            saying("Sheets of {name} are worked on by its people. Its keeper can let you in.", name=vehicle.name)
        )
    try:
        day = text_of(form, "on")
        given = Opening(
            vehicle.mark,
            tuple(each for each in form.getlist(SERVICE_FIELD) if isinstance(each, str)),
            parse_day(day, field="on") if day else None,
            clean_text(text_of(form, "bay")),
            (person.key,),
            note=clean_text(text_of(form, "note"), field="note"),
        )
        order = open_order(
            parts.store, parts.rules, given, now=parts.clock.now(), who=person.key, base_url=parts.base_url
        )
    except (BadInput, NotFound) as trouble:
        return _sheets_page(parts, person, vehicle.mark, seal, trouble.words())
    return RedirectResponse(sheet_url(order.number), status_code=303)
