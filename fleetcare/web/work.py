"""Work orders over HTTP: sheets of a vehicle, one sheet on screen and paper, its steps, and handing it in by phone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import facts_of, garage_day, garage_of, outlooks_from, rules_in_force
from fleetcare.actions.hand_in_sheet import hand_in, look_over, put_back_sheet
from fleetcare.actions.order_work import (
    Opening,
    abandon_order,
    begin_stage,
    defer_order,
    leave_standing,
    open_order,
    start_order,
)
from fleetcare.assemble import Parts
from fleetcare.book.rows import BookRow
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.naming import may_enter, vehicle_called
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.intake.dates import instant_words, parse_day
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.hand_in import KEPT, STEP, Questions, hand_in_card, questions_of, review_card
from fleetcare.page.cards.sheet import sheet_card, sheet_url
from fleetcare.page.cards.sheets import SERVICE_FIELD, sheets_card
from fleetcare.web.reading_form import text_of
from fleetcare.web.sheet_form import filling_of, hours_in, photos_in, typed_in
from fleetcare.web.who import reader_of, refuse_other_sites
from fleetcare.work.found import Found
from fleetcare.work.order import OrderState, WorkOrder
from fleetcare.work.sheet_course import SheetCourse, sheet_course

BAY_OPENS = time(9)
"""When the first hand begins on a planned day, if nobody said: for the drawing alone."""


@dataclass(frozen=True, slots=True)
class OneSheet:
    """One sheet as of one moment of the store, with what it is made of."""

    garage: Garage
    today: date
    order: WorkOrder
    vehicle: Vehicle
    found: tuple[Found, ...]
    course: SheetCourse
    titles: Mapping[str, str]
    names: Mapping[str, str]


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/work`, `/work/{sheet}`, its steps, its form and its photos."""
    router = APIRouter(include_in_schema=False)

    @router.get("/vehicles/{mark}/work")
    def sheets(request: Request, mark: str) -> Response:
        reader = _looker(request, parts)
        return _come_in() if reader is _STRANGER else _sheets_page(parts, _person(reader), mark)

    @router.post("/vehicles/{mark}/work")
    async def open_one(request: Request, mark: str) -> Response:
        refuse_other_sites(request)
        person = _signed_in(request, parts)
        async with request.form() as form:
            return await run_in_threadpool(lambda: _open(parts, person, mark, form))

    @router.get("/work/{sheet}")
    def show(request: Request, sheet: str) -> Response:
        reader = _looker(request, parts)
        if reader is _STRANGER:
            return _come_in()
        return HTMLResponse(_sheet_page(parts, _person(reader), _number(sheet)))

    @router.get("/work/{sheet}/photos/{name}")
    def photo(request: Request, sheet: str, name: str) -> Response:
        if _looker(request, parts) is _STRANGER:
            return _come_in()
        order = _one(parts, _number(sheet)).order
        if name not in order.photos:
            raise NotFound("photo", name)
        return Response(parts.photos.picture(name), media_type="image/jpeg")

    @router.get("/work/{sheet}/hand-in")
    def form(request: Request, sheet: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return _come_in()
        one = _one(parts, _number(sheet))
        _may(reader, one)
        if one.order.state in (OrderState.CLOSED, OrderState.ABANDONED):
            return RedirectResponse(sheet_url(one.order.number), status_code=303)
        return HTMLResponse(_form_page(parts, one, reader, {}))

    @router.post("/work/{sheet}/hand-in")
    async def handed(request: Request, sheet: str) -> Response:
        refuse_other_sites(request)
        # Asked before the form is read: a stranger's photos are not taken.
        person = _signed_in(request, parts)
        number = _number(sheet)
        async with request.form(max_files=20) as form:
            typed = typed_in(form)
            try:
                typed[KEPT] = await photos_in(form, parts.photos, typed.get(KEPT, ""))
            except BadInput as trouble:
                problem = str(trouble)
                return await run_in_threadpool(lambda: _again(parts, number, person, typed, problem))
        return await run_in_threadpool(lambda: _handed(parts, number, person, typed))

    async def stepped(request: Request, sheet: str, step: Callable[[Person, int, FormData], None]) -> Response:
        refuse_other_sites(request)
        person, number = _signed_in(request, parts), _number(sheet)
        async with request.form() as form:

            def take() -> Response:
                _may(person, _one(parts, number))
                step(person, number, form)
                return RedirectResponse(f"{sheet_url(number)}#steps", status_code=303)

            return await run_in_threadpool(take)

    @router.post("/work/{sheet}/start")
    async def start(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            start_order(
                parts.store,
                parts.rules,
                number,
                now=parts.clock.now(),
                who=person.key,
                mechanics=(person.key,),
                although=clean_text(text_of(form, "although"), field="note"),
            )

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/stage")
    async def stage(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            job, _, key = text_of(form, "stage").partition("/")
            known = parts.jobs.jobs.get(job)
            if known is None or key not in {each.key for each in known.stages}:
                raise NotFound("stage", text_of(form, "stage"))
            begin_stage(parts.store, number, job=job, stage=key, now=parts.clock.now(), who=person.key)

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/stands")
    async def stands(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            hours, now = hours_in(text_of(form, "hours")), parts.clock.now()
            until = now + timedelta(hours=hours) if hours else None
            leave_standing(parts.store, number, until=until, now=now, who=person.key)

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/defer")
    async def defer(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            defer_order(
                parts.store,
                number,
                until=parse_day(text_of(form, "until"), field="until"),
                reason=clean_text(text_of(form, "because"), field="note"),
                now=parts.clock.now(),
                who=person.key,
            )

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/abandon")
    async def abandon(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            reason = clean_text(text_of(form, "because"), field="note")
            abandon_order(parts.store, number, reason=reason, now=parts.clock.now(), who=person.key)

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/back")
    async def back(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            put_back_sheet(
                parts.store, parts.rules, number, now=parts.clock.now(), who=person.key, base_url=parts.base_url
            )

        return await stepped(request, sheet, step)

    return router


class _Stranger:
    """Nobody who may look."""


_STRANGER = _Stranger()


def _looker(request: Request, parts: Parts) -> Person | _Stranger | None:
    """Who looks: a person, None in an open house, or a stranger who has to come in first."""
    reader = reader_of(request, parts)
    return _STRANGER if reader is None and not parts.settings.web.open_house else reader


def _person(looker: Person | _Stranger | None) -> Person | None:
    return looker if isinstance(looker, Person) else None


def _come_in() -> Response:
    return RedirectResponse("/sign-in", status_code=303)


def _signed_in(request: Request, parts: Parts) -> Person:
    person = reader_of(request, parts)
    if person is None:
        # Asked before the sheet is looked for: a stranger learns no names and no numbers.
        raise NotAllowed("Sheets are worked on by people who came in. Come in, then send it again.")
    return person


def _may(person: Person, one: OneSheet) -> None:
    if not may_enter(person, one.vehicle, one.garage):
        raise NotAllowed(f"Sheets of {one.vehicle.name} are worked on by its people. Its keeper can let you in.")


def _number(text: str) -> int:
    if not text.isascii() or not text.isdigit() or len(text) > 8:
        raise NotFound("sheet", text)
    return int(text)


def _one(parts: Parts, number: int) -> OneSheet:
    """The sheet with that number. Raises NotFound."""
    now = parts.clock.now()
    with parts.store.read() as view:
        garage = garage_of(view)
        order = view.order(number)
        if order is None:
            raise NotFound("sheet", f"{number:04d}")
        today = garage_day(garage, now)
        facts = facts_of(view, (order.mark,))
        outlook = outlooks_from(facts, rules_in_force(view, parts.rules), today)[0]
        found = tuple(each for each in view.found((order.mark,)) if each.order == number)
        names = {person.key: person.name for person in view.people()}
    rows: dict[LineKey, BookRow] = {line.key: line.row for line in outlook.lines}
    for line in order.lines:
        if line not in rows and line.service in parts.rules.book.rows:
            rows[line] = parts.rules.book.rows[line.service]
    course = sheet_course(
        order,
        outlook.vehicle,
        rows,
        parts.jobs,
        begins_at=_begins(order, ZoneInfo(garage.zone)),
        now=now if order.state is OrderState.IN_HAND else None,
    )
    titles = {line.service: row.title for line, row in rows.items()}
    return OneSheet(garage, today, order, outlook.vehicle, found, course, titles, names)


def _begins(order: WorkOrder, zone: ZoneInfo) -> datetime | None:
    if order.started_at is not None:
        return order.started_at
    return None if order.planned_on is None else datetime.combine(order.planned_on, BAY_OPENS, zone)


def _sheet_page(parts: Parts, reader: Person | None, number: int) -> str:
    one = _one(parts, number)
    card = sheet_card(
        garage=one.garage,
        reader=reader,
        order=one.order,
        vehicle=one.vehicle,
        course=one.course,
        findings=parts.findings,
        found=one.found,
        names=one.names,
        titles=one.titles,
        today=one.today,
        base_url=parts.base_url,
        may_work=reader is not None and may_enter(reader, one.vehicle, one.garage),
    )
    return parts.pages.sheet(card)


def _questions(parts: Parts, one: OneSheet, reader: Person) -> Questions:
    return questions_of(
        one.order, one.vehicle, one.course, parts.findings, titles=one.titles, people=one.names, reader=reader
    )


def _form_page(parts: Parts, one: OneSheet, reader: Person, typed: Mapping[str, str], problem: str = "") -> str:
    card = hand_in_card(
        garage=one.garage,
        today=one.today,
        order=one.order,
        vehicle=one.vehicle,
        asked=_questions(parts, one, reader),
        reader=reader,
        typed=typed,
        form_key=typed.get("form") or f"{one.order.sheet} {instant_words(parts.clock.now())}",
        problem=problem,
    )
    return parts.pages.hand_in(card)


def _again(parts: Parts, number: int, person: Person, typed: Mapping[str, str], problem: str = "") -> Response:
    one = _one(parts, number)
    _may(person, one)
    return HTMLResponse(_form_page(parts, one, person, typed, problem), status_code=422 if problem else 200)


def _handed(parts: Parts, number: int, person: Person, typed: dict[str, str]) -> Response:
    one = _one(parts, number)
    _may(person, one)
    step, now = typed.pop(STEP, "look"), parts.clock.now()
    if step == "again":
        return HTMLResponse(_form_page(parts, one, person, typed))
    try:
        given = filling_of(typed, _questions(parts, one, person), parts.photos)
        if step == "save":
            hand_in(
                parts.store,
                parts.rules,
                parts.findings,
                number,
                given,
                now=now,
                who=person.key,
                base_url=parts.base_url,
            )
            return RedirectResponse(sheet_url(number), status_code=303)
        came = look_over(parts.store, parts.rules, parts.findings, number, given, now=now, who=person.key)
    except (BadInput, NotFound) as trouble:
        return _again(parts, number, person, typed, str(trouble))
    card = review_card(
        garage=one.garage,
        today=one.today,
        order=one.order,
        after=came.order,
        vehicle=one.vehicle,
        judged=came.judged,
        remarks=came.remarks,
        titles=one.titles,
        typed=typed,
    )
    return HTMLResponse(parts.pages.review(card))


def _sheets_page(parts: Parts, reader: Person | None, mark: str, problem: str = "") -> Response:
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
    return HTMLResponse(parts.pages.sheets(card), status_code=422 if problem else 200)


def _open(parts: Parts, person: Person, mark: str, form: FormData) -> Response:
    with parts.store.read() as view:
        garage, vehicle = garage_of(view), vehicle_called(view.vehicles(), mark)
    if not may_enter(person, vehicle, garage):
        raise NotAllowed(f"Sheets of {vehicle.name} are worked on by its people. Its keeper can let you in.")
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
        order = open_order(parts.store, parts.rules, given, now=parts.clock.now(), who=person.key)
    except (BadInput, NotFound) as trouble:
        return _sheets_page(parts, person, vehicle.mark, str(trouble))
    return RedirectResponse(sheet_url(order.number), status_code=303)
