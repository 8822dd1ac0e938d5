"""The Handbook over HTTP: the interval book with its sources, and how each service is done."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.assemble import Parts
from fleetcare.errors import NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.page.cards.book_row import book_row_card
from fleetcare.page.cards.handbook import carried_by, handbook_card
from fleetcare.web.who import reader_of


def routes(parts: Parts) -> APIRouter:
    """`/handbook` and `/handbook/{row}`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/handbook")
    def handbook(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        with parts.store.read() as view:
            garage, vehicles = garage_of(view), view.vehicles()
        card = handbook_card(
            garage=garage,
            reader=reader,
            today=garage_day(garage, parts.clock.now()),
            book=parts.rules.book,
            vehicles=vehicles,
            can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        )
        return HTMLResponse(parts.pages.handbook(card))

    @router.get("/handbook/{key}")
    def book_row(request: Request, key: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        row = parts.rules.book.rows.get(key)
        if row is None:
            raise NotFound("service in the handbook", key, parts.rules.book.rows)
        with parts.store.read() as view:
            garage, vehicles = garage_of(view), view.vehicles()
        card = book_row_card(
            row,
            garage=garage,
            reader=reader,
            today=garage_day(garage, parts.clock.now()),
            vehicles=carried_by(vehicles).get(key, ()),
            jobs=parts.jobs.jobs_of(row),
            can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        )
        return HTMLResponse(parts.pages.book_row(card))

    return router
