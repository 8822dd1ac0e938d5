"""The forms by which a keeper says when a vehicle stands. Whoever sends one sees the vehicle's page again."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_of
from fleetcare.actions.lay_up import Given, lay_up, let_out, may_lay_up
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotAllowed
from fleetcare.fleet.naming import vehicle_called
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.dates import parse_day
from fleetcare.language import saying
from fleetcare.page.cards.frame import vehicle_url
from fleetcare.page.cards.laid_up import FIRST_FIELD, LAID_UP_ANCHOR, LAST_FIELD, OUT_FIELD, Tried
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.pages import vehicle_page
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.who import reader_of

Step = Callable[[Parts, Vehicle, Person, FormData], None]


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/lay-up` and `/vehicles/{mark}/let-out`."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, mark: str, step: Step) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _told(parts, request, mark, step, form))

    @router.post("/vehicles/{mark}/lay-up")
    async def stands(request: Request, mark: str) -> Response:
        return await told(request, mark, _lay_up)

    @router.post("/vehicles/{mark}/let-out")
    async def runs(request: Request, mark: str) -> Response:
        return await told(request, mark, _let_out)

    return router


def _told(parts: Parts, request: Request, mark: str, step: Step, form: FormData) -> Response:
    person = reader_of(request, parts)
    if person is None:
        # Asked before the vehicle is looked for: a stranger learns no names and no marks.
        raise NotAllowed("When a vehicle stands is said by its keeper. Come in, then send it again.")
    refuse_unsealed(request, form)
    with parts.store.read() as view:
        garage, vehicle = garage_of(view), vehicle_called(view.vehicles(), mark)
    if not may_lay_up(person, vehicle, garage):
        raise NotAllowed(saying("When {name} stands is said by its keeper.", name=vehicle.name))
    try:
        step(parts, vehicle, person, form)
    except BadInput as trouble:
        field = trouble.field if trouble.field in (FIRST_FIELD, LAST_FIELD, OUT_FIELD) else FIRST_FIELD
        tried = Tried(
            first=again(form, FIRST_FIELD),
            last=again(form, LAST_FIELD),
            out=again(form, OUT_FIELD),
            problem=trouble.words(),
            problem_field=field,
        )
        return vehicle_page(parts, person, vehicle.mark, tried=tried, seal=seal_of(request))
    return RedirectResponse(f"{vehicle_url(vehicle.mark)}{LAID_UP_ANCHOR}", status_code=303)


def _lay_up(parts: Parts, vehicle: Vehicle, person: Person, form: FormData) -> None:
    first, last = _day(form, FIRST_FIELD), text_of(form, LAST_FIELD)
    given = Given(vehicle.mark, first, parse_day(last, field=LAST_FIELD) if last else None)
    lay_up(parts.store, parts.rules, given, who=person.key, now=parts.clock.now(), base_url=parts.base_url)


def _let_out(parts: Parts, vehicle: Vehicle, person: Person, form: FormData) -> None:
    let_out(
        parts.store,
        parts.rules,
        vehicle=vehicle.mark,
        on=_day(form, OUT_FIELD),
        who=person.key,
        now=parts.clock.now(),
        base_url=parts.base_url,
    )


def _day(form: FormData, field: str) -> date:
    typed = text_of(form, field)
    if not typed:
        raise BadInput("Give the day, such as 2026-02-03.", field=field)
    return parse_day(typed, field=field)
