"""One service more or less for a vehicle, or a dial more, over HTTP."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, Response

from fleetcare.actions.change_book import may_change_book
from fleetcare.actions.change_services import add_dial, add_service, drop_dial, drop_service
from fleetcare.actions.gather import Rules
from fleetcare.assemble import Parts
from fleetcare.due.more_services import services_of
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.component import Component
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import stand_of
from fleetcare.intake.numbers import parse_dial, parse_whole
from fleetcare.intake.sheet_words import figure
from fleetcare.intake.text import clean_text
from fleetcare.language import tr
from fleetcare.page.cards.edit_vehicle import DIAL_MORE, SERVICE_LESS, SERVICE_MORE, STAND_FIELD
from fleetcare.page.cards.service_changes import (
    AT_FIELD,
    DIGITS_FIELD,
    DISTANCE_FIELD,
    HOURS_FIELD,
    MONTHS_FIELD,
    OFF_FIELD,
    ON_FIELD,
    OWN,
    PAST_FIELD,
    REASON_FIELD,
    SERVICE_FIELD,
    SHORT_FIELD,
    TITLE_FIELD,
    UNIT_FIELD,
    VALUE_FIELD,
    add_service_card,
    added_words,
    dial_card,
    dial_words,
    drop_service_card,
    dropped_words,
)
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import MovedLine, vehicle_told_card
from fleetcare.quantities import MeterUnit
from fleetcare.settings.book_files import laid_over, load_book
from fleetcare.settings.garage_rules import own_book_path
from fleetcare.settings.own_book import RowChange, rows_in, with_change, written_beside
from fleetcare.settings.places import SHIPPED_BOOK, shipped_config
from fleetcare.web.edit_vehicle import At, dates_of, shown, to_vehicle, told
from fleetcare.web.form_seal import seal_of
from fleetcare.web.row_form import LONGEST_REASON, MOST_MONTHS, key_of
from fleetcare.web.vehicle_form import day_of
from fleetcare.work.new_vehicle import Answer, Past

T = TypeVar("T")


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/service-more`, `/service-less` and `/dial`."""
    router = APIRouter(include_in_schema=False)

    @router.get(f"/vehicles/{{mark}}{SERVICE_MORE}")
    def more(request: Request, mark: str) -> Response:
        return shown(parts, request, mark, _more_page)

    @router.get(f"/vehicles/{{mark}}{SERVICE_LESS}")
    def less(request: Request, mark: str) -> Response:
        return shown(parts, request, mark, _less_page)

    @router.get(f"/vehicles/{{mark}}{DIAL_MORE}")
    def dial(request: Request, mark: str) -> Response:
        return shown(parts, request, mark, _dial_page)

    @router.post(f"/vehicles/{{mark}}{SERVICE_MORE}")
    async def added(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _added, _more_page))

    @router.post(f"/vehicles/{{mark}}{SERVICE_LESS}")
    async def dropped(request: Request, mark: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _dropped, _less_page))

    @router.post(f"/vehicles/{{mark}}{DIAL_MORE}")
    async def dialled(request: Request, mark: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _dialled, _dial_page))

    return router


def _more_page(at: At, typed: Typed) -> Response:
    card = add_service_card(
        at.vehicle,
        typed,
        garage=at.garage,
        today=at.today,
        services=services_of(at.vehicle, at.parts.rules.book),
        stand=stand_of(at.vehicle),
        may_add_row=may_change_book(at.person, at.garage),
    )
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _less_page(at: At, typed: Typed) -> Response:
    card = drop_service_card(
        at.vehicle,
        typed,
        garage=at.garage,
        today=at.today,
        services=services_of(at.vehicle, at.parts.rules.book),
        stand=stand_of(at.vehicle),
    )
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _dial_page(at: At, typed: Typed) -> Response:
    with at.parts.store.read() as view:
        read = {reading.meter for reading in view.readings((at.vehicle.mark,))}
    unread = [meter.key for meter in at.vehicle.meters if meter.key not in read]
    card = dial_card(at.vehicle, typed, garage=at.garage, today=at.today, stand=stand_of(at.vehicle), unread=unread)
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _added(at: At, typed: Typed) -> Response:
    parts, (key, service) = at.parts, _chosen(typed)
    answer, rules, in_place = _answer(typed), parts.rules, None
    if service == OWN:
        service, rules, in_place = _own_row(at, typed, key)
    changed = _at_its_field(
        lambda: add_service(
            parts.store,
            rules,
            at.vehicle.mark,
            (key, service),
            answer,
            stand=typed.of(STAND_FIELD),
            put_in_place=in_place,
            now=parts.clock.now(),
            who=at.person.key,
            base_url=parts.base_url,
        )
    )
    words = added_words(changed.component.title, changed.row, answer.past)
    return _told(at, changed.vehicle, tr("A service more"), words, dates_of(changed.settled))


def _dropped(at: At, typed: Typed) -> Response:
    parts, line = at.parts, _chosen(typed)
    changed = _at_its_field(
        lambda: drop_service(
            parts.store,
            parts.rules,
            at.vehicle.mark,
            line,
            stand=typed.of(STAND_FIELD),
            now=parts.clock.now(),
            who=at.person.key,
            base_url=parts.base_url,
        )
    )
    words = dropped_words(changed.component.title, changed.row)
    return _told(at, changed.vehicle, tr("A service less"), words, dates_of(changed.settled))


