"""When one vehicle is spoken for and what happened to it, over HTTP; each answer says which dates moved."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_of
from fleetcare.actions.keep_bookings import (
    GivenBooking,
    away_of,
    booking_state,
    drop_booking,
    keep_booking,
    take_back_event,
)
from fleetcare.actions.note_event import note_event
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.naming import may_enter, may_plan
from fleetcare.fleet.people import Person
from fleetcare.intake.dates import parse_day
from fleetcare.intake.numbers import parse_amount
from fleetcare.intake.text import clean_text
from fleetcare.page.cards.away import (
    COMPONENT_FIELD,
    DISTANCE_FIELD,
    DROP,
    DUTY_FIELD,
    EVENT_FIELD,
    FIRST_FIELD,
    KEY_FIELD,
    KIND_FIELD,
    LAST_FIELD,
    MARK_FIELD,
    NOTE_FIELD,
    ON_FIELD,
    OTHERS_FIELD,
    SHOWN_FIELD,
    TITLE_FIELD,
    UNIT_FIELD,
    WHAT_FIELD,
    TriedSpell,
    away_card,
)
from fleetcare.page.cards.frame import COME_IN_URL, vehicle_url
from fleetcare.quantities import DistanceUnit
from fleetcare.web.changed import back_to, changed_at
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.who import reader_of

NOT_YOURS = "A vehicle is spoken for by its keeper or a mechanic. They can let you in."
_SPELL = (TITLE_FIELD, FIRST_FIELD, LAST_FIELD, DISTANCE_FIELD, UNIT_FIELD, DUTY_FIELD, EVENT_FIELD, OTHERS_FIELD)
_EVENT = (KIND_FIELD, ON_FIELD, COMPONENT_FIELD, NOTE_FIELD)
_LONGEST = 300


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/away` and `/vehicles/{mark}/events`."""
    router = APIRouter(include_in_schema=False)

    @router.get("/vehicles/{mark}/away")
    def page(request: Request, mark: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, request, reader, mark)

    @router.post("/vehicles/{mark}/away")
    async def spell(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _spell(parts, request, form, mark))

    @router.post("/vehicles/{mark}/events")
    async def event(request: Request, mark: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: _event(parts, request, form, mark))

    return router


def _page(
    parts: Parts,
    request: Request,
    reader: Person | None,
    mark: str,
    *,
    tried: TriedSpell | None = None,
    event_tried: Mapping[str, str] | None = None,
    status: int = 200,
) -> HTMLResponse:
    away = away_of(parts.store, parts.rules, mark, now=parts.clock.now())
    garage, vehicle, today = away.garage, away.outlook.vehicle, away.today
    present = [v for v in away.vehicles if v.out_of_fleet_on is None or v.out_of_fleet_on > today]
    card = away_card(
        garage=garage,
        reader=reader,
        today=today,
        vehicle=vehicle,
        plannable=[v for v in present if reader is not None and may_plan(reader, v, garage)],
        names={each.mark: each.name for each in away.vehicles},
        bookings=away.bookings,
        states={each.key: booking_state(each) for each in away.bookings},
        read_in=away.read_in,
        events=away.events,
        by_sheet=away.by_sheet,
        kinds=away.kinds,
        duties=parts.rules.duties,
        can_enter=reader is not None and bool(vehicle.meters) and may_enter(reader, vehicle, garage),
        done=changed_at(parts, request, reader, today),
        tried=tried,
        event_tried=event_tried,
    )
    return HTMLResponse(parts.pages.away(card, seal_of(request)), status_code=status)


def _sender(parts: Parts, request: Request, form: FormData, mark: str) -> tuple[Person, frozenset[str]]:
    """Who sends a form about that vehicle, and the vehicles they may speak for. Raises NotAllowed."""
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    with parts.store.read() as view:
        garage = garage_of(view)
        plannable = frozenset(v.mark for v in view.vehicles() if may_plan(person, v, garage))
    if mark not in plannable:
        raise NotAllowed(NOT_YOURS)
    return person, plannable


