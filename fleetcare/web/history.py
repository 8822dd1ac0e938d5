"""The history of a vehicle over HTTP: a page to print, and the same as a table."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fleetcare.actions.look_at_history import look_at_history
from fleetcare.assemble import Parts
from fleetcare.fleet.people import Person
from fleetcare.intake.csv_files import Columns, write_csv
from fleetcare.page.cards.history import COLUMNS, HistoryCard, Record, history_card
from fleetcare.web.who import reader_of

TABLE = Columns("history", COLUMNS, frozenset({"vehicle", "kind"}))


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/history` and `/vehicles/{mark}/history.csv`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/vehicles/{mark}/history")
    def history(request: Request, mark: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        return HTMLResponse(parts.pages.history(_card(parts, reader, mark)))

    @router.get("/vehicles/{mark}/history.csv")
    def table(request: Request, mark: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        text = write_csv(TABLE, _card(parts, reader, mark).table)
        named = {"Content-Disposition": 'attachment; filename="history.csv"'}
        return Response(text, media_type="text/csv; charset=utf-8", headers=named)

    return router


def _card(parts: Parts, reader: Person | None, mark: str) -> HistoryCard:
    told = look_at_history(parts.store, parts.rules, mark, now=parts.clock.now())
    return history_card(
        garage=told.garage,
        reader=reader,
        outlook=told.outlook,
        record=Record(told.work, told.orders, told.found, told.moves, told.earlier),
        names=told.names,
        titles=told.titles,
    )
