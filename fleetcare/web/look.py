"""Units and light: how pages look, chosen by a form without scripts, by who came in and by who did not."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.choose_look import Look, choose_look
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Light, Person
from fleetcare.language.measure import measure_in_force
from fleetcare.page.cards.frame import LOOK_URL
from fleetcare.page.cards.look import LIGHT_FIELD, UNIT_FIELD, look_card
from fleetcare.page.light import light_in_force
from fleetcare.quantities import DistanceUnit
from fleetcare.web.asked_look import keep_look
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.who import reader_of, refuse_other_sites


def routes(parts: Parts) -> APIRouter:
    """`/look`."""
    router = APIRouter(include_in_schema=False)

    @router.get(LOOK_URL)
    def page(request: Request, saved: str = "") -> Response:
        return _page(parts, request, reader_of(request, parts), saved=saved == "1")

    @router.post(LOOK_URL)
    async def choose(request: Request) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _choose(parts, request, form))

    return router


def _page(
    parts: Parts,
    request: Request,
    reader: Person | None,
    *,
    saved: bool = False,
    typed: Mapping[str, str] | None = None,
    problem: str = "",
) -> HTMLResponse:
    with parts.store.read() as view:
        garage = garage_of(view)
        vehicles = view.vehicles() if reader is not None else ()
    card = look_card(
        garage=garage,
        reader=reader,
        today=garage_day(garage, parts.clock.now()),
        unit=measure_in_force(),
        light=Light(light_in_force() or Light.DEVICE.value),
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        saved=saved,
        typed=typed,
        problem=problem,
    )
    return HTMLResponse(parts.pages.look(card, seal_of(request)), status_code=422 if problem else 200)


def _choose(parts: Parts, request: Request, form: FormData) -> Response:
    person = reader_of(request, parts)
    if person is None:
        # Who did not come in changes a cookie of their own browser and nothing else.
        refuse_other_sites(request)
    else:
        refuse_unsealed(request, form)
    unit, light = text_of(form, UNIT_FIELD), text_of(form, LIGHT_FIELD)
    try:
        look = _look(unit, light, is_known=person is not None)
    except BadInput as trouble:
        typed = {field: again(form, field) for field in (UNIT_FIELD, LIGHT_FIELD)}
        return _page(parts, request, person, typed=typed, problem=trouble.words())
    if person is not None:
        now = parts.clock.now()
        choose_look(parts.store, parts.rules, person.key, look, now=now, who=person.key, base_url=parts.base_url)
    answer = RedirectResponse(f"{LOOK_URL}?saved=1", status_code=303)
    keep_look(answer, look.unit, look.light or Light.DEVICE, secure=parts.base_url.startswith("https:"))
    return answer


def _look(unit: str, light: str, *, is_known: bool) -> Look:
    """The form as a choice. is_known: a person, who has always one unit. Raises BadInput."""
    units = [each.value for each in DistanceUnit] + ([] if is_known else [""])
    if unit not in units or light not in [each.value for each in Light]:
        raise BadInput("That is none of what there is to choose.", remedy="Choose from the list.", field=UNIT_FIELD)
    return Look(DistanceUnit(unit) if unit else None, Light(light))
