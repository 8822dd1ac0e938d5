"""The shopping list and the shelf over HTTP: for the weeks ahead or one bay day, as a page and as a table."""

from __future__ import annotations

from datetime import date

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_of
from fleetcare.actions.go_shopping import (
    MOST_WEEKS,
    Shopping,
    put_on_shelf,
    shelf_of,
    shopping_ahead,
    shopping_days,
    shopping_for_day,
    take_off_shelf,
)
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.naming import keeps_shelf, may_enter
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount, parse_whole
from fleetcare.intake.shelf_csv import shopping_as_text
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.frame import COME_IN_URL
from fleetcare.page.cards.shopping import (
    AMOUNT_FIELD,
    DAY_FIELD,
    GONE_FIELD,
    PACK_FIELD,
    SHELF_ANCHOR,
    SHELF_URL,
    SHOPPING_URL,
    UNIT_FIELD,
    USUAL_WEEKS,
    WEEKS_FIELD,
    WHAT_FIELD,
    TriedItem,
    shopping_card,
)
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_YOURS = "What lies on the shelf is counted by keepers and mechanics. Come in, then send it again."
_FIELDS = (WHAT_FIELD, AMOUNT_FIELD, UNIT_FIELD, PACK_FIELD)


def routes(parts: Parts) -> APIRouter:
    """`/shopping`, `/shopping.csv` and `/shopping/shelf`."""
    router = APIRouter(include_in_schema=False)

    @router.get(SHOPPING_URL)
    def page(request: Request, weeks: str = "", on: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, reader, seal_of(request), weeks, on)

    @router.get(f"{SHOPPING_URL}.csv")
    def table(request: Request, weeks: str = "", on: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        found = _found(parts, _weeks(weeks), _day(on))
        named = {"Content-Disposition": 'attachment; filename="shopping.csv"'}
        return Response(shopping_as_text(found.lines), media_type="text/csv; charset=utf-8", headers=named)

    @router.post(SHELF_URL)
    async def shelf(request: Request) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _counted(parts, request, form))

    return router


def _found(parts: Parts, weeks: int, on: date | None) -> Shopping:
    now = parts.clock.now()
    if on is not None:
        return shopping_for_day(parts.store, parts.rules, parts.jobs, now=now, on=on, kept=parts.kept_outlooks)
    return shopping_ahead(parts.store, parts.rules, parts.jobs, now=now, weeks=weeks, kept=parts.kept_outlooks)


def _weeks(text: str) -> int:
    return parse_whole(text, least=0, most=MOST_WEEKS, field=WEEKS_FIELD) if text else USUAL_WEEKS


def _day(text: str) -> date | None:
    return parse_day(text, field=DAY_FIELD) if text else None


def _page(
    parts: Parts,
    reader: Person | None,
    seal: str,
    weeks: str = "",
    on: str = "",
    *,
    tried: TriedItem | None = None,
    status: int = 200,
) -> HTMLResponse:
    """Raises BadInput for a day on which nothing is in the bay, and for a stretch that is none."""
    count, day = _weeks(weeks), _day(on)
    found = _found(parts, count, day)
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    card = shopping_card(
        garage=garage,
        reader=reader,
        today=found.today,
        lines=found.lines,
        until=found.until,
        on=day,
        weeks=count,
        days=shopping_days(parts.store, now=parts.clock.now()),
        without_job=found.without_words,
        shelf=shelf_of(parts.store),
        may_count=reader is not None and keeps_shelf(reader, vehicles, garage),
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        tried=tried,
    )
    return HTMLResponse(parts.pages.shopping(card, seal), status_code=status)


def _counted(parts: Parts, request: Request, form: FormData) -> Response:
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    with parts.store.read() as view:
        if not keeps_shelf(person, view.vehicles(), garage_of(view)):
            raise NotAllowed(NOT_YOURS)
    now, there = parts.clock.now(), {item.what for item in shelf_of(parts.store)}
    what = text_of(form, WHAT_FIELD)
    try:
        if text_of(form, GONE_FIELD):
            take_off_shelf(parts.store, what, now=now, who=person.key)
        else:
            unit, pack = text_of(form, UNIT_FIELD), text_of(form, PACK_FIELD)
            put_on_shelf(
                parts.store,
                clean_text(what, field=WHAT_FIELD, limit=80, required=True),
                parse_amount(text_of(form, AMOUNT_FIELD), field=AMOUNT_FIELD),
                now=now,
                who=person.key,
                unit=clean_text(unit, field=UNIT_FIELD, limit=20) or None if unit else None,
                pack=parse_amount(pack, field=PACK_FIELD) if pack else None,
            )
    except (BadInput, NotFound) as trouble:
        typed = {field: again(form, field) for field in _FIELDS}
        field = getattr(trouble, "field", "") or WHAT_FIELD
        tried = TriedItem(what if what in there else "", trouble.words(), field, typed)
        status = 422 if isinstance(trouble, NotFound) else status_of(trouble)
        return _page(parts, person, seal_of(request), tried=tried, status=status)
    return RedirectResponse(f"{SHOPPING_URL}{SHELF_ANCHOR}", status_code=303)
