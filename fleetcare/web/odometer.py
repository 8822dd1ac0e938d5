"""Entering a reading on a phone: by a signed link or sticker, or by a person who came in. A GET changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.links import LINK_OVER, open_key
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.record_reading import (
    Doubtful,
    Given,
    Really,
    Recorded,
    SplitOf,
    record_reading,
    take_back,
    take_back_until,
)
from fleetcare.assemble import Parts
from fleetcare.due.outlook import DueWindow, VehicleOutlook
from fleetcare.errors import BadInput, NotAllowed, NotFound
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount
from fleetcare.meter.guessing import Slip
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.page.cards.doubt import ANSWER_FIELD, REALLY_ANSWER, REASON_FIELD, GuessKind, Reason, doubt_card
from fleetcare.page.cards.entry import (
    DAY_FIELD,
    FORM_FIELD,
    MOST_PARTS,
    PART_FIELD,
    UNIT_FIELD,
    VALUE_FIELD,
    entry_card,
)
from fleetcare.page.cards.saved import saved_card, taken_back_card
from fleetcare.quantities import MeterUnit, km_to
from fleetcare.web.who import reader_of, refuse_other_sites

LONGEST_FIELD = 60


@dataclass(frozen=True, slots=True)
class Desk:
    """One vehicle's reading desk: who stands at it, and under which address."""

    garage: Garage
    vehicle: Vehicle
    meter: Meter
    person: Person | None
    until: date | None
    address: str
    home_url: str


def routes(parts: Parts) -> APIRouter:
    """`/o/{key}` for links and stickers, `/vehicles/{mark}/reading` for people who came in."""
    router = APIRouter(include_in_schema=False)

    @router.get("/o/{key}")
    def by_link(request: Request, key: str) -> HTMLResponse:
        return _entry(parts, _desk_of_key(parts, key, request.query_params.get("meter", "")))

    @router.post("/o/{key}")
    async def save_by_link(request: Request, key: str) -> Response:
        desk = _desk_of_key(parts, key, request.query_params.get("meter", ""))
        return await run_in_threadpool(_save, parts, desk, await request.form())

    @router.post("/o/{key}/take-back")
    async def back_by_link(request: Request, key: str) -> Response:
        desk = _desk_of_key(parts, key, request.query_params.get("meter", ""))
        return await run_in_threadpool(_take_back, parts, desk, await request.form())

    @router.get("/vehicles/{mark}/reading")
    def by_person(request: Request, mark: str) -> Response:
        if reader_of(request, parts) is None:
            return RedirectResponse("/sign-in", status_code=303)
        return _entry(parts, _desk_of_person(parts, request, mark))

    @router.post("/vehicles/{mark}/reading")
    async def save_by_person(request: Request, mark: str) -> Response:
        refuse_other_sites(request)
        return await run_in_threadpool(_save, parts, _desk_of_person(parts, request, mark), await request.form())

    @router.post("/vehicles/{mark}/reading/take-back")
    async def back_by_person(request: Request, mark: str) -> Response:
        refuse_other_sites(request)
        return await run_in_threadpool(_take_back, parts, _desk_of_person(parts, request, mark), await request.form())

    return router


def _desk_of_key(parts: Parts, key: str, meter: str) -> Desk:
    opened = open_key(parts.store, key, Purpose.ODOMETER, now=parts.clock.now())
    if opened.vehicle is None:
        raise NotAllowed(LINK_OVER)
    zone = ZoneInfo(opened.garage.zone)
    ends = opened.key.expires_at
    return Desk(
        garage=opened.garage,
        vehicle=opened.vehicle,
        meter=_meter(opened.vehicle, meter),
        person=opened.person,
        until=None if ends is None else (ends.astimezone(zone) - timedelta(seconds=1)).date(),
        address=f"/o/{key}",
        home_url="",
    )


def _desk_of_person(parts: Parts, request: Request, mark: str) -> Desk:
    person = reader_of(request, parts)
    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(mark,))
    if not ahead.outlooks:
        raise NotFound("vehicle", mark)
    vehicle = ahead.outlooks[0].vehicle
    if person is None or not may_enter(person, vehicle, ahead.garage):
        raise NotAllowed(f"Readings of {vehicle.name} are entered by its people. Its keeper can let you in.")
    return Desk(
        garage=ahead.garage,
        vehicle=vehicle,
        meter=_meter(vehicle, request.query_params.get("meter", "")),
        person=person,
        until=None,
        address=f"/vehicles/{vehicle.mark}/reading",
        home_url="/",
    )


def _meter(vehicle: Vehicle, key: str) -> Meter:
    usual = vehicle.odometer or vehicle.hour_meter
    found = next((m for m in vehicle.meters if m.key == key), None) if key else usual
    if found is None:
        raise NotFound(f"meter on {vehicle.name}", key or "odometer", [m.key for m in vehicle.meters])
    return found


