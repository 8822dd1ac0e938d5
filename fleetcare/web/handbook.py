"""The Handbook over HTTP: the interval book with its sources, how each service is done, and figures changed here."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.change_book import change_book, may_change_book
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.assemble import Parts
from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.page.cards.book_row import book_row_card, change_form, new_row_card, new_row_form
from fleetcare.page.cards.handbook import carried_by, handbook_card, row_url
from fleetcare.settings.book_files import GivenRow, laid_over, load_book
from fleetcare.settings.garage_rules import own_book_path
from fleetcare.settings.own_book import rows_in, with_change, without_change, written_beside
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.row_form import LONGEST_AGAIN, key_of, place_of, row_change
from fleetcare.web.who import reader_of

NOT_YOURS = "The book is changed by who keeps the list here. Come in, then send it again."
Step = Callable[[IntervalBook, tuple[GivenRow, ...], BookRow], tuple[tuple[GivenRow, ...], str]]
"""From the shipped book, the garage's own rows and the row in force to its own rows as they will be, and why."""


def routes(parts: Parts) -> APIRouter:
    """`/handbook`, `/handbook/{row}` and what changes a row."""
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
            may_add=reader is not None and may_change_book(reader, garage),
        )
        return HTMLResponse(parts.pages.handbook(card))

    @router.get("/handbook/new")
    def new_row(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse("/sign-in", status_code=303)
        return _new_page(parts, reader, seal=seal_of(request))

    @router.get("/handbook/{key}")
    def book_row(request: Request, key: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        return _row_page(parts, reader, key, seal=seal_of(request))

    @router.post("/handbook/new")
    async def added(request: Request) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: _added(parts, request, form))

    async def told(request: Request, key: str, step_of: Callable[[Parts, FormData], Step]) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _told(parts, request, key, form, step_of(parts, form)))

    @router.post("/handbook/{key}/change")
    async def change(request: Request, key: str) -> Response:
        return await told(request, key, _changing)

    @router.post("/handbook/{key}/as-in-the-book")
    async def as_in_the_book(request: Request, key: str) -> Response:
        return await told(request, key, _going_back)

    return router


def _keeper(parts: Parts, request: Request, form: FormData) -> Person:
    """Who sends a change of the book. Raises NotAllowed."""
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    with parts.store.read() as view:
        garage = garage_of(view)
    if not may_change_book(person, garage):
        raise NotAllowed(NOT_YOURS)
    return person


def _added(parts: Parts, request: Request, form: FormData) -> Response:
    """A row of the garage's own; its key is made of its title."""
    person = _keeper(parts, request, form)
    shipped = load_book(shipped_config() / SHIPPED_BOOK, duties=parts.rules.duties)
    own = own_book_path(parts.home)
    try:
        change = row_change(form, None, parts.rules.duties, is_new=True)
        key = key_of(str(change.words["title"]), parts.rules.book.rows)
        rows = with_change(rows_in(own), key, change, shipped, duties=parts.rules.duties)
        book = laid_over(shipped, rows)
    except BadInput as trouble:
        tried = {name: str(value)[:LONGEST_AGAIN] for name, value in form.items()}
        return _new_page(parts, person, seal=seal_of(request), tried=tried, trouble=trouble)
    _put_in_place(parts, person, own, rows, key, book.rows[key], change.reason)
    return RedirectResponse(row_url(key), status_code=303)


def _told(parts: Parts, request: Request, key: str, form: FormData, step: Step) -> Response:
    person = _keeper(parts, request, form)
    row = _row(parts, key)
    shipped = load_book(shipped_config() / SHIPPED_BOOK, duties=parts.rules.duties)
    own = own_book_path(parts.home)
    try:
        rows, reason = step(shipped, rows_in(own), row)
    except BadInput as trouble:
        tried = {name: str(value)[:LONGEST_AGAIN] for name, value in form.items()}
        return _row_page(parts, person, key, seal=seal_of(request), tried=tried, trouble=trouble)
    _put_in_place(parts, person, own, rows, key, row, reason)
    return RedirectResponse(row_url(key), status_code=303)


def _put_in_place(
    parts: Parts, person: Person, own: Path, rows: tuple[GivenRow, ...], key: str, row: BookRow, reason: str
) -> None:
    """Every date is worked out by the book as it will be, and only then does the file take its place."""
    shipped = load_book(shipped_config() / SHIPPED_BOOK, duties=parts.rules.duties)
    beside = written_beside(own, rows)
    change_book(
        parts.store,
        replace(parts.rules, book=laid_over(shipped, rows)),
        key,
        row,
        reason=reason,
        now=parts.clock.now(),
        who=person.key,
        base_url=parts.base_url,
        put_in_place=lambda: os.replace(beside, own),
    )


def _new_page(
    parts: Parts,
    reader: Person,
    *,
    seal: str,
    tried: Mapping[str, str] | None = None,
    trouble: BadInput | None = None,
) -> HTMLResponse:
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    if not may_change_book(reader, garage):
        raise NotAllowed(NOT_YOURS)
    form = new_row_form(
        parts.rules.duties,
        unit=garage.unit,
        components=sorted({component.kind for vehicle in vehicles for component in vehicle.components}) or ["engine"],
        tried=tried,
        problem=str(trouble or ""),
        problem_field=place_of(trouble, parts.rules.duties) if trouble else "",
    )
    card = new_row_card(
        garage=garage,
        reader=reader,
        today=garage_day(garage, parts.clock.now()),
        can_enter=any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        form=form,
    )
    return HTMLResponse(parts.pages.book_row(card, seal), status_code=422 if trouble is not None else 200)


def _changing(parts: Parts, form: FormData) -> Step:
    def step(shipped: IntervalBook, own: tuple[GivenRow, ...], row: BookRow) -> tuple[tuple[GivenRow, ...], str]:
        change = row_change(form, shipped.rows.get(row.key), parts.rules.duties)
        return with_change(own, row.key, change, shipped, duties=parts.rules.duties), change.reason

    return step


def _going_back(_parts: Parts, _form: FormData) -> Step:
    return lambda shipped, own, row: (without_change(own, row.key, shipped), "")


def _row(parts: Parts, key: str) -> BookRow:
    row = parts.rules.book.rows.get(key)
    if row is None:
        raise NotFound("service in the handbook", key, parts.rules.book.rows)
    return row


def _row_page(
    parts: Parts,
    reader: Person | None,
    key: str,
    *,
    seal: str,
    tried: Mapping[str, str] | None = None,
    trouble: BadInput | None = None,
) -> HTMLResponse:
    row = _row(parts, key)
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    form = None
    if reader is not None and may_change_book(reader, garage):
        form = change_form(
            row,
            parts.rules.duties,
            unit=garage.unit,
            tried=tried,
            problem=str(trouble or ""),
            problem_field=place_of(trouble, parts.rules.duties) if trouble else "",
        )
    card = book_row_card(
        row,
        garage=garage,
        reader=reader,
        today=garage_day(garage, parts.clock.now()),
        vehicles=carried_by(vehicles).get(key, ()),
        jobs=parts.jobs.jobs_of(row),
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        form=form,
    )
    return HTMLResponse(parts.pages.book_row(card, seal), status_code=422 if trouble is not None else 200)
