"""A component is fitted over HTTP: in the place of one that goes, or as one more."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, Response

from fleetcare.actions.fit_component import Fitting, fit_component
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.vehicle_changes import stand_of
from fleetcare.intake.text import clean_text
from fleetcare.language import tr
from fleetcare.page.cards.edit_vehicle import FIT, STAND_FIELD
from fleetcare.page.cards.fit_part import (
    AGE_FIELD,
    GONE,
    KEPT,
    NEW,
    OLD_FIELD,
    PART_FIELD,
    USED,
    fit_card,
    fitted_words,
)
from fleetcare.page.cards.frame import Link, vehicle_url
from fleetcare.page.cards.move_part import DIAL_FIELD, NOTE_FIELD, ON_FIELD
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import vehicle_told_card
from fleetcare.web.edit_vehicle import At, dates_of, to_vehicle, told
from fleetcare.web.edit_vehicle import shown as shown_page
from fleetcare.web.form_seal import seal_of
from fleetcare.web.move_part import dial_of
from fleetcare.web.vehicle_form import day_of
from fleetcare.work.new_vehicle import parts_offered

_WAYS = {AGE_FIELD: (NEW, USED), OLD_FIELD: (GONE, KEPT)}


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/fit`."""
    router = APIRouter(include_in_schema=False)

    @router.get(f"/vehicles/{{mark}}{FIT}")
    def fit(request: Request, mark: str) -> Response:
        return shown_page(parts, request, mark, _page)

    @router.post(f"/vehicles/{{mark}}{FIT}")
    async def fitted(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _fitted, _page))

    return router


def _page(at: At, typed: Typed) -> Response:
    card = fit_card(
        at.vehicle,
        typed,
        garage=at.garage,
        today=at.today,
        offered=parts_offered(at.parts.rules.book, at.vehicle.kind),
        stand=stand_of(at.vehicle),
    )
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _fitted(at: At, typed: Typed) -> Response:
    parts = at.parts
    given = _given(at, typed)
    try:
        fitted = fit_component(
            parts.store, parts.rules, given, now=parts.clock.now(), who=at.person.key, base_url=parts.base_url
        )
    except NotFound as missing:
        raise BadInput(missing.said, field=PART_FIELD) from None
    to_tag = Link(tr("To its tag"), f"{vehicle_url(at.vehicle.mark)}/tags#{fitted.component.key}")
    card = vehicle_told_card(
        garage=at.garage,
        vehicle=fitted.vehicle,
        today=at.today,
        heading=tr("Fitted"),
        changed=fitted_words(
            fitted.component,
            fitted.old,
            vehicle=fitted.vehicle,
            on=fitted.on,
            is_new=given.is_new,
            keeps_old=given.keeps_old,
            today=at.today,
        ),
        lines_title=tr("Dates that are new or moved"),
        lines=dates_of(fitted.settled),
        links=[to_tag, *to_vehicle(at.vehicle)],
    )
    return HTMLResponse(parts.pages.vehicle_told(card))


def _given(at: At, typed: Typed) -> Fitting:
    """The form as what was fitted. Raises BadInput that names the field."""
    part = typed.of(PART_FIELD)
    if not part:
        raise BadInput(tr("Choose what was fitted."), field=PART_FIELD)
    for field, ways in _WAYS.items():
        if typed.of(field) not in ways:
            raise BadInput(tr("Choose one of them."), field=field)
    return Fitting(
        vehicle=at.vehicle.mark,
        part=part,
        on=day_of(typed.of(ON_FIELD), ON_FIELD),
        is_new=typed.of(AGE_FIELD) == NEW,
        keeps_old=typed.of(OLD_FIELD) == KEPT,
        note=clean_text(typed.of(NOTE_FIELD), field=NOTE_FIELD),
        dial=dial_of(typed, DIAL_FIELD),
        stand=typed.of(STAND_FIELD),
    )