def _spell(parts: Parts, request: Request, form: FormData, mark: str) -> Response:
    person, plannable = _sender(parts, request, form, mark)
    now, key, shown = parts.clock.now(), text_of(form, KEY_FIELD), text_of(form, SHOWN_FIELD) or None
    marks = tuple(each for each in form.getlist(MARK_FIELD) if isinstance(each, str))
    try:
        if text_of(form, WHAT_FIELD) == DROP:
            drop_booking(
                parts.store,
                parts.rules,
                key,
                shown=shown,
                may_plan=plannable,
                now=now,
                who=person.key,
                base_url=parts.base_url,
            )
        else:
            typed_marks = marks_typed(text_of(form, OTHERS_FIELD), plannable, field=OTHERS_FIELD)
            every = tuple(dict.fromkeys((*marks, *typed_marks)))
            keep_booking(
                parts.store,
                parts.rules,
                _given(form, _with_others(parts, key, every, plannable)),
                key=key,
                shown=shown,
                may_plan=plannable,
                now=now,
                who=person.key,
                base_url=parts.base_url,
            )
    except (BadInput, Clash, NotFound) as trouble:
        typed = {each: text_of(form, each)[:_LONGEST] for each in _SPELL}
        tried = TriedSpell(key, trouble.words(), typed, marks)
        return _page(parts, request, person, mark, tried=tried, status=_status(trouble))
    return back_to(f"{vehicle_url(mark)}/away", now)


def _with_others(parts: Parts, key: str, marks: tuple[str, ...], plannable: frozenset[str]) -> tuple[str, ...]:
    """The ticked vehicles, and those of the spell that the form did not show because they are not this person's."""
    with parts.store.read() as view:
        there = next((each.marks for each in view.bookings() if each.key == key), ())
    return (*marks, *(mark for mark in there if mark not in plannable))


def _given(form: FormData, marks: tuple[str, ...]) -> GivenBooking:
    """The form as a spell. Raises BadInput."""
    unit, distance = text_of(form, UNIT_FIELD), text_of(form, DISTANCE_FIELD)
    if unit not in [each.value for each in DistanceUnit]:
        raise BadInput("A distance is in km or mi.", remedy="Choose one.", field=UNIT_FIELD)
    return GivenBooking(
        title=clean_text(text_of(form, TITLE_FIELD), field=TITLE_FIELD, required=True),
        first=_day(form, FIRST_FIELD),
        last=_day(form, LAST_FIELD),
        marks=marks,
        distance=parse_amount(distance, field=DISTANCE_FIELD) if distance.strip() else None,
        unit=DistanceUnit(unit),
        duty=text_of(form, DUTY_FIELD),
        event=text_of(form, EVENT_FIELD),
    )


def _event(parts: Parts, request: Request, form: FormData, mark: str) -> Response:
    person, _ = _sender(parts, request, form, mark)
    now, base_url = parts.clock.now(), parts.base_url
    kind, component, note = (text_of(form, each) for each in (KIND_FIELD, COMPONENT_FIELD, NOTE_FIELD))
    try:
        words = clean_text(note, field=NOTE_FIELD, limit=_LONGEST) if note.strip() else ""
        event = UseEvent(mark, kind, _day(form, ON_FIELD), component, words)
        if text_of(form, WHAT_FIELD) == DROP:
            take_back_event(parts.store, parts.rules, event, now=now, who=person.key, base_url=base_url)
        else:
            note_event(parts.store, parts.rules, event, now=now, who=person.key, base_url=base_url)
    except (BadInput, Clash, NotFound) as trouble:
        typed = {**{each: text_of(form, each)[:_LONGEST] for each in _EVENT}, "problem": trouble.words()}
        return _page(parts, request, person, mark, event_tried=typed, status=_status(trouble))
    return back_to(f"{vehicle_url(mark)}/away", now)


def _day(form: FormData, field: str) -> date:
    typed = text_of(form, field)
    if not typed.strip():
        raise BadInput("A day is missing.", remedy="Give it, such as 2026-05-15.", field=field)
    return parse_day(typed, field=field)


def _status(trouble: BadInput | Clash | NotFound) -> int:
    return 422 if isinstance(trouble, NotFound) else status_of(trouble)