def _dialled(at: At, typed: Typed) -> Response:
    parts, chosen = at.parts, typed.of(UNIT_FIELD)
    stand, now, who = typed.of(STAND_FIELD), parts.clock.now(), at.person.key
    off = chosen.startswith(f"{OFF_FIELD}.")
    if off:
        key = chosen.removeprefix(f"{OFF_FIELD}.")
        changed = _at_its_field(
            lambda: drop_dial(
                parts.store, parts.rules, at.vehicle.mark, key, stand=stand, now=now, who=who, base_url=parts.base_url
            ),
            UNIT_FIELD,
        )
    else:
        if chosen not in {unit.value for unit in MeterUnit}:
            raise BadInput("Which dial?", remedy="Choose one.", field=UNIT_FIELD)
        digits = parse_whole(typed.of(DIGITS_FIELD, "6").strip() or "6", least=3, most=9, field=DIGITS_FIELD)
        value = parse_dial(typed.of(VALUE_FIELD), field=VALUE_FIELD)[0] if typed.of(VALUE_FIELD).strip() else None
        changed = add_dial(
            parts.store,
            parts.rules,
            at.vehicle.mark,
            MeterUnit(chosen),
            digits=digits,
            value=value,
            stand=stand,
            now=now,
            who=who,
            base_url=parts.base_url,
        )
    words = dial_words(changed.meter, is_off=off)
    return _told(at, changed.vehicle, tr("Its dials"), words, dates_of(changed.settled))


def _chosen(typed: Typed) -> tuple[str, str]:
    """Component and service that were chosen. Raises BadInput."""
    key, point, service = typed.of(SERVICE_FIELD).partition(".")
    if not point:
        raise BadInput("Which service?", remedy="Choose one.", field="")
    return key, service


def _answer(typed: Typed) -> Answer:
    """When it was last done. Raises BadInput."""
    past = typed.of(PAST_FIELD) or Past.UNKNOWN.value
    if past not in (Past.UNKNOWN.value, Past.DONE.value, Past.NEW.value):
        raise BadInput("Done when?", remedy="Choose one.", field=PAST_FIELD)
    if past != Past.DONE.value:
        return Answer(Past(past))
    shown_then = typed.of(AT_FIELD).strip()
    at = parse_dial(shown_then, field=AT_FIELD)[0] if shown_then else None
    return Answer(Past.DONE, day_of(typed.of(ON_FIELD), ON_FIELD), at)


def _own_row(at: At, typed: Typed, key: str) -> tuple[str, Rules, Callable[[], None]]:
    """The key of a row of the garage's own, the rules with it, and what puts its file in place. Raises BadInput.

    It is proposed for no other vehicle: whoever wants it there adds it there.
    """
    parts = at.parts
    if not may_change_book(at.person, at.garage):
        raise BadInput("The book is changed by who keeps the list here.", remedy="Choose a service of it.", field="")
    component = _component(at.vehicle, key)

    def more_than_nothing(field: str) -> Decimal | None:
        if not typed.of(field).strip():
            return None
        given = figure(typed.of(field), field)
        if given <= 0:
            raise BadInput("An interval is more than nothing.", remedy="Give a figure, or leave it blank.", field=field)
        return given

    months = typed.of(MONTHS_FIELD).strip()
    change = RowChange(
        reason=clean_text(typed.of(REASON_FIELD), field=REASON_FIELD, limit=LONGEST_REASON, required=True),
        unit=at.vehicle.unit,
        distance=more_than_nothing(DISTANCE_FIELD),
        months=parse_whole(months, least=1, most=MOST_MONTHS, field=MONTHS_FIELD) if months else None,
        hours=more_than_nothing(HOURS_FIELD),
        words={
            "title": clean_text(typed.of(TITLE_FIELD), field=TITLE_FIELD, limit=120, required=True),
            "short": clean_text(typed.of(SHORT_FIELD), field=SHORT_FIELD, limit=24, required=True),
            "components": [component.kind],
            "proposed": False,
        },
    )
    if change.distance is None and change.months is None and change.hours is None:
        raise BadInput("It would never fall due.", remedy="Give a distance, months or hours.", field=DISTANCE_FIELD)
    shipped = load_book(shipped_config() / SHIPPED_BOOK, duties=parts.rules.duties)
    own, service = own_book_path(parts.home), key_of(str(change.words["title"]), parts.rules.book.rows)
    try:
        rows = with_change(rows_in(own), service, change, shipped, duties=parts.rules.duties)
    except BadInput as bad:
        raise BadInput(bad.what, remedy=bad.remedy, field=TITLE_FIELD if bad.field == "row" else bad.field) from None
    beside = written_beside(own, rows)
    return service, replace(parts.rules, book=laid_over(shipped, rows)), lambda: os.replace(beside, own)


def _component(vehicle: Vehicle, key: str) -> Component:
    found = next((each for each in vehicle.components if each.key == key), None)
    if found is None:
        raise BadInput("Which service?", remedy="Choose one.", field="")
    return found


def _at_its_field(step: Callable[[], T], field: str = "") -> T:
    """What a step gives; of what it does not find, and of what it says of a line, the form is told as a whole."""
    try:
        return step()
    except NotFound as missing:
        raise BadInput(missing.said, field=field) from None
    except BadInput as bad:
        about_all = bad.field == SERVICE_FIELD
        if "." not in bad.field and not about_all:
            raise
        raise BadInput(bad.what, remedy=bad.remedy, field="" if about_all else PAST_FIELD) from None


def _told(at: At, vehicle: Vehicle, heading: str, words: tuple[str, ...], lines: tuple[MovedLine, ...]) -> Response:
    card = vehicle_told_card(
        garage=at.garage,
        vehicle=vehicle,
        today=at.today,
        heading=heading,
        changed=words,
        lines_title=tr("Dates that are new or moved"),
        lines=lines,
        links=to_vehicle(vehicle),
    )
    return HTMLResponse(at.parts.pages.vehicle_told(card))
