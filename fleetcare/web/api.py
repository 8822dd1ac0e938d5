"""The API that is looked at: due windows and vehicles. Every answer is JSON; errors are one sentence."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from fleetcare.actions.look_ahead import Ahead, changes_of, look_ahead
from fleetcare.assemble import Parts
from fleetcare.due.naming import line_called
from fleetcare.errors import NotAllowed
from fleetcare.fleet.naming import vehicle_called
from fleetcare.page.as_data import explain_data, line_data, vehicle_data
from fleetcare.web.api_words import come_in_first, refusals
from fleetcare.web.who import Caller, caller_of

NOT_FOR_LOOKING = "This key enters readings, and is not for looking at dates."
OTHER_VEHICLE = "This key is for another vehicle."


def routes(parts: Parts) -> APIRouter:
    """`/api/due` and `/api/vehicles`."""
    router = APIRouter(prefix="/api", tags=["garage"], responses=refusals(401, 403, 404, 503))

    @router.get("/due", responses=refusals(422))
    def due(request: Request, vehicle: str = "") -> JSONResponse:
        """Due windows of every service line, by vehicle; of one vehicle if it is named."""
        caller = caller_of(request, parts)
        if not may_look(caller, parts):
            return come_in_first()
        outlooks = _seen_by(caller, parts).outlooks
        if vehicle:
            wanted = vehicle_called([o.vehicle for o in outlooks], vehicle[:120])
            outlooks = tuple(o for o in outlooks if o.vehicle.mark == wanted.mark)
        return JSONResponse([line_data(outlook, line) for outlook in outlooks for line in outlook.lines])

    @router.get("/due/{vehicle}/{component}/{service}", responses=refusals(422))
    def explain(request: Request, vehicle: str, component: str, service: str) -> JSONResponse:
        """One service line: how its dates came about, figure by figure, and what changed it last."""
        caller = caller_of(request, parts)
        if not may_look(caller, parts):
            return come_in_first()
        with parts.store.read() as view:
            wanted = vehicle_called(view.vehicles(), vehicle[:120])
        if caller is not None and not caller.may_look_at(wanted.mark):
            raise NotAllowed(OTHER_VEHICLE)
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(wanted.mark,))
        outlook = ahead.outlooks[0]
        line = line_called(outlook, f"{component[:120]}/{service[:120]}")
        return JSONResponse(explain_data(outlook, line, changes_of(parts.store, line.key)))

    @router.get("/vehicles")
    def vehicles(request: Request) -> JSONResponse:
        """Every vehicle with its last reading, pace and mix."""
        caller = caller_of(request, parts)
        if not may_look(caller, parts):
            return come_in_first()
        return JSONResponse([vehicle_data(outlook) for outlook in _seen_by(caller, parts).outlooks])

    return router


def may_look(caller: Caller | None, parts: Parts) -> bool:
    """True for who came in or has a key for it, and for everybody in open house. Raises NotAllowed for other keys."""
    if caller is None:
        return parts.settings.web.open_house
    if not caller.may_look_at(caller.mark):
        raise NotAllowed(NOT_FOR_LOOKING)
    return True


def _seen_by(caller: Caller | None, parts: Parts) -> Ahead:
    """The garage, or the one vehicle that a key is for."""
    marks = (caller.mark,) if caller is not None and caller.mark else None
    return look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=marks, kept=parts.kept_outlooks)
