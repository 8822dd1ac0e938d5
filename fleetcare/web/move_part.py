"""A component is moved over HTTP: to another vehicle, onto the shelf, or from there."""

from __future__ import annotations

from decimal import Decimal

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, Response

from fleetcare.actions.move_component import Moving, move_component
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, NotFound, shown
from fleetcare.fleet.component import Component
from fleetcare.fleet.naming import answers_for
from fleetcare.fleet.shelf import SHELF_MARK, is_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import stand_of
from fleetcare.intake.numbers import parse_dial
from fleetcare.intake.text import clean_text
from fleetcare.intake.toml_models import is_key
from fleetcare.language import tr
from fleetcare.page.cards.edit_vehicle import MOVE, STAND_FIELD
from fleetcare.page.cards.move_part import (
    COMPONENT_FIELD,
    DIAL_FIELD,
    DIAL_THERE_FIELD,
    FROM_SHELF,
    KEY_FIELD,
    NOTE_FIELD,
    ON_FIELD,
    SWAP_FIELD,
    move_card,
    moved_words,
)
from fleetcare.page.cards.pulled_by import TO_FIELD, TO_MARK_FIELD, TO_TYPED
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import vehicle_told_card
from fleetcare.web.edit_vehicle import At, dates_of, to_vehicle, told
from fleetcare.web.edit_vehicle import shown as shown_page
from fleetcare.web.form_seal import seal_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.vehicle_form import day_of


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/move`."""
    router = APIRouter(include_in_schema=False)

    @router.get(f"/vehicles/{{mark}}{MOVE}")
    def move(request: Request, mark: str) -> Response:
        return shown_page(parts, request, mark, _page)

    @router.post(f"/vehicles/{{mark}}{MOVE}")
    async def moved(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _moved, _page))

    return router


def _targets(at: At) -> list[Vehicle]:
    """Vehicles that it may go to: those of whoever moves it."""
    return [
        other
        for other in at.vehicles
        if other.mark != at.vehicle.mark and not other.is_gone(at.today) and answers_for(at.person, other, at.garage)
    ]


def _on_shelf(at: At) -> tuple[Component, ...]:
    shelf = next((each for each in at.vehicles if each.mark == SHELF_MARK), None)
    return () if shelf is None or is_shelf(at.vehicle.mark) else shelf.components


def _page(at: At, typed: Typed) -> Response:
    card = move_card(
        at.vehicle,
        typed,
        garage=at.garage,
        today=at.today,
        others=_targets(at),
        shelf=_on_shelf(at),
        stand=stand_of(at.vehicle),
    )
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _moved(at: At, typed: Typed) -> Response:
    parts = at.parts
    given = _given(at, typed)
    try:
        moves, settled = move_component(
            parts.store, parts.rules, given, now=parts.clock.now(), who=at.person.key, base_url=parts.base_url
        )
    except NotFound as missing:
        raise BadInput(missing.said, field=COMPONENT_FIELD) from None
    with parts.store.read() as view:
        marks = {mark for move in moves for mark in (move.from_mark, move.to_mark)}
        places = {each.mark: each for each in view.vehicles(marks)}
    titles = {key: row.title for key, row in parts.rules.book.rows.items()}
    card = vehicle_told_card(
        garage=at.garage,
        vehicle=at.vehicle,
        today=at.today,
        heading=tr("Moved"),
        changed=moved_words(moves, places=places, titles=titles, today=at.today),
        lines_title=tr("Dates that are new or moved"),
        lines=dates_of(settled),
        links=[link for move in moves[:1] for link in to_vehicle(places[move.to_mark])],
    )
    return HTMLResponse(parts.pages.vehicle_told(card))


def _given(at: At, typed: Typed) -> Moving:
    """The form as a move. Raises BadInput that names the field."""
    what, to = typed.of(COMPONENT_FIELD), typed.of(TO_FIELD)
    if to == TO_TYPED:
        named = marks_typed(typed.of(TO_MARK_FIELD), [each.mark for each in _targets(at)], field=TO_MARK_FIELD)
        if len(named) != 1:
            raise BadInput(tr("Type the mark of one vehicle."), field=TO_MARK_FIELD)
        (to,) = named
    if not what:
        raise BadInput(tr("Choose a component."), field=COMPONENT_FIELD)
    key = typed.of(KEY_FIELD).strip()
    if key and not is_key(key):
        raise BadInput(
            tr("{key} cannot be a key.", key=shown(key, 40)),
            remedy=tr("Use lower case letters, digits and hyphens."),
            field=KEY_FIELD,
        )
    from_shelf = what.startswith(FROM_SHELF)
    if not from_shelf and to not in {SHELF_MARK, *(other.mark for other in _targets(at))}:
        raise BadInput(tr("Choose where it goes."), field=TO_FIELD)
    dial, there = dial_of(typed, DIAL_FIELD), dial_of(typed, DIAL_THERE_FIELD)
    stand = typed.of(STAND_FIELD)
    if from_shelf and stand != stand_of(at.vehicle):
        # What is looked at is the vehicle it comes to; the shelf is another one.
        raise BadInput(tr("It was changed by somebody else meanwhile. Look again, then save."), field=COMPONENT_FIELD)
    return Moving(
        vehicle=SHELF_MARK if from_shelf else at.vehicle.mark,
        component=what.removeprefix(FROM_SHELF),
        to=at.vehicle.mark if from_shelf else to,
        on=day_of(typed.of(ON_FIELD), ON_FIELD),
        key=key,
        swap=typed.of(SWAP_FIELD) == "yes",
        note=clean_text(typed.of(NOTE_FIELD), field=NOTE_FIELD),
        dial=None if from_shelf else dial,
        dial_there=dial if from_shelf else there,
        stand="" if from_shelf else stand,
    )


def dial_of(typed: Typed, field: str) -> Decimal | None:
    """What a dial showed, None if nothing was typed. Raises BadInput that names the field."""
    text = typed.of(field).strip()
    return parse_dial(text, field=field)[0] if text else None
