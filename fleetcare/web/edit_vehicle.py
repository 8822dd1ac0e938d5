"""A vehicle is changed over HTTP, said to be gone, or taken back; each answer says what it changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.edit_vehicle import edit_vehicle
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.sell_vehicle import SOLD_FIELD, Left, sell_vehicle, take_back_sale
from fleetcare.actions.settle import Settled
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed
from fleetcare.errors import shown as shown_text
from fleetcare.fleet.naming import answers_for, vehicle_called
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.fleet.vehicle_changes import SAME, Changes, stand_of
from fleetcare.fleet.vin import vin_doubts
from fleetcare.intake.text import clean_text
from fleetcare.language import tr
from fleetcare.page.cards.edit_vehicle import (
    BACK,
    DRIVERS_FIELD,
    EDIT,
    SELL,
    STAND_FIELD,
    back_card,
    changed_words,
    edit_card,
    sell_card,
)
from fleetcare.page.cards.entry import PART_FIELD
from fleetcare.page.cards.frame import VEHICLES_URL, Link, vehicle_url
from fleetcare.page.cards.new_vehicle import (
    CALLED_FIELD,
    DESCRIPTION_FIELD,
    KEEPER_FIELD,
    KIND_FIELD,
    NAME_FIELD,
    SINCE_FIELD,
    VIN_FIELD,
    YEARLY_FIELD,
)
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import MovedLine, moved_lines, vehicle_told_card
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import parts_of
from fleetcare.web.safety import status_of
from fleetcare.web.vehicle_form import (
    day_of,
    duties_in_order,
    keeper_of,
    kind_of,
    mix_of,
    towed_of,
    typed_in,
    yearly_of,
)
from fleetcare.web.who import reader_of

NOT_YOURS = "A vehicle is changed by its keeper. Come in, then send it again."
Show = Callable[["At", Typed], Response]


@dataclass(frozen=True, slots=True)
class At:
    """One vehicle and whoever stands before it, who answers for it."""

    parts: Parts
    request: Request
    person: Person
    garage: Garage
    vehicle: Vehicle
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    visits: int

    @property
    def today(self) -> date:
        """The day it is in the garage."""
        return garage_day(self.garage, self.parts.clock.now())

    @property
    def keepers(self) -> tuple[Person, ...]:
        """Who may keep it: chosen by who keeps the list alone."""
        if self.person.key != self.garage.list_keeper:
            return (self.person,)
        fit = [p for p in self.people if Role.KEEPER in p.roles and Role.ONLOOKER not in p.roles]
        own = [p for p in self.people if p.key in (self.vehicle.keeper, self.person.key) and p not in fit]
        return (*own, *fit)


def routes(parts: Parts) -> APIRouter:
    """`/vehicles/{mark}/edit`, `/vehicles/{mark}/sell` and what takes the latter back."""
    router = APIRouter(include_in_schema=False)

    @router.get(f"/vehicles/{{mark}}{EDIT}")
    def edit(request: Request, mark: str) -> Response:
        return shown(parts, request, mark, _edit_page)

    @router.get(f"/vehicles/{{mark}}{SELL}")
    def sell(request: Request, mark: str) -> Response:
        return shown(parts, request, mark, _sell_page)

    @router.post(f"/vehicles/{{mark}}{EDIT}")
    async def edited(request: Request, mark: str) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _edited, _edit_page))

    @router.post(f"/vehicles/{{mark}}{SELL}")
    async def sold(request: Request, mark: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _sold, _sell_page))

    @router.post(f"/vehicles/{{mark}}{BACK}")
    async def taken_back(request: Request, mark: str) -> Response:
        async with request.form() as form:
            return await run_in_threadpool(lambda: told(parts, request, mark, form, _taken_back, _sell_page))

    return router


def shown(parts: Parts, request: Request, mark: str, show: Show) -> Response:
    """A page about a vehicle for whoever answers for it; who did not come in is sent to the door. Raises NotAllowed."""
    reader = reader_of(request, parts)
    if reader is None:
        return RedirectResponse("/sign-in", status_code=303)
    return show(at_vehicle(parts, request, reader, mark), Typed())


def told(parts: Parts, request: Request, mark: str, form: FormData, step: Show, again: Show) -> Response:
    """Takes a form that whoever answers for the vehicle sends; what is wrong is said on its page. Raises NotAllowed."""
    at = at_vehicle(parts, request, sender_of(parts, request, form, not_in=NOT_YOURS), mark)
    typed = typed_in(form)
    try:
        return step(at, typed)
    except (BadInput, Clash) as trouble:
        field = trouble.field if isinstance(trouble, BadInput) else ""
        page = again(at, replace(typed, problem=trouble.words(), problem_field=field))
        page.status_code = status_of(trouble)
        return page


def at_vehicle(parts: Parts, request: Request, person: Person, mark: str) -> At:
    """The vehicle with whoever answers for it. Raises NotFound, NotAllowed."""
    now = parts.clock.now()
    with parts.store.read() as view:
        garage, vehicles, people = garage_of(view), view.vehicles(), view.people()
        vehicle = vehicle_called(vehicles, mark)
        visits = sum(1 for each in view.bay_visits((vehicle.mark,)) if each.takes_place and each.free_at > now)
    if not answers_for(person, vehicle, garage):
        raise NotAllowed(NOT_YOURS)
    return At(parts, request, person, garage, vehicle, people, vehicles, visits)


def dates_of(settled: Settled) -> tuple[MovedLine, ...]:
    """The lines whose dates moved."""
    moved = [(each.line, each.before, each.after) for each in settled.moved]
    return moved_lines(settled.outlooks, moved, settled.today)


def to_vehicle(vehicle: Vehicle) -> tuple[Link, ...]:
    """Where one goes on from what was said."""
    to_it = Link(tr("To {name}", name=vehicle.name), vehicle_url(vehicle.mark), is_main=True)
    return (to_it, Link(tr("All vehicles"), VEHICLES_URL))


def _edit_page(at: At, typed: Typed) -> Response:
    duties = duties_in_order(at.parts.rules.duties.values())
    counts = {duty.key: typed.of(f"{PART_FIELD}{duty.key}") for duty in duties}
    given = {key: int(count) for key, count in counts.items() if count in ("0", "1", "2", "3", "4")}
    card = edit_card(
        at.vehicle,
        typed,
        garage=at.garage,
        today=at.today,
        people=[each for each in at.people if Role.ONLOOKER not in each.roles],
        keepers=at.keepers,
        others=[each for each in at.vehicles if each.mark != at.vehicle.mark],
        duties=duties,
        parts=given or parts_of(at.vehicle.usual_split),
        stand=stand_of(at.vehicle),
    )
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _sell_page(at: At, typed: Typed) -> Response:
    if at.vehicle.out_of_fleet_on is not None:
        card = back_card(at.vehicle, typed, garage=at.garage, today=at.today)
    else:
        card = sell_card(at.vehicle, typed, garage=at.garage, today=at.today, visits=at.visits)
    return HTMLResponse(at.parts.pages.ask(card, seal_of(at.request)))


def _edited(at: At, typed: Typed) -> Response:
    parts, before = at.parts, at.vehicle
    edited = edit_vehicle(
        parts.store,
        parts.rules,
        _changes(at, typed),
        vehicle=before.mark,
        now=parts.clock.now(),
        who=at.person.key,
        base_url=parts.base_url,
        stand=typed.of(STAND_FIELD),
    )
    names = {each.key: each.name for each in at.people}
    changed = changed_words(edited.changed, edited.vehicle, today=at.today, names=names, duties=parts.rules.duties)
    said = [tr("Nothing was changed; it stood here so before.")] if not changed else []
    if any(each.field == "vin" for each in edited.changed):
        doubts = vin_doubts(edited.vehicle.vin)[:2]
        said += [tr("Its VIN is kept as you gave it. {doubt}", doubt=tr(doubt)) for doubt in doubts]
    lines = dates_of(edited.settled)
    if changed and not lines:
        said.append(tr("No date moved."))
    heading = tr("Saved: {name}", name=edited.vehicle.name) if changed else tr("{name} is as it was", name=before.name)
    return _answer(at, edited.vehicle, heading, said, changed, lines)


def _changes(at: At, typed: Typed) -> Changes:
    """What the form wants changed; a field that is not in it stays. Raises BadInput."""
    vehicle, keys = at.vehicle, {each.key for each in at.people}
    others = [each for each in at.vehicles if each.mark != vehicle.mark]
    kind = kind_of(typed.of(KIND_FIELD)) if typed.has(KIND_FIELD) else vehicle.kind
    drivers = tuple(dict.fromkeys(typed.all_of(DRIVERS_FIELD)))
    for key in drivers:
        if key not in keys:
            raise BadInput(tr("There is nobody called {key}.", key=shown_text(key, 40)), field=DRIVERS_FIELD)
    mix = mix_of(typed, at.parts.rules.duties)
    shares = parts_of(vehicle.usual_split)
    # The parts shown are the nearest small ones: as long as they are left so, the mix stays exactly what it was.
    is_left = mix is None or parts_of(mix) == shares
    yearly = yearly_of(typed.of(YEARLY_FIELD), vehicle.unit)
    as_shown = vehicle.yearly_km is not None and yearly is not None and abs(yearly - vehicle.yearly_km) < 1.0
    return Changes(
        name=clean_text(typed.of(NAME_FIELD), field=NAME_FIELD, required=True),
        kind=kind,
        called=clean_text(typed.of(CALLED_FIELD), field=CALLED_FIELD) or kind.value,
        keeper=keeper_of(typed.of(KEEPER_FIELD), {p.key for p in at.keepers}) if typed.has(KEEPER_FIELD) else SAME,
        drivers=_in_order(drivers, vehicle.drivers),
        vin=clean_text(typed.of(VIN_FIELD), field=VIN_FIELD),
        in_service_on=day_of(typed.of(SINCE_FIELD), SINCE_FIELD),
        yearly_km=SAME if as_shown else yearly,
        usual_split=SAME if is_left or mix is None else mix,
        towed_by=_in_order(towed_of(typed, others), vehicle.towed_by) if vehicle.kind is VehicleKind.TRAILER else SAME,
        description=clean_text(typed.of(DESCRIPTION_FIELD), field=DESCRIPTION_FIELD),
    )


def _in_order(chosen: tuple[str, ...], before: tuple[str, ...]) -> tuple[str, ...]:
    """Those that were there in their order, then the new ones: a form knows no order, and none is made up."""
    return (*(each for each in before if each in chosen), *(each for each in chosen if each not in before))


def _sold(at: At, typed: Typed) -> Response:
    parts = at.parts
    on = day_of(typed.of(SOLD_FIELD), SOLD_FIELD)
    if on is None:
        raise BadInput(tr("Give the day, such as 2026-02-03."), field=SOLD_FIELD)
    left = sell_vehicle(
        parts.store,
        parts.rules,
        vehicle=at.vehicle.mark,
        on=on,
        now=parts.clock.now(),
        who=at.person.key,
        base_url=parts.base_url,
    )
    said = [tr("Its history stays. Said by mistake, it can be taken back on its page.")]
    return _answer(at, left.vehicle, tr("{name} has left the fleet", name=at.vehicle.name), said, _what_ended(left))


def _what_ended(left: Left) -> tuple[str, ...]:
    ended = []
    if left.visits:
        ended.append(tr("Bay days rubbed out: {count}.", count=left.visits))
    if left.links:
        ended.append(tr("Stickers and reading links ended: {count}.", count=left.links))
    if left.settled.moved:
        ended.append(tr("Services that have no date any more: {count}.", count=len(left.settled.moved)))
    return tuple(ended)


def _taken_back(at: At, typed: Typed) -> Response:
    parts = at.parts
    left = take_back_sale(
        parts.store,
        parts.rules,
        vehicle=at.vehicle.mark,
        now=parts.clock.now(),
        who=at.person.key,
        base_url=parts.base_url,
    )
    said = [tr("Its dates go on. Bay days that were rubbed out and stickers that ended stay so; make new ones.")]
    heading = tr("{name} is here after all", name=left.vehicle.name)
    return _answer(at, left.vehicle, heading, said, (), dates_of(left.settled))


def _answer(
    at: At,
    vehicle: Vehicle,
    heading: str,
    said: list[str],
    changed: tuple[str, ...],
    lines: tuple[MovedLine, ...] = (),
) -> Response:
    card = vehicle_told_card(
        garage=at.garage,
        vehicle=vehicle,
        today=at.today,
        heading=heading,
        told=said,
        changed=changed,
        lines_title=tr("Dates that moved"),
        lines=lines,
        links=to_vehicle(vehicle),
    )
    return HTMLResponse(at.parts.pages.vehicle_told(card))
