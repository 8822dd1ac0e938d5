"""Pages for people who came in, or for everybody while it is open house: the road ahead, vehicles to choose from."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fleetcare.actions.look_ahead import Ahead, look_ahead
from fleetcare.assemble import Parts
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.page.cards.choose import choose_card
from fleetcare.page.cards.road import road_card
from fleetcare.quantities import DistanceUnit
from fleetcare.web.who import reader_of


def routes(parts: Parts) -> APIRouter:
    """`/` and `/readings`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/")
    def road(request: Request, unit: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now())
        card = road_card(
            garage=ahead.garage,
            reader=reader,
            outlooks=ahead.outlooks,
            work=ahead.work,
            today=ahead.today,
            unit=_unit(unit, reader, ahead),
            mail_folder_note=parts.mail_note,
            can_enter=reader is not None and bool(_may_enter(reader, ahead)),
            start=_count(start),
            names={person.key: person.first_name for person in ahead.people},
        )
        return HTMLResponse(parts.pages.road(card))

    @router.get("/readings")
    def choose(request: Request, find: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse("/sign-in", status_code=303)
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now())
        card = choose_card(
            garage=ahead.garage,
            reader=reader,
            outlooks=[outlook for outlook in ahead.outlooks if may_enter(reader, outlook.vehicle, ahead.garage)],
            today=ahead.today,
            find=find[:60],
            start=_count(start),
        )
        return HTMLResponse(parts.pages.choose(card))

    return router


def _may_enter(reader: Person, ahead: Ahead) -> list[str]:
    return [o.vehicle.mark for o in ahead.outlooks if o.vehicle.meters and may_enter(reader, o.vehicle, ahead.garage)]


def _unit(asked: str, reader: Person | None, ahead: Ahead) -> DistanceUnit:
    if asked in (DistanceUnit.KM.value, DistanceUnit.MI.value):
        return DistanceUnit(asked)
    return reader.unit if reader is not None else ahead.garage.unit


def _count(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else 0
