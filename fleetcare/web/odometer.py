"""Entering a reading on a phone: by a signed link or sticker, or by a person who came in. A GET changes nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from functools import partial

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day
from fleetcare.actions.look_ahead import look_ahead
from fleetcare.actions.receipts import Answer
from fleetcare.actions.record_reading import Doubtful, Recorded, record_reading, take_back, take_back_until
from fleetcare.assemble import Parts
from fleetcare.due.outlook import DueWindow, VehicleOutlook
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.access import Fetch
from fleetcare.fleet.duty import DutyCycle
from fleetcare.language import saying
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.meter.slips import Slip
from fleetcare.page.cards.doubt import GuessKind, doubt_card
from fleetcare.page.cards.entry import DAY_FIELD, FORM_FIELD, ONCE_FIELD, UNIT_FIELD, VALUE_FIELD, WHO_FIELD, entry_card
from fleetcare.page.cards.saved import saved_card, taken_back_card
from fleetcare.quantities import MeterUnit, km_to
from fleetcare.web.desk import Desk, desk_of_key, desk_of_person
from fleetcare.web.form_seal import refuse_unsealed
from fleetcare.web.reading_form import (
    PARTS_FIELD,
    again,
    form_key,
    given_of,
    once_of,
    parts_again,
    parts_of,
    text_of,
    unit_again,
)
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of
from fleetcare.wording import day_words

LONGEST_NUMBER = 18
"""Digits of the number of a reading; what the store counts with has no more."""

Step = Callable[[Parts, Desk, FormData], Response]


def routes(parts: Parts) -> APIRouter:
    """`/o/{key}` for links and stickers, `/vehicles/{mark}/reading` for people who came in."""
    router = APIRouter(include_in_schema=False)

    async def with_link(request: Request, key: str, step: Step) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: step(parts, desk_of_key(parts, key, _meter_asked(request)), form))

    async def with_person(request: Request, mark: str, step: Step) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: step(parts, _desk_sealed(parts, request, mark, form), form))

    @router.get("/o/{key}")
    def by_link(request: Request, key: str) -> Response:
        return _entry(parts, desk_of_key(parts, key, _meter_asked(request)))

    @router.post("/o/{key}")
    async def save_by_link(request: Request, key: str) -> Response:
        return await with_link(request, key, _save)

    @router.post("/o/{key}/take-back")
    async def back_by_link(request: Request, key: str) -> Response:
        return await with_link(request, key, _take_back)

    @router.get("/vehicles/{mark}/reading")
    def by_person(request: Request, mark: str) -> Response:
        if reader_of(request, parts) is None:
            return RedirectResponse("/sign-in", status_code=303)
        return _entry(parts, desk_of_person(parts, request, mark))

    @router.post("/vehicles/{mark}/reading")
    async def save_by_person(request: Request, mark: str) -> Response:
        return await with_person(request, mark, _save)

    @router.post("/vehicles/{mark}/reading/take-back")
    async def back_by_person(request: Request, mark: str) -> Response:
        return await with_person(request, mark, _take_back)

    return router


def _desk_sealed(parts: Parts, request: Request, mark: str, form: FormData) -> Desk:
    """The desk of who came in, for a form that was shown to this very session. Raises NotAllowed, NotFound."""
    desk = desk_of_person(parts, request, mark)
    refuse_unsealed(request, form)
    return desk


def _meter_asked(request: Request) -> str:
    return request.query_params.get("meter", "")


def _outlook(parts: Parts, desk: Desk) -> tuple[VehicleOutlook, date]:
    ahead = look_ahead(parts.store, parts.rules, now=parts.clock.now(), marks=(desk.vehicle.mark,))
    return ahead.outlooks[0], ahead.today


def _refuse_gone(desk: Desk, today: date) -> None:
    """What is out of the fleet is read by whoever has it now. Raises Clash; taking a reading back stays open."""
    gone_on = desk.vehicle.out_of_fleet_on
    if gone_on is not None and gone_on <= today:
        raise Clash(
            saying(
                "{name} is out of the fleet since {gone_on} and takes no readings. If that was a "
                "mistake, its keeper takes the sale back on the page of the vehicle.",
                name=desk.vehicle.name,
                gone_on=partial(day_words, gone_on, today),
            )
        )


def _entry(
    parts: Parts, desk: Desk, *, form: FormData | None = None, trouble: BadInput | Clash | None = None
) -> Response:
    outlook, today = _outlook(parts, desk)
    _refuse_gone(desk, today)
    last = _last(parts, desk)
    usual = last.split if last and last.split else outlook.vehicle.usual_split
    card = entry_card(
        garage=desk.garage,
        vehicle=desk.vehicle,
        meter_key=desk.meter.key,
        last=last,
        parts=parts_again(form, parts.rules.duties) or parts_of(usual),
        duties=_duties(parts),
        today=today,
        unit=unit_again(form, desk.meter),
        form_key=form_key(parts.clock.now()),
        action_url=desk.action(),
        reader_name=desk.first_name,
        until=desk.until,
        typed=again(form, VALUE_FIELD),
        problem=trouble.words() if trouble else "",
        problem_field=_field_of(trouble, desk),
        day=again(form, DAY_FIELD),
        home_url=desk.home_url,
        hidden=_hidden(parts, desk),
        people=desk.people,
        who=again(form, WHO_FIELD),
    )
    # Only what was stored is answered with a success: whoever resends what was not acknowledged loses nothing.
    return HTMLResponse(parts.pages.entry(card), status_code=status_of(trouble) if trouble else 200)


def _hidden(parts: Parts, desk: Desk) -> tuple[tuple[str, str], ...]:
    """What every form of this desk carries: a key of its own, and the seal of who came in."""
    return ((ONCE_FIELD, parts.keys.new_key()), *desk.sealed)


def _field_of(trouble: BadInput | Clash | None, desk: Desk) -> str:
    """The field of the page at which the trouble is told; at the value if the page does not have that field."""
    named = trouble.field if isinstance(trouble, BadInput) else ""
    field = {"date": DAY_FIELD}.get(named, named)
    there = (DAY_FIELD,) if desk.meter.unit is MeterUnit.HOURS else (DAY_FIELD, UNIT_FIELD, PARTS_FIELD)
    return field if field in there else VALUE_FIELD


def _save(parts: Parts, desk: Desk, form: FormData) -> Response:
    _refuse_gone(desk, garage_day(desk.garage, parts.clock.now()))
    try:
        last = _last(parts, desk)
        given = given_of(
            form, desk, duties=parts.rules.duties, last=last.split if last else None, now=parts.clock.now()
        )
        once = once_of(form, desk, lambda recorded: Answer(200, _saved(parts, desk, recorded)))
        now, base_url = parts.clock.now(), parts.base_url
        came: Recorded | Doubtful | Answer
        if once is None:
            came = record_reading(parts.store, parts.rules, given, now=now, base_url=base_url, feeds_later=True)
        else:
            came = record_reading(
                parts.store, parts.rules, given, now=now, base_url=base_url, once=once, feeds_later=True
            )
    except (BadInput, Clash) as trouble:
        return _entry(parts, desk, form=form, trouble=trouble)
    if isinstance(came, Doubtful):
        return _ask_back(parts, desk, came, form)
    if desk.key_hash and not desk.person:
        # Beside the facts and once an hour at most: a keeper sees that a sticker is in use, and by it a lost one.
        parts.store.note_fetch(desk.key_hash, Fetch(now.replace(minute=0, second=0, microsecond=0), "phone"))
    return HTMLResponse(came.body if isinstance(came, Answer) else _saved(parts, desk, came))


_GUESS_KINDS = {
    Slip.EXCHANGED: GuessKind.EXCHANGED,
    Slip.MISSING: GuessKind.DIGIT_MISSING,
    Slip.DOUBLED: GuessKind.DIGIT_TOO_MANY,
    Slip.TOO_MANY: GuessKind.DIGIT_TOO_MANY,
    Slip.TENTHS: GuessKind.TENTHS,
    Slip.WRONG_DIGIT: GuessKind.ONE_DIGIT,
    Slip.OTHER_UNIT: GuessKind.OTHER_UNIT,
}


def _ask_back(parts: Parts, desk: Desk, doubtful: Doubtful, form: FormData) -> Response:
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
        last=doubt.last,
        gain=_dial_amount(doubt.distance, unit),
        days=doubt.days,
        action_url=desk.action(),
        again_url=desk.action(),
        form_key=form_key(parts.clock.now()),
        parts=parts_again(form, parts.rules.duties),
        guess=guess.value if guess else None,
        guess_kind=_GUESS_KINDS[guess.slip] if guess else None,
        guess_unit=unit if guess else None,
        guess_gain=_dial_amount(guess.distance, unit) if guess else None,
        places=guess.positions if guess else (),
        keeper_name=_keeper_name(parts, desk),
        home_url=desk.home_url,
        cap=_dial_amount(doubt.cap_per_day, unit) if doubt.cap_per_day is not None else None,
        hint=doubt.hint,
        hidden=(*_hidden(parts, desk), *(((WHO_FIELD, again(form, WHO_FIELD)),) if desk.people else ())),
    )
    return HTMLResponse(parts.pages.doubt(card), status_code=409)


def _keeper_name(parts: Parts, desk: Desk) -> str:
    with parts.store.read() as view:
        return next((p.first_name for p in view.people() if p.key == desk.vehicle.keeper), "")


def _dial_amount(true: float, unit: MeterUnit) -> Decimal:
    """Km or hours as whole units of the dial."""
    amount = true if unit.distance is None else km_to(true, unit.distance)
    return Decimal(round(amount))


def _saved(parts: Parts, desk: Desk, came: Recorded) -> bytes:
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
        take_back_url=desk.action("/take-back") if is_open else "",
        take_back_until=until if is_open else None,
        form_key=str(came.reading.id or ""),
        reader_name=desk.first_name,
        reckoned=came.reckoned if came.reading.on == came.settled.today else None,
        next_wanted_on=came.reading.on + timedelta(days=parts.rules.priors.reading_wanted_after_days),
        keeper_name=_keeper_name(parts, desk),
        duty_titles={duty.key: duty.title for duty in parts.rules.duties.values()},
        done_url=desk.home_url or desk.address,
        home_url=desk.home_url,
        hidden=desk.sealed,
    )
    return parts.pages.saved(card).encode()


def _take_back(parts: Parts, desk: Desk, form: FormData) -> Response:
    number = text_of(form, FORM_FIELD)
    if not (number.isascii() and number.isdigit() and len(number) <= LONGEST_NUMBER):
        raise NotFound("reading", number)
    try:
        came = take_back(
            parts.store,
            parts.rules,
            mark=desk.vehicle.mark,
            reading_id=int(number),
            who=desk.by,
            now=parts.clock.now(),
            base_url=parts.base_url,
            feeds_later=True,
        )
    except NotFound:
        if not desk.key_hash:
            raise
        # Of another vehicle or of none: a link tells nothing of what else is there.
        raise NotAllowed(saying("This link is for {name} alone.", name=desk.vehicle.name)) from None
    card = taken_back_card(
        garage=desk.garage,
        vehicle=desk.vehicle,
        reading=came.reading,
        today=came.settled.today,
        again_url=desk.action(),
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
