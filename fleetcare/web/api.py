"""The API: readings in, due windows out. Every answer is JSON; errors are one sentence with the field it is about."""

from __future__ import annotations

from decimal import Decimal
from math import isfinite
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse

from fleetcare.actions.gather import garage_of
from fleetcare.actions.look_ahead import Ahead, changes_of, look_ahead
from fleetcare.actions.record_reading import Doubtful, Given, Really, record_reading
from fleetcare.actions.settle_held import How, held_reading, settle_held
from fleetcare.assemble import Parts
from fleetcare.due.naming import line_called
from fleetcare.errors import BadInput, shown
from fleetcare.fleet.naming import may_enter, vehicle_called
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount, parse_dial
from fleetcare.intake.splits import parse_split
from fleetcare.meter.reading import Door
from fleetcare.page.as_data import explain_data, line_data, reading_data, vehicle_data
from fleetcare.quantities import MeterUnit
from fleetcare.web.forms import DoubtOut, ReadingIn, SettleIn, Trouble
from fleetcare.web.who import caller_of, refuse_other_sites


def routes(parts: Parts) -> APIRouter:
    """`/api/readings`, `/api/due` and `/api/vehicles`."""
    router = APIRouter(prefix="/api", tags=["garage"], responses=_refusals(401, 404))

    @router.post("/readings", status_code=201, responses=_refusals(403, 413, 422) | {409: {"model": DoubtOut}})
    def enter(request: Request, body: ReadingIn) -> JSONResponse:
        """Takes one reading. 201: stored; 200: it stood here before; 409: it does not fit, ask the person."""
        if "authorization" not in request.headers:
            refuse_other_sites(request)
        caller = caller_of(request, parts)
        if caller is None:
            return _come_in_first()
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=())
        with parts.store.read() as view:
            vehicle = vehicle_called(view.vehicles(), body.vehicle)
        if not may_enter(caller, vehicle, ahead.garage):
            return JSONResponse({"error": f"Readings of {vehicle.name} are entered by its people."}, status_code=403)
        value, unit = _dialled(body.value, _one_of(MeterUnit, body.unit, "unit"))
        given = Given(
            vehicle=vehicle.mark,
            value=value,
            by=caller.key,
            door=Door.API,
            on=parse_day(body.on, field="on") if body.on is not None else None,
            unit=unit,
            hours=body.hours,
            split=(lambda gain: parse_split(body.split or "", duties=parts.rules.duties, distance=gain))
            if body.split is not None
            else None,
            really=_one_of(Really, body.really, "really"),
        )
        came = record_reading(parts.store, parts.rules, given, now=parts.clock.now(), base_url=parts.base_url)
        if isinstance(came, Doubtful):
            return JSONResponse(_doubt_data(came), status_code=409)
        outlook = came.settled.outlooks[0]
        answer = {
            "reading": reading_data(came.reading),
            "known": came.known,
            "moved": [line_data(outlook, each.line) for each in came.settled.moved],
            "screened": [{**reading_data(each.reading), "why": each.why} for each in came.screened],
        }
        return JSONResponse(answer, status_code=200 if came.known else 201)

    @router.post("/readings/settle", responses=_refusals(403, 413, 422))
    def settle(request: Request, body: SettleIn) -> JSONResponse:
        """Settles a reading that is held: it is right, it is wrong, or the value that was guessed was meant."""
        if "authorization" not in request.headers:
            refuse_other_sites(request)
        caller = caller_of(request, parts)
        if caller is None:
            return _come_in_first()
        with parts.store.read() as view:
            vehicle = vehicle_called(view.vehicles(), body.vehicle)
            garage, readings = garage_of(view), view.readings((vehicle.mark,))
        if not may_enter(caller, vehicle, garage):
            return JSONResponse({"error": f"Readings of {vehicle.name} are settled by its people."}, status_code=403)
        meant, meant_unit = (None, None) if body.meant is None else _dialled(body.meant, None)
        held = held_reading(readings, _figure(body.value), parse_day(body.on, field="on"))
        came = settle_held(
            parts.store,
            parts.rules,
            mark=vehicle.mark,
            reading_id=held.id or 0,
            how=_one_of(How, body.how, "how"),
            who=caller.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
            meant=meant,
            meant_unit=meant_unit,
        )
        instead = None if came.instead is None else reading_data(came.instead)
        return JSONResponse({"reading": reading_data(came.reading), "instead": instead})

    @router.get("/due", responses=_refusals(422))
    def due(request: Request, vehicle: str = "") -> JSONResponse:
        """Due windows of every service line, by vehicle; of one vehicle if it is named."""
        ahead = _seen_by(request, parts)
        if ahead is None:
            return _come_in_first()
        outlooks = ahead.outlooks
        if vehicle:
            wanted = vehicle_called([o.vehicle for o in outlooks], vehicle[:120])
            outlooks = tuple(o for o in outlooks if o.vehicle.mark == wanted.mark)
        return JSONResponse([line_data(outlook, line) for outlook in outlooks for line in outlook.lines])

    @router.get("/due/{vehicle}/{component}/{service}", responses=_refusals(422))
    def explain(request: Request, vehicle: str, component: str, service: str) -> JSONResponse:
        """One service line: how its dates came about, figure by figure, and what changed it last."""
        if _seen_by(request, parts, marks=()) is None:
            return _come_in_first()
        with parts.store.read() as view:
            wanted = vehicle_called(view.vehicles(), vehicle[:120])
        ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(wanted.mark,))
        outlook = ahead.outlooks[0]
        line = line_called(outlook, f"{component[:120]}/{service[:120]}")
        return JSONResponse(explain_data(outlook, line, changes_of(parts.store, line.key)))

    @router.get("/vehicles")
    def vehicles(request: Request) -> JSONResponse:
        """Every vehicle with its last reading, pace and mix."""
        ahead = _seen_by(request, parts)
        if ahead is None:
            return _come_in_first()
        return JSONResponse([vehicle_data(outlook) for outlook in ahead.outlooks])

    return router


