"""The page of bay days, and the forms that ink, pencil, move and rub out a visit or put a new one down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_of, outlooks_of
from fleetcare.actions.order_work import Opening, open_order
from fleetcare.actions.plan_visits import Wanted, move_visit, plan_visit, set_visit, visits_ahead
from fleetcare.actions.weigh_days import weigh
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound, Overtaken
from fleetcare.fleet.bay_visit import VisitState
from fleetcare.fleet.naming import may_enter, may_plan, may_plan_all, vehicle_called
from fleetcare.fleet.people import Person, Role
from fleetcare.intake.chains import parse_chain, parse_time
from fleetcare.intake.dates import parse_day
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.bay_days import (
    DAY_FIELD,
    HANDS_FIELD,
    NEW_ANCHOR,
    SERVICE_FIELD,
    STATE_FIELD,
    TAKES_FIELD,
    TIME_FIELD,
    VEHICLE_FIELD,
    WHY_FIELD,
    TriedVisit,
    bay_days_card,
    visit_anchor,
)
from fleetcare.page.cards.bay_undo import STAND_FIELD, BayUndo
from fleetcare.page.cards.bay_why import bay_why_card
from fleetcare.page.cards.frame import BAY_URL, COME_IN_URL
from fleetcare.page.cards.fresh import fresh_words
from fleetcare.page.cards.sheet import sheet_url
from fleetcare.planner import Planner
from fleetcare.web.bay_undo import back_after_move, back_after_rub_out, undo_of
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of

NOT_IN = "Bay days are planned by who keeps or mends the vehicle. Come in, then send it again."
NOT_YOURS = "Bay days of that vehicle are planned by its keeper or a mechanic."
LONGEST_WHY = 200
_STATES = {
    "ink": VisitState.INKED,
    "pencil": VisitState.PENCILLED,
    "rub-out": VisitState.RUBBED_OUT,
}
_TYPED = (DAY_FIELD, TIME_FIELD, TAKES_FIELD, HANDS_FIELD, WHY_FIELD)
_FIELDS = {"on": DAY_FIELD, "at": TIME_FIELD, "takes": TAKES_FIELD, "lines": SERVICE_FIELD}
"""What the core calls the parts of a visit, and the fields of the form they are in."""

Step = Callable[[Person, FormData], Response]


def routes(parts: Parts, planner: Planner) -> APIRouter:
    """`/plan` and what lies below it."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, step: Step) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: step(sender_of(parts, request, form, not_in=NOT_IN), form))

    @router.get(BAY_URL)
    def page(request: Request, vehicle: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        better = planner.changes if planner.is_unasked else 0
        undo = undo_of(parts, reader, request.query_params)
        return _page(parts, reader, seal_of(request), chosen=vehicle, better=better, undo=undo)

    @router.get(f"{BAY_URL}/{{mark}}/{{number}}")
    def why(request: Request, mark: str, number: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _why(parts, reader, seal_of(request), mark, visit_number(number))

    @router.post(BAY_URL)
    async def put_down(request: Request) -> Response:
        return await told(request, lambda person, form: _put_down(parts, request, person, form))

    @router.post(f"{BAY_URL}/{{mark}}/{{number}}/move")
    async def move(request: Request, mark: str, number: str) -> Response:
        return await told(request, lambda person, form: _move(parts, request, person, form, mark, number))

    @router.post(f"{BAY_URL}/{{mark}}/{{number}}/sheet")
    async def sheet(request: Request, mark: str, number: str) -> Response:
        return await told(request, lambda person, form: _make_sheet(parts, person, mark, number))

    @router.post(f"{BAY_URL}/{{mark}}/{{number}}/{{what}}")
    async def set_(request: Request, mark: str, number: str, what: str) -> Response:
        return await told(request, lambda person, form: _set(parts, request, person, form, mark, number, what))

    return router


def _page(
    parts: Parts,
    reader: Person | None,
    seal: str,
    *,
    chosen: str = "",
    better: int = 0,
    tried: TriedVisit | None = None,
    undo: BayUndo | None = None,
    status: int = 200,
) -> HTMLResponse:
    """The page as it stands. chosen: the vehicle a new visit is for. Raises NotFound for one that is not there."""
    ahead = visits_ahead(parts.store, parts.rules, now=parts.clock.now(), kept=parts.kept_outlooks)
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
        people = view.people()
        present = [v for v in vehicles if v.out_of_fleet_on is None or v.out_of_fleet_on > ahead.today]
        plannable = [v for v in present if reader is not None and may_plan(reader, v, garage)]
        wanted = vehicle_called(plannable, chosen) if chosen and plannable else None
        outlook = outlooks_of(view, parts.rules, ahead.today, (wanted.mark,))[0] if wanted else None
    card = bay_days_card(
        garage=garage,
        reader=reader,
        today=ahead.today,
        seal=seal,
        visits=ahead.visits,
        notices=ahead.notices,
        outlooks=ahead.outlooks,
        people=ahead.people,
        sheets=ahead.sheets,
        plannable={vehicle.mark for vehicle in plannable},
        mechanics=[person for person in people if Role.MECHANIC in person.roles],
        choices=[(vehicle.mark, f"{vehicle.mark} {vehicle.name}") for vehicle in plannable],
        chosen=outlook,
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
        better=better,
        last_plan=ahead.last_plan,
        names={vehicle.mark: vehicle.name for vehicle in vehicles},
        may_propose=reader is not None and may_plan_all(reader, garage),
        tried=tried,
        undo=undo,
        first_window=ahead.first_window,
    )
    fresh = fresh_words(garage, ahead.outlooks.values(), parts.clock.now())
    card = replace(card, frame=replace(card.frame, fresh=fresh))
    return HTMLResponse(parts.pages.bay_days(card), status_code=status)


def _why(parts: Parts, reader: Person | None, seal: str, mark: str, number: int) -> HTMLResponse:
    """One visit weighed against other days. Raises NotFound, and BadInput if it has begun."""
    from fleetcare.solvers.days import ExactDays, place_on_day

    weighed = weigh(
        parts.store,
        parts.rules,
        parts.workplace,
        place_on_day,
        ExactDays(),
        vehicle=mark,
        number=number,
        now=parts.clock.now(),
        kept=parts.kept_outlooks,
    )
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    vehicle = weighed.outlook.vehicle
    card = bay_why_card(
        garage=garage,
        reader=reader,
        today=weighed.today,
        visit=weighed.visit,
        outlook=weighed.outlook,
        explained=weighed.explained,
        day_0=weighed.day_0,
        cap_cents=weighed.cap_cents,
        is_as_written=weighed.is_as_written,
        closed=weighed.closed,
        held=weighed.held,
        may_plan=reader is not None and may_plan(reader, vehicle, garage),
        may_plan_all=reader is not None and may_plan_all(reader, garage),
        can_enter=reader is not None and any(v.meters and may_enter(reader, v, garage) for v in vehicles),
    )
    return HTMLResponse(parts.pages.bay_why(card, seal))


def _put_down(parts: Parts, request: Request, person: Person, form: FormData) -> Response:
    mark = text_of(form, VEHICLE_FIELD)
    _refuse_others(parts, person, mark)
    services = tuple(value for value in form.getlist(SERVICE_FIELD) if isinstance(value, str))
    try:
        why, takes = text_of(form, WHY_FIELD), text_of(form, TAKES_FIELD)
        wanted = Wanted(
            vehicle=mark,
            services=services,
            on=parse_day(text_of(form, DAY_FIELD), field=DAY_FIELD),
            at=parse_time(text_of(form, TIME_FIELD), field=TIME_FIELD),
            parts=parse_chain(takes, field=TAKES_FIELD) if takes.strip() else (),
            mechanic=text_of(form, HANDS_FIELD),
            reason=clean_text(why[:LONGEST_WHY], field=WHY_FIELD) if why else "",
            inked=text_of(form, STATE_FIELD) == VisitState.INKED.value,
        )
        planned = plan_visit(
            parts.store,
            parts.rules,
            wanted,
            jobs=parts.jobs,
            who=person.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
        )
    except (BadInput, Clash, NotFound) as trouble:
        field = _field_of(trouble)
        tried = TriedVisit(NEW_ANCHOR, trouble.words(), field, {each: again(form, each) for each in _TYPED}, services)
        return _page(parts, person, seal_of(request), chosen=mark, tried=tried, status=_status(trouble))
    return _back(planned.visit.mark, planned.visit.number)


def _move(parts: Parts, request: Request, person: Person, form: FormData, mark: str, number: str) -> Response:
    _refuse_others(parts, person, mark)
    try:
        moved = move_visit(
            parts.store,
            parts.rules,
            vehicle=mark,
            number=visit_number(number),
            on=parse_day(text_of(form, DAY_FIELD), field=DAY_FIELD),
            at=parse_time(text_of(form, TIME_FIELD), field=TIME_FIELD),
            who=person.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
            stand=text_of(form, STAND_FIELD),
        )
    except (BadInput, Clash) as trouble:
        typed = {each: again(form, each) for each in (DAY_FIELD, TIME_FIELD)}
        tried = TriedVisit(visit_anchor(mark, visit_number(number)), trouble.words(), _field_of(trouble), typed)
        if isinstance(trouble, Overtaken):
            # It may be elsewhere on the page by now, or nowhere, and what was typed was meant for how it was.
            tried = TriedVisit("", trouble.words(), "", {})
        return _page(parts, person, seal_of(request), tried=tried, status=_status(trouble))
    return back_after_move(moved)


def _set(parts: Parts, request: Request, person: Person, form: FormData, mark: str, number: str, what: str) -> Response:
    _refuse_others(parts, person, mark)
    if what not in _STATES:
        raise NotFound("address", what, list(_STATES))
    try:
        done = set_visit(
            parts.store,
            parts.rules,
            vehicle=mark,
            number=visit_number(number),
            state=_STATES[what],
            who=person.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
            stand=text_of(form, STAND_FIELD),
        )
    except Clash as trouble:
        tried = TriedVisit("", trouble.words(), "", {})
        return _page(parts, person, seal_of(request), tried=tried, status=_status(trouble))
    if done.visit.takes_place:
        return _back(done.visit.mark, done.visit.number)
    return back_after_rub_out(done)


def _make_sheet(parts: Parts, person: Person, mark: str, number: str) -> Response:
    """Opens the sheet of a visit; the one that is there already, sent twice."""
    _refuse_others(parts, person, mark)
    there = visits_ahead(parts.store, parts.rules, now=parts.clock.now(), kept=parts.kept_outlooks).sheets.get(
        (mark, visit_number(number))
    )
    if there is None:
        given = Opening(mark, (), visit=visit_number(number))
        order = open_order(
            parts.store, parts.rules, given, now=parts.clock.now(), who=person.key, base_url=parts.base_url
        )
        there = order.number
    return RedirectResponse(sheet_url(there), status_code=303)


def _refuse_others(parts: Parts, person: Person, mark: str) -> None:
    """Raises NotAllowed for a vehicle this person may not plan for, and alike for one that is not there."""
    with parts.store.read() as view:
        found = next((vehicle for vehicle in view.vehicles() if vehicle.mark == mark), None)
        if found is None or not may_plan(person, found, garage_of(view)):
            raise NotAllowed(NOT_YOURS)


def visit_number(text: str) -> int:
    """The number in an address; 0, which no visit has, for what is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 0


def _field_of(trouble: BadInput | Clash | NotFound) -> str:
    field = getattr(trouble, "field", "") or ""
    return _FIELDS.get(field, field if field in (*_TYPED, SERVICE_FIELD) else DAY_FIELD)


def _status(trouble: BadInput | Clash | NotFound) -> int:
    return 422 if isinstance(trouble, NotFound) else status_of(trouble)


def _back(mark: str, number: int) -> Response:
    return RedirectResponse(f"{BAY_URL}{visit_anchor(mark, number)}", status_code=303)
