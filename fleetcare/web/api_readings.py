"""Readings by API: one, many, and those that are held. Sent again under the same key they count once."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from math import isfinite
from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Header, Request
from fastapi.responses import JSONResponse, Response

from fleetcare.actions.gather import garage_of
from fleetcare.actions.receipts import Answer, Once
from fleetcare.actions.record_reading import Doubtful, Given, Really, Recorded, record_reading
from fleetcare.actions.settle_held import How, held_reading, settle_held
from fleetcare.assemble import Parts
from fleetcare.chance import key_hash
from fleetcare.errors import BadInput, FleetcareError, NotAllowed, StoreTrouble, shown
from fleetcare.fleet.naming import vehicle_called
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount, parse_dial
from fleetcare.intake.splits import parse_split
from fleetcare.language import saying
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.page.as_data import line_data, reading_data
from fleetcare.quantities import MeterUnit
from fleetcare.web.api_words import come_in_first, refusals
from fleetcare.web.forms import BatchIn, BatchOut, DoubtOut, ReadingIn, SettledOut, SettleIn, StoredOut
from fleetcare.web.safety import status_of
from fleetcare.web.who import Caller, caller_of, refuse_other_sites

KEY_HEADER = "Idempotency-Key"
_KEY = re.compile(r"[!-~]{1,200}")
E = TypeVar("E")

OnceKey = Annotated[
    str | None,
    Header(
        alias=KEY_HEADER,
        max_length=200,
        description="Made by who sends: the same under the same key is stored once and answered alike for 60 days.",
    ),
]


def routes(parts: Parts) -> APIRouter:
    """`/api/readings`, `/api/readings/batch` and `/api/readings/settle`."""
    router = APIRouter(prefix="/api", tags=["readings"])

    @router.post(
        "/readings",
        status_code=201,
        response_model=StoredOut,
        responses=refusals(400, 401, 403, 404, 413, 422, 429, 503)
        | {200: {"model": StoredOut}, 409: {"model": DoubtOut}},
    )
    def enter(request: Request, body: ReadingIn, key: OnceKey = None) -> Response:
        """Takes one reading. 201: stored; 200: it stood here before; 409: it does not fit, ask the person.

        With `hold` what does not fit is kept for its keeper instead of being asked about; `held` then says so.
        """
        caller = _sender(parts, request)
        if caller is None:
            return come_in_first()
        came = _entered(parts, caller, body, _checked(key))
        if isinstance(came, Doubtful):
            return JSONResponse(_doubt_data(came), status_code=409)
        return Response(came.body, status_code=came.status, media_type="application/json")

    @router.post(
        "/readings/batch",
        response_model=BatchOut,
        responses=refusals(400, 401, 403, 413, 422, 429, 503),
    )
    def enter_many(request: Request, body: BatchIn, key: OnceKey = None) -> JSONResponse:
        """Takes many readings, one after the other, each by itself: what cannot be taken keeps none of the others away.

        What does not fit is held for its keeper. The answers stand in the order of the readings: each says what the
        single call would have answered, with its status.
        """
        caller = _sender(parts, request)
        if caller is None:
            return come_in_first()
        once = _checked(key)
        return JSONResponse(
            {
                "results": [
                    _one_of_many(parts, caller, one, None if once is None else f"{once}#{place}")
                    for place, one in enumerate(body.readings)
                ]
            }
        )

    @router.post(
        "/readings/settle",
        response_model=SettledOut,
        responses=refusals(400, 401, 403, 404, 413, 422, 429, 503),
    )
    def settle(request: Request, body: SettleIn) -> JSONResponse:
        """Settles a reading that is held: it is right, it is wrong, or another value was meant."""
        caller = _sender(parts, request)
        if caller is None:
            return come_in_first()
        with parts.store.read() as view:
            vehicle = vehicle_called(view.vehicles(), body.vehicle)
            garage, readings = garage_of(view), view.readings((vehicle.mark,))
        if not caller.may_enter(vehicle, garage):
            raise NotAllowed(saying("Readings of {name} are settled by its people.", name=vehicle.name))
        meant, meant_unit = (None, None) if body.meant is None else _dialled(body.meant, None)
        held = held_reading(readings, _figure(body.value), parse_day(body.on, field="on"))
        came = settle_held(
            parts.store,
            parts.rules,
            mark=vehicle.mark,
            reading_id=held.id or 0,
            how=_one_of(How, body.how, "how") or How.RIGHT,
            who=caller.person.key,
            now=parts.clock.now(),
            base_url=parts.base_url,
            meant=meant,
            meant_unit=meant_unit,
        )
        instead = None if came.instead is None else reading_data(came.instead)
        return JSONResponse({"reading": reading_data(came.reading), "instead": instead})

    return router


def _sender(parts: Parts, request: Request) -> Caller | None:
    if "authorization" not in request.headers:
        refuse_other_sites(request)
    return caller_of(request, parts)


def _checked(key: str | None) -> str | None:
    if key is not None and not _KEY.fullmatch(key):
        raise BadInput(
            "That key cannot be taken.", remedy="Send 1 to 200 plain signs without blanks.", field=KEY_HEADER
        )
    return key


def _entered(parts: Parts, caller: Caller, body: ReadingIn, key: str | None) -> Answer | Doubtful:
    """Stores one reading, or finds that it does not fit. Raises what the action raises, and NotAllowed."""
    given, now = _given(parts, caller, body), parts.clock.now()
    if key is None:
        came = record_reading(parts.store, parts.rules, given, now=now, base_url=parts.base_url, feeds_later=True)
        return came if isinstance(came, Doubtful) else _answer(came)
    once = Once(
        key=key_hash(f"{Door.API}\n{caller.person.key}\n{key}"), body=key_hash(_canonical(body)), answer_of=_answer
    )
    return record_reading(
        parts.store, parts.rules, given, now=now, base_url=parts.base_url, once=once, feeds_later=True
    )


def _given(parts: Parts, caller: Caller, body: ReadingIn) -> Given:
    with parts.store.read() as view:
        vehicle, garage = vehicle_called(view.vehicles(), body.vehicle), garage_of(view)
    if not caller.may_enter(vehicle, garage):
        raise NotAllowed(saying("Readings of {name} are entered by its people.", name=vehicle.name))
    value, unit = _dialled(body.value, _one_of(MeterUnit, body.unit, "unit"))
    return Given(
        vehicle=vehicle.mark,
        value=value,
        by=caller.person.key,
        door=Door.API,
        on=parse_day(body.on, field="on") if body.on is not None else None,
        unit=unit,
        hours=body.hours,
        split=(lambda gain: parse_split(body.split or "", duties=parts.rules.duties, distance=gain))
        if body.split is not None
        else None,
        really=_one_of(Really, body.really, "really"),
        hold=body.hold,
    )


def _one_of_many(parts: Parts, caller: Caller, body: ReadingIn, key: str | None) -> dict[str, Any]:
    """What became of one reading of many; trouble of the store ends the whole call, to be sent again under its key."""
    try:
        came = _entered(parts, caller, body.model_copy(update={"hold": True}), key)
    except StoreTrouble:
        raise
    except FleetcareError as trouble:
        field = getattr(trouble, "field", "")
        return {"status": status_of(trouble), "error": str(trouble), **({"field": field} if field else {})}
    assert isinstance(came, Answer)  # nothing is asked back where it is held
    return {"status": came.status, **json.loads(came.body)}


def _answer(came: Recorded) -> Answer:
    outlook = came.settled.outlooks[0]
    held = came.reading.state is ReadingState.HELD
    told = {
        "reading": reading_data(came.reading),
        "known": came.known,
        "held": held,
        "note": came.doubt.sentence(came.vehicle.unit) if came.doubt else None,
        "moved": [line_data(outlook, each.line) for each in came.settled.moved],
        "screened": [{**reading_data(each.reading), "why": each.why} for each in came.screened],
    }
    return Answer(200 if came.known else 201, json.dumps(told, ensure_ascii=False).encode())


def _doubt_data(doubtful: Doubtful) -> dict[str, Any]:
    guess = doubtful.doubt.guess
    return {
        "error": doubtful.sentence(),
        "field": "value",
        "guess": None if guess is None else {"value": str(guess.value), "unit": doubtful.reading.unit.value},
        "really": [reason.value for reason in doubtful.ways],
    }


def _canonical(body: ReadingIn) -> str:
    return json.dumps(body.model_dump(mode="json"), sort_keys=True)


def _dialled(value: str | int | float, chosen: MeterUnit | None) -> tuple[Decimal, MeterUnit | None]:
    return parse_dial(value, chosen) if isinstance(value, str) else (_figure(value), chosen)


def _figure(value: str | int | float) -> Decimal:
    """The value by the one number parser. In JSON a point is the decimal mark, so 84.123 is never 84 123."""
    if isinstance(value, str):
        return parse_amount(value)
    if isinstance(value, float):
        if not isfinite(value):
            raise BadInput(
                saying("That is not a number: {value}.", value=shown(str(value))),
                remedy="Digits only, please.",
                field="value",
            )
        written = f"{Decimal(repr(value)):f}"
        if len(written.partition(".")[2]) > 1:
            raise BadInput(
                saying("{value} has more than one digit after the point.", value=shown(str(value))),
                remedy="A dial shows tenths at most; write whole figures as 84210.",
                field="value",
            )
        return parse_amount(written)
    return parse_amount(str(value))


def _one_of(kind: type[E], text: str | None, field: str) -> E | None:
    if text is None:
        return None
    for member in kind:  # type: ignore[attr-defined]
        if member.value == text:
            found: E = member
            return found
    raise BadInput(saying("{field} is one of {kind}.", field=field, kind=", ".join(m.value for m in kind)), field=field)  # type: ignore[attr-defined]
