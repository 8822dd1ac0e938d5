"""Bay days by API: the plan, what each other day of a visit costs, and a plan worked out, looked at and taken."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Request
from fastapi.responses import JSONResponse

from fleetcare.actions.gather import garage_of
from fleetcare.actions.plan_bays import Wish, accept
from fleetcare.actions.plan_visits import visits_ahead
from fleetcare.actions.weigh_days import weigh
from fleetcare.assemble import Parts
from fleetcare.errors import Clash, NotAllowed
from fleetcare.fleet.access import Scope
from fleetcare.fleet.naming import may_plan_all, vehicle_called
from fleetcare.intake.dates import parse_day
from fleetcare.page.plan_data import changes_data, days_data, proposal_data, reasons_data, visit_data
from fleetcare.planner import Planner
from fleetcare.web.api import OTHER_VEHICLE, may_look
from fleetcare.web.api_words import come_in_first, refusals
from fleetcare.web.forms import PlanOut, ProposalOut, ProposeIn, TakeIn, TakenOut, WeighedOut
from fleetcare.web.proposals import stand_of
from fleetcare.web.who import Caller, caller_of, refuse_other_sites

NOT_FOR_PLANNING = "Plans for the whole garage are made by mechanics and by who keeps the list, with a key for all."
NOT_THERE = "That plan is not there any more. Look at the one that is: GET /api/plan/proposal."
VisitNumber = Annotated[int, Path(ge=1, le=999_999)]


def routes(parts: Parts, planner: Planner) -> APIRouter:
    """`/api/plan` and what lies below it."""
    router = APIRouter(prefix="/api/plan", tags=["bay days"], responses=refusals(401, 403, 503))

    @router.get("", response_model=PlanOut)
    def plan(request: Request) -> JSONResponse:
        """Every visit that is not over, and what the plan that was taken last has changed."""
        caller = caller_of(request, parts)
        if not may_look(caller, parts):
            return come_in_first()
        ahead = visits_ahead(parts.store, parts.rules, now=parts.clock.now(), kept=parts.kept_outlooks)
        last = ahead.last_plan

        def is_shown(mark: str) -> bool:
            return caller is None or caller.may_look_at(mark)

        visits = [
            {**visit_data(each, ahead.zone), "notices": list(ahead.notices.get(each.key, ()))}
            for each in ahead.visits
            if is_shown(each.mark)
        ]
        changed = None
        if last is not None:
            shown = [each for each in last.changes if is_shown(each.mark)]
            at = last.at.astimezone(ahead.zone).isoformat(timespec="minutes")
            changed = {"at": at, "by": last.who, "changes": changes_data(shown, ahead.zone)}
        return JSONResponse({"visits": visits, "changed": changed})

    @router.get("/proposal", response_model=ProposalOut)
    def proposal(request: Request) -> JSONResponse:
        """The plan that was worked out last, or how the search for one stands. Nothing of it is written yet."""
        caller = caller_of(request, parts)
        if caller is None:
            return come_in_first()
        _refuse_others(caller, parts)
        return JSONResponse(_proposal(planner))

    @router.get("/{vehicle}/{number}", response_model=WeighedOut, responses=refusals(404, 422))
    def weighed(request: Request, vehicle: str, number: VisitNumber) -> JSONResponse:
        """One visit: why it is on its day, and what each other day would cost more, all else as it is planned."""
        from fleetcare.solvers.days import ExactDays, place_on_day

        caller = caller_of(request, parts)
        if not may_look(caller, parts):
            return come_in_first()
        with parts.store.read() as view:
            mark = vehicle_called(view.vehicles(), vehicle[:120]).mark
        if caller is not None and not caller.may_look_at(mark):
            raise NotAllowed(OTHER_VEHICLE)
        now = parts.clock.now()
        found = weigh(
            parts.store,
            parts.rules,
            parts.workplace,
            place_on_day,
            ExactDays(),
            vehicle=mark,
            number=number,
            now=now,
            kept=parts.kept_outlooks,
        )
        told = found.explained
        return JSONResponse(
            {
                "visit": visit_data(found.visit, found.zone),
                "compared": told is not None,
                "as_written": found.is_as_written,
                "reasons": reasons_data(told.reasons, found.day_0) if told else [],
                "days": days_data(told.other_days, found.day_0, found.held) if told else [],
            }
        )

    @router.post(
        "/propose", status_code=202, response_model=ProposalOut, responses=refusals(400, 404, 409, 413, 422, 429)
    )
    def propose(request: Request, body: ProposeIn) -> JSONResponse:
        """Begins to work out a plan, around a visit on another day if `move` names one. 409: that is going on already.

        Look at `GET /api/plan/proposal` until `working` is false; nothing counts until it is taken.
        """
        caller = _sender(parts, request)
        if caller is None:
            return come_in_first()
        _refuse_others(caller, parts)
        wish = None
        if body.move is not None:
            with parts.store.read() as view:
                mark = vehicle_called(view.vehicles(), body.move.vehicle).mark
            wish = Wish(mark, body.move.number, parse_day(body.move.on, field="on"))
        if not planner.begin(wish=wish):
            raise Clash("A plan is being worked out already. Look at it first: GET /api/plan/proposal.")
        return JSONResponse({"working": True}, status_code=202)

    @router.post("/take", response_model=TakenOut, responses=refusals(400, 409, 413, 422, 429))
    def take(request: Request, body: TakeIn) -> JSONResponse:
        """Takes the plan that was looked at: its days are pencilled, a wished one is inked, calendars and letters
        follow. 409: another plan is there by now, or somebody changed a visit meanwhile; then nothing was changed."""
        caller = _sender(parts, request)
        if caller is None:
            return come_in_first()
        _refuse_others(caller, parts)
        found = planner.found
        if planner.is_working or found is None or body.stand != stand_of(found):
            raise Clash(NOT_THERE)
        now, who = parts.clock.now(), caller.person.key
        changed = accept(parts.store, parts.rules, found, who=who, now=now, base_url=parts.base_url)
        planner.found = None
        return JSONResponse({"changed": changed})

    return router


def _sender(parts: Parts, request: Request) -> Caller | None:
    if "authorization" not in request.headers:
        refuse_other_sites(request)
    return caller_of(request, parts)


def _refuse_others(caller: Caller, parts: Parts) -> None:
    with parts.store.read() as view:
        garage = garage_of(view)
    if caller.scope is not Scope.ALL or caller.mark or not may_plan_all(caller.person, garage):
        raise NotAllowed(NOT_FOR_PLANNING)


def _proposal(planner: Planner) -> dict[str, Any]:
    found = planner.found
    if planner.is_working and found is None:
        return {"working": True, "seconds": planner.seconds, "best_cents": planner.best_cents}
    if found is None:
        return {"working": False, "problem": planner.problem or None}
    return {"working": False, "stand": stand_of(found), **proposal_data(found)}
