"""Work orders over HTTP: one sheet on screen and paper, its steps, and handing it in by phone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import timedelta

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.hand_in_sheet import Filling, hand_in, look_over
from fleetcare.actions.order_work import (
    abandon_order,
    begin_stage,
    defer_order,
    leave_standing,
    start_order,
)
from fleetcare.actions.put_back_sheet import put_back_sheet
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import instant_words, parse_day
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.frame import SEAL_FIELD
from fleetcare.page.cards.hand_in import (
    KEPT,
    STEP,
    Questions,
    hand_in_card,
    questions_of,
)
from fleetcare.page.cards.sheet import sheet_card, sheet_url
from fleetcare.page.cards.what_follows import review_card, without_decisions
from fleetcare.web.form_seal import refuse_unsealed, seal_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.sheet_desk import (
    STRANGER,
    OneSheet,
    come_in,
    looker,
    number_of,
    one_sheet,
    person_of,
    refuse_others,
    signed_in,
)
from fleetcare.web.sheet_form import filling_of, hours_in, photos_in, typed_in
from fleetcare.web.who import reader_of, refuse_other_sites
from fleetcare.work.order import OrderState


def routes(parts: Parts) -> APIRouter:
    """`/work/{sheet}`, its steps, its form and its photos."""
    router = APIRouter(include_in_schema=False)
    shop = parts.shop

    @router.get("/work/{sheet}")
    def show(request: Request, sheet: str) -> Response:
        reader = looker(request, parts)
        if reader is STRANGER:
            return come_in()
        return HTMLResponse(_sheet_page(parts, person_of(reader), number_of(sheet), seal_of(request)))

    @router.get("/work/{sheet}/photos/{name}")
    def photo(request: Request, sheet: str, name: str) -> Response:
        if looker(request, parts) is STRANGER:
            return come_in()
        order = one_sheet(parts, number_of(sheet)).order
        if name not in order.photos:
            raise NotFound("photo", name)
        return Response(parts.photos.picture(name), media_type="image/jpeg")

    @router.get("/work/{sheet}/hand-in")
    def form(request: Request, sheet: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return come_in()
        one = one_sheet(parts, number_of(sheet))
        refuse_others(reader, one)
        if one.order.state in (OrderState.CLOSED, OrderState.ABANDONED):
            return RedirectResponse(sheet_url(one.order.number), status_code=303)
        return HTMLResponse(_form_page(parts, one, reader, {}, seal_of(request)))

    @router.post("/work/{sheet}/hand-in")
    async def handed(request: Request, sheet: str) -> Response:
        refuse_other_sites(request)
        # Asked before the form is read: a stranger's photos are not taken.
        person = signed_in(request, parts)
        number = number_of(sheet)
        seal = seal_of(request)
        async with request.form(max_files=20) as form:
            refuse_unsealed(request, form)
            typed = typed_in(form)
            typed.pop(SEAL_FIELD, None)
            try:
                typed[KEPT] = await photos_in(form, parts.photos, typed.get(KEPT, ""))
            except BadInput as trouble:
                problem = trouble.words()
                return await run_in_threadpool(lambda: _again(parts, number, person, typed, seal, problem))
        return await run_in_threadpool(lambda: _handed(parts, number, person, typed, seal))

    async def stepped(request: Request, sheet: str, step: Callable[[Person, int, FormData], None]) -> Response:
        person, number = signed_in(request, parts), number_of(sheet)
        async with request.form() as form:
            refuse_unsealed(request, form)

            def take() -> Response:
                refuse_others(person, one_sheet(parts, number))
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
                shop=shop,
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
            begin_stage(
                parts.store, parts.rules, number, job=job, stage=key, now=parts.clock.now(), who=person.key, shop=shop
            )

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/stands")
    async def stands(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            hours, now = hours_in(text_of(form, "hours")), parts.clock.now()
            until = now + timedelta(hours=hours) if hours else None
            leave_standing(parts.store, parts.rules, number, until=until, now=now, who=person.key, shop=shop)

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/defer")
    async def defer(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            defer_order(
                parts.store,
                parts.rules,
                number,
                until=parse_day(text_of(form, "until"), field="until"),
                reason=clean_text(text_of(form, "because"), field="note"),
                now=parts.clock.now(),
                who=person.key,
                shop=shop,
            )

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/abandon")
    async def abandon(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            reason = clean_text(text_of(form, "because"), field="note")
            abandon_order(
                parts.store, parts.rules, number, reason=reason, now=parts.clock.now(), who=person.key, shop=shop
            )

        return await stepped(request, sheet, step)

    @router.post("/work/{sheet}/back")
    async def back(request: Request, sheet: str) -> Response:
        def step(person: Person, number: int, form: FormData) -> None:
            put_back_sheet(parts.store, parts.rules, number, now=parts.clock.now(), who=person.key, shop=shop)

        return await stepped(request, sheet, step)

    return router


def _sheet_page(parts: Parts, reader: Person | None, number: int, seal: str) -> str:
    one = one_sheet(parts, number)
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
    return parts.pages.sheet(card, seal)


def _questions(parts: Parts, one: OneSheet, reader: Person) -> Questions:
    return questions_of(
        one.order, one.vehicle, one.course, parts.findings, titles=one.titles, people=one.names, reader=reader
    )


def _form_page(
    parts: Parts, one: OneSheet, reader: Person, typed: Mapping[str, str], seal: str, problem: str = ""
) -> str:
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
    return parts.pages.hand_in(card, seal)


def _again(
    parts: Parts, number: int, person: Person, typed: Mapping[str, str], seal: str, problem: str = ""
) -> Response:
    one = one_sheet(parts, number)
    refuse_others(person, one)
    return HTMLResponse(_form_page(parts, one, person, typed, seal, problem), status_code=422 if problem else 200)


def _handed(parts: Parts, number: int, person: Person, typed: dict[str, str], seal: str) -> Response:
    one = one_sheet(parts, number)
    refuse_others(person, one)
    step, now = typed.pop(STEP, "look"), parts.clock.now()
    if step == "again":
        return HTMLResponse(_form_page(parts, one, person, typed, seal))
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
        return _review(parts, one, person, typed, given, seal)
    except (BadInput, NotFound) as trouble:
        if step == "save":
            # What was decided otherwise is asked on the page of what follows, so that is where it is put right.
            with suppress(BadInput, NotFound):
                as_the_book_says = filling_of(without_decisions(typed), _questions(parts, one, person), parts.photos)
                return _review(parts, one, person, typed, as_the_book_says, seal, trouble.words())
        return _again(parts, number, person, typed, seal, trouble.words())


def _review(
    parts: Parts,
    one: OneSheet,
    person: Person,
    typed: Mapping[str, str],
    given: Filling,
    seal: str,
    problem: str = "",
) -> Response:
    """What follows from what was filled in. Raises what `look_over` raises."""
    now = parts.clock.now()
    came = look_over(parts.store, parts.rules, parts.findings, one.order.number, given, now=now, who=person.key)
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
        problem=problem,
    )
    return HTMLResponse(parts.pages.review(card, seal), status_code=422 if problem else 200)