def _outlook(parts: Parts, desk: Desk) -> tuple[VehicleOutlook, date]:
    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(desk.vehicle.mark,))
    return ahead.outlooks[0], ahead.today


def _action(desk: Desk, step: str = "") -> str:
    usual = desk.vehicle.odometer or desk.vehicle.hour_meter
    return f"{desk.address}{step}" + ("" if desk.meter == usual else f"?meter={desk.meter.key}")


def _entry(parts: Parts, desk: Desk, *, form: FormData | None = None, trouble: BadInput | None = None) -> HTMLResponse:
    outlook, today = _outlook(parts, desk)
    last = _last(parts, desk)
    card = entry_card(
        garage=desk.garage,
        vehicle=desk.vehicle,
        meter_key=desk.meter.key,
        last=last,
        parts=_parts_typed(form) or _parts_of(last.split if last and last.split else outlook.vehicle.usual_split),
        duties=_duties(parts),
        today=today,
        unit=_unit(form, desk),
        form_key=today.isoformat(),
        action_url=_action(desk),
        reader_name=desk.person.first_name if desk.person else "",
        until=desk.until,
        typed=_text(form, VALUE_FIELD),
        problem=str(trouble) if trouble else "",
        problem_field=DAY_FIELD if trouble is not None and trouble.field in ("date", "on") else VALUE_FIELD,
        day=_text(form, DAY_FIELD),
        home_url=desk.home_url,
    )
    return HTMLResponse(parts.pages.entry(card), status_code=422 if trouble else 200)


def _save(parts: Parts, desk: Desk, form: FormData) -> Response:
    try:
        given = _given(desk, form)
        came = record_reading(parts.store, parts.rules, given, now=parts.clock.now(), base_url=parts.base_url)
    except BadInput as trouble:
        return _entry(parts, desk, form=form, trouble=trouble)
    if isinstance(came, Doubtful):
        return _ask_back(parts, desk, came, form)
    return _saved(parts, desk, came)


def _given(desk: Desk, form: FormData) -> Given:
    """The form as a reading. Raises BadInput."""
    typed = _text(form, VALUE_FIELD)
    if not typed:
        raise BadInput("Type what the dial shows, digits only.", field=VALUE_FIELD)
    unit = _unit(form, desk)
    really = None
    if _text(form, ANSWER_FIELD) == REALLY_ANSWER:
        reason = _text(form, REASON_FIELD)
        really = {
            Reason.CHANGED.value: Really.CHANGED,
            Reason.WRONG_LAST.value: Really.WRONG_LAST,
            Reason.IT_DOES.value: Really.AS_READ,
        }.get(reason)
        if reason == Reason.OTHER_UNIT.value:
            unit = MeterUnit.KM if unit is MeterUnit.MI else MeterUnit.MI
    day = _text(form, DAY_FIELD) or _text(form, FORM_FIELD)
    return Given(
        vehicle=desk.vehicle.mark,
        value=parse_amount(typed, field=VALUE_FIELD),
        by=desk.person.key if desk.person else "sticker",
        door=Door.PHONE,
        on=parse_day(day, field=DAY_FIELD) if day else None,
        unit=unit,
        meter=desk.meter.key,
        split=_split(form),
        really=really,
    )


_GUESS_KINDS = {
    Slip.EXCHANGED: GuessKind.EXCHANGED,
    Slip.MISSING: GuessKind.DIGIT_MISSING,
    Slip.DOUBLED: GuessKind.DIGIT_TOO_MANY,
    Slip.TOO_MANY: GuessKind.DIGIT_TOO_MANY,
    Slip.TENTHS: GuessKind.TENTHS,
    Slip.WRONG_DIGIT: GuessKind.ONE_DIGIT,
    Slip.OTHER_UNIT: GuessKind.OTHER_UNIT,
}


def _ask_back(parts: Parts, desk: Desk, doubtful: Doubtful, form: FormData) -> HTMLResponse:
    doubt, guess, unit = doubtful.doubt, doubtful.doubt.guess, doubtful.reading.unit
    _, today = _outlook(parts, desk)
    card = doubt_card(
        garage=desk.garage,
        vehicle=desk.vehicle,
        meter_key=desk.meter.key,
        today=today,
        on=doubtful.reading.on,
        typed=doubtful.reading.value,
        typed_unit=unit,
        last=doubtful.previous,
        gain=_dial_amount(doubt.distance, unit),
        days=doubt.days,
        action_url=_action(desk),
        again_url=_action(desk),
        form_key=doubtful.reading.on.isoformat(),
        parts=_parts_typed(form),
        guess=guess.value if guess else None,
        guess_kind=_GUESS_KINDS[guess.slip] if guess else None,
        guess_unit=unit if guess else None,
        guess_gain=_dial_amount(guess.distance, unit) if guess else None,
        places=guess.positions if guess else (),
        keeper_name=_keeper_name(parts, desk),
        home_url=desk.home_url,
    )
    return HTMLResponse(parts.pages.doubt(card))


