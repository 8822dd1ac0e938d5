"""The tags of a vehicle's components over HTTP: looked at by everybody, written by its keeper and mechanics."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day, garage_of, vehicle_in
from fleetcare.actions.write_tag import write_tag
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound, shown
from fleetcare.fleet.naming import may_enter, may_plan
from fleetcare.fleet.people import Person
from fleetcare.fleet.tag import Basis
from fleetcare.fleet.tag_bands import checked_tag
from fleetcare.intake.text import clean_text
from fleetcare.language import saying, tr
from fleetcare.page.cards.frame import COME_IN_URL, vehicle_url
from fleetcare.page.cards.tag_page import (
    BASIS_FIELD,
    COMPONENT_FIELD,
    GONE,
    NAME_FIELD,
    SHOWN_FIELD,
    VALUE_FIELD,
    WHAT_FIELD,
    TriedValue,
    tag_page_card,
)
from fleetcare.web.changed import back_to, changed_at
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_YOURS = "What a tag says is written by the keeper of its vehicle or a mechanic. They can let you in."
_LONGEST = 200


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/tags`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/vehicles/{mark}/tags")
    def page(request: Request, mark: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, request, reader, mark)

    @router.post("/vehicles/{mark}/tags")
    async def write(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _write(parts, request, form, mark))

    return router


def _page(
    parts: Parts,
    request: Request,
    reader: Person | None,
    mark: str,
    *,
    said: str = "",
    tried: TriedValue | None = None,
    status: int = 200,
) -> HTMLResponse:
    with parts.store.read() as view:
        garage, vehicle = garage_of(view), vehicle_in(view, mark)
    today = garage_day(garage, parts.clock.now())
    card = tag_page_card(
        garage=garage,
        reader=reader,
        today=today,
        vehicle=vehicle,
        may_write=reader is not None and may_plan(reader, vehicle, garage),
        can_enter=reader is not None and bool(vehicle.meters) and may_enter(reader, vehicle, garage),
        done=changed_at(parts, request, reader, today),
        said=said,
        tried=tried,
    )
    return HTMLResponse(parts.pages.tags(card, seal_of(request)), status_code=status)


def _write(parts: Parts, request: Request, form: FormData, mark: str) -> Response:
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    with parts.store.read() as view:
        garage, vehicle = garage_of(view), next(iter(view.vehicles((mark,))), None)
    if vehicle is None or not may_plan(person, vehicle, garage):
        raise NotAllowed(NOT_YOURS)
    now, gone, is_new = parts.clock.now(), text_of(form, WHAT_FIELD) == GONE, bool(text_of(form, "new"))
    component, name, value, basis = (
        text_of(form, each)[:_LONGEST] for each in (COMPONENT_FIELD, NAME_FIELD, VALUE_FIELD, BASIS_FIELD)
    )
    try:
        if basis not in [each.value for each in Basis]:
            raise BadInput(
                saying("There is no basis {basis}.", basis=shown(basis)), remedy="Choose one.", field=BASIS_FIELD
            )
        written = write_tag(
            parts.store,
            parts.rules,
            lambda each, kind: checked_tag(each, kind, parts.tag_bands, parts.gear_oils),
            vehicle=mark,
            component=component,
            name=clean_text(name, field="fact", required=True),
            value=None if gone else clean_text(text_of(form, VALUE_FIELD), field="fact"),
            basis=Basis(basis),
            shown=text_of(form, SHOWN_FIELD),
            now=now,
            who=person.key,
            base_url=parts.base_url,
        )
    except (BadInput, Clash, NotFound) as trouble:
        tried = TriedValue(component, name, value, basis, trouble.words(), is_new)
        status = 422 if isinstance(trouble, NotFound) else status_of(trouble)
        return _page(parts, request, person, mark, tried=tried, status=status)
    if written.doubts:
        said = " ".join(f"{tr(each.what)} {tr(each.instead)}" for each in written.doubts)
        return _page(parts, request, person, mark, said=tr("Written down. {doubts}", doubts=said))
    return back_to(f"{vehicle_url(mark)}/tags", now, f"#{component}")