def _seen_by(request: Request, parts: Parts, marks: tuple[str, ...] | None = None) -> Ahead | None:
    """The garage (these vehicles of it), for who came in or has an API key, and for everybody in open house."""
    caller: Person | None = caller_of(request, parts)
    if caller is None and not parts.settings.web.open_house:
        return None
    return look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=marks)


def _come_in_first() -> JSONResponse:
    return JSONResponse(
        {"error": "Send a key made with: fleetcare link PERSON --for api, as Authorization: Bearer KEY."},
        status_code=401,
        headers={"WWW-Authenticate": "Bearer"},
    )


def _doubt_data(doubtful: Doubtful) -> dict[str, Any]:
    guess = doubtful.doubt.guess
    return {
        "error": doubtful.sentence(),
        "field": "value",
        "guess": None if guess is None else {"value": str(guess.value), "unit": doubtful.reading.unit.value},
        "really": [reason.value for reason in doubtful.ways],
    }


def _refusals(*statuses: int) -> dict[int | str, dict[str, Any]]:
    return {status: {"model": Trouble} for status in statuses}


def _dialled(value: str | int | float, chosen: MeterUnit | None) -> tuple[Decimal, MeterUnit | None]:
    return parse_dial(value, chosen) if isinstance(value, str) else (_figure(value), chosen)


def _figure(value: str | int | float) -> Decimal:
    """The value by the one number parser. In JSON a point is the decimal mark, so 84.123 is never 84 123."""
    if isinstance(value, str):
        return parse_amount(value)
    if isinstance(value, float):
        if not isfinite(value):
            raise BadInput(f"That is not a number: {shown(str(value))}.", remedy="Digits only, please.", field="value")
        written = f"{Decimal(repr(value)):f}"
        if len(written.partition(".")[2]) > 1:
            raise BadInput(
                f"{shown(str(value))} has more than one digit after the point.",
                remedy="A dial shows tenths at most; write whole figures as 84210.",
                field="value",
            )
        return parse_amount(written)
    return parse_amount(str(value))


def _one_of(kind: Any, text: str | None, field: str) -> Any:
    if text is None:
        return None
    for member in kind:
        if member.value == text:
            return member
    raise BadInput(f"{field} is one of {', '.join(m.value for m in kind)}.", field=field)