def _keeper_name(parts: Parts, desk: Desk) -> str:
    with parts.store.read() as view:
        return next((p.first_name for p in view.people() if p.key == desk.vehicle.keeper), "")


def _dial_amount(true: float, unit: MeterUnit) -> Decimal:
    """Km or hours as whole units of the dial."""
    amount = true if unit.distance is None else km_to(true, unit.distance)
    return Decimal(round(amount))


def _saved(parts: Parts, desk: Desk, came: Recorded) -> HTMLResponse:
    outlook = came.settled.outlooks[0]
    moved = {each.line.key: each.before for each in came.settled.moved}
    before = {
        line.key: state if isinstance(state := moved.get(line.key, line.window), DueWindow) else None
        for line in outlook.lines
    }
    until = take_back_until(came.reading, desk.garage)
    is_open = parts.clock.now() < until
    card = saved_card(
        garage=desk.garage,
        vehicle=outlook.vehicle,
        reading=came.reading,
        previous=came.previous,
        outlook=outlook,
        before=before,
        today=came.settled.today,
        take_back_url=_action(desk, "/take-back") if is_open else "",
        take_back_until=until if is_open else None,
        form_key=str(came.reading.id or ""),
        reader_name=desk.person.first_name if desk.person else "",
        reckoned=came.before.reckoned_dial if came.reading.on == came.settled.today else None,
        next_wanted_on=came.reading.on + timedelta(days=parts.rules.priors.reading_wanted_after_days),
        keeper_name=_keeper_name(parts, desk),
        duty_titles={duty.key: duty.title for duty in parts.rules.duties.values()},
        done_url=desk.home_url or desk.address,
        home_url=desk.home_url,
    )
    return HTMLResponse(parts.pages.saved(card))


def _take_back(parts: Parts, desk: Desk, form: FormData) -> HTMLResponse:
    number = _text(form, FORM_FIELD)
    if not (number.isascii() and number.isdigit()):
        raise NotFound("reading", number)
    came = take_back(
        parts.store,
        parts.rules,
        mark=desk.vehicle.mark,
        reading_id=int(number),
        who=desk.person.key if desk.person else "sticker",
        now=parts.clock.now(),
        base_url=parts.base_url,
    )
    card = taken_back_card(
        garage=desk.garage,
        vehicle=desk.vehicle,
        reading=came.reading,
        today=came.settled.today,
        again_url=_action(desk),
        done_url=desk.home_url,
        home_url=desk.home_url,
    )
    return HTMLResponse(parts.pages.taken_back(card))


def _last(parts: Parts, desk: Desk) -> Reading | None:
    with parts.store.read() as view:
        readings = view.readings((desk.vehicle.mark,))
    used = [r for r in readings if r.meter == desk.meter.key and r.state is ReadingState.USED]
    return max(used, key=lambda r: (r.on, r.id or 0), default=None)


def _duties(parts: Parts) -> tuple[DutyCycle, ...]:
    """Severe duties first, daily use last, as the mix is drawn."""
    return tuple(sorted(parts.rules.duties.values(), key=lambda duty: (not duty.severe, duty.key)))


def _text(form: FormData | None, field: str) -> str:
    value = form.get(field) if form is not None else None
    return value.strip()[:LONGEST_FIELD] if isinstance(value, str) else ""


def _unit(form: FormData | None, desk: Desk) -> MeterUnit:
    asked = _text(form, UNIT_FIELD)
    if desk.meter.unit is MeterUnit.HOURS or asked not in (MeterUnit.KM.value, MeterUnit.MI.value):
        return desk.meter.unit
    return MeterUnit(asked)


def _parts_typed(form: FormData | None) -> dict[str, int]:
    if form is None:
        return {}
    typed = {name.removeprefix(PART_FIELD): _text(form, name) for name in form if name.startswith(PART_FIELD)}
    return {duty: int(part) for duty, part in typed.items() if part in {str(n) for n in range(MOST_PARTS + 1)}}


def _split(form: FormData) -> SplitOf | None:
    """The parts as a split; all none means as last time, which is the vehicle's usual split."""
    typed = _parts_typed(form)
    if not any(typed.values()):
        return None
    split = DutySplit.from_parts({duty: float(part) for duty, part in typed.items()})
    return lambda gain: split


def _parts_of(split: DutySplit) -> dict[str, int]:
    """The parts, at most 4 each, that come nearest to a split."""
    largest = max(share for _, share in split.shares)
    best = min(
        range(1, MOST_PARTS + 1),
        key=lambda top: sum(abs(share / largest * top - round(share / largest * top)) for _, share in split.shares),
    )
    return {duty: max(1, round(share / largest * best)) for duty, share in split.shares if share > 0}
