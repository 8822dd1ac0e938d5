"""A plan worked out in the background and shown when it is there; nothing is written until somebody takes it."""

from __future__ import annotations

import hashlib
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.plan_bays import Wish, accept
from fleetcare.actions.proposal import Proposal
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed
from fleetcare.fleet.naming import may_enter, may_plan_all
from fleetcare.fleet.people import Garage, Person
from fleetcare.intake.dates import parse_day
from fleetcare.language import tr
from fleetcare.page.cards.bay_days import DAY_FIELD
from fleetcare.page.cards.frame import BAY_URL, COME_IN_URL
from fleetcare.page.cards.proposal import (
    PROPOSAL_URL,
    PROPOSE_URL,
    STAND_FIELD,
    ProposalCard,
    no_proposal_card,
    proposal_card,
    working_card,
)
from fleetcare.planner import Planner
from fleetcare.web.bay_days import visit_number
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_YOURS = "Plans for the whole garage are made by mechanics and by who keeps the list. Come in, then send it again."


def routes(parts: Parts, planner: Planner) -> APIRouter:
    """`/plan/propose`, `/plan/proposal` and `/plan/{mark}/{number}/with-it-moved`."""
    router = APIRouter(include_in_schema=False)

    @router.get(PROPOSAL_URL)
    def page(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, planner, reader, seal_of(request))

    @router.post(PROPOSE_URL)
    async def begin(request: Request) -> Response:
        async with request.form() as form:
            await run_in_threadpool(lambda: _sender(parts, request, form))
        planner.begin()
        return RedirectResponse(PROPOSAL_URL, status_code=303)

    @router.post(f"{BAY_URL}/{{mark}}/{{number}}/with-it-moved")
    async def around(request: Request, mark: str, number: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: _around(parts, planner, request, form, mark, number))

    @router.post(f"{PROPOSAL_URL}/stop")
    async def stop(request: Request) -> Response:
        async with request.form() as form:
            await run_in_threadpool(lambda: _sender(parts, request, form))
        await run_in_threadpool(planner.stop)
        return RedirectResponse(PROPOSAL_URL, status_code=303)

    @router.post(f"{PROPOSAL_URL}/take")
    async def take(request: Request) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: _take(parts, planner, request, form))

    return router


def stand_of(found: Proposal) -> str:
    """Stands for one proposal."""
    return hashlib.sha256(repr((found.visits, found.gone, found.before)).encode()).hexdigest()[:16]


def _sender(parts: Parts, request: Request, form: FormData) -> Person:
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    with parts.store.read() as view:
        if not may_plan_all(person, garage_of(view)):
            raise NotAllowed(NOT_YOURS)
    return person


def _around(parts: Parts, planner: Planner, request: Request, form: FormData, mark: str, number: str) -> Response:
    """Begins to work out a plan in which one visit is on another day; what keeps it from that is said on its page."""
    person = _sender(parts, request, form)
    try:
        wish = Wish(mark, visit_number(number), parse_day(text_of(form, DAY_FIELD), field=DAY_FIELD))
        if not planner.begin(wish=wish):
            raise Clash("A plan is being worked out already. Look at it first, then wish again.")
    except (BadInput, Clash) as trouble:
        return _page(parts, planner, person, seal_of(request), problem=trouble.words(), status=status_of(trouble))
    return RedirectResponse(PROPOSAL_URL, status_code=303)


def _take(parts: Parts, planner: Planner, request: Request, form: FormData) -> Response:
    person, found = _sender(parts, request, form), planner.found
    if found is None or text_of(form, STAND_FIELD) != stand_of(found):
        return _page(
            parts, planner, person, seal_of(request), problem=tr("That plan is not there any more."), status=409
        )
    try:
        now: datetime = parts.clock.now()
        accept(parts.store, parts.rules, found, who=person.key, now=now, base_url=parts.base_url)
    except Clash as trouble:
        return _page(parts, planner, person, seal_of(request), problem=trouble.words(), status=status_of(trouble))
    planner.found = None
    return RedirectResponse(BAY_URL, status_code=303)


def _page(
    parts: Parts, planner: Planner, reader: Person, seal: str, *, problem: str = "", status: int = 200
) -> HTMLResponse:
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    if not may_plan_all(reader, garage):
        raise NotAllowed(NOT_YOURS)
    can_enter = any(v.meters and may_enter(reader, v, garage) for v in vehicles)
    card = _card(parts, planner, garage, reader, can_enter, problem)
    return HTMLResponse(parts.pages.proposal(card, seal), status_code=status)


def _card(
    parts: Parts, planner: Planner, garage: Garage, reader: Person, can_enter: bool, problem: str
) -> ProposalCard:
    today = garage_day(garage, parts.clock.now())
    found = planner.found
    if planner.is_working and found is None:
        return working_card(
            garage=garage,
            reader=reader,
            today=today,
            can_enter=can_enter,
            seconds=planner.seconds,
            best_cents=planner.best_cents,
        )
    if problem or found is None:
        said = problem or tr(planner.problem)
        return no_proposal_card(garage=garage, reader=reader, today=today, can_enter=can_enter, problem=said)
    return proposal_card(
        garage=garage,
        reader=reader,
        today=today,
        can_enter=can_enter,
        visits=found.visits,
        gone=found.gone,
        before=found.before,
        left=found.left,
        answer=found.answer,
        outlooks=found.outlooks,
        stand=stand_of(found),
        wished=found.granted.was if found.granted else None,
        wished_on=found.granted.on if found.granted else None,
        barred=found.barred,
        clashes=found.clashes,
        bays=found.bays,
        not_due=found.not_due,
        doubts=found.doubts,
        extra_cents=found.granted.extra_cents if found.granted else 0,
        untouched=found.untouched,
    )
