"""A new vehicle over HTTP: steps that can be gone back to and opened again, and one form that puts it on the road.

What was typed so far stands in the address of each step, so that neither going back nor loading again loses anything;
the VIN alone is asked at the end and never stands in an address.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.add_vehicle import Added, NewVehicle, add_vehicle
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.receipts import SENT_BEFORE, Answer, Once, answered_before
from fleetcare.assemble import Parts
from fleetcare.chance import key_hash
from fleetcare.errors import BadInput, Clash, FleetcareError, NotAllowed
from fleetcare.fleet.entering import may_add, proposed_mark
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vin import vin_doubts
from fleetcare.language import as_spoken_now, tr
from fleetcare.meter.reading import Door
from fleetcare.page.cards.asking import AskCard
from fleetcare.page.cards.entry import ONCE_FIELD
from fleetcare.page.cards.frame import NEW_URL, VEHICLES_URL, Link, vehicle_url
from fleetcare.page.cards.new_vehicle import (
    PAST_PREFIX,
    STEP_FIELD,
    STEPS,
    Around,
    before_saving,
    done_when,
    its_dial,
    its_parts,
    what_it_is,
)
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.vehicle_told import moved_lines, vehicle_told_card
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.safety import status_of
from fleetcare.web.vehicle_form import (
    duties_in_order,
    first_of,
    parts_of_form,
    said_of,
    step_of,
    typed_in,
    vehicle_begun,
)
from fleetcare.web.who import reader_of
from fleetcare.work.new_vehicle import components_of, parts_offered, work_of

NOT_YOURS = "A vehicle is put on the road by a keeper. Come in, then send it again."
_ONCE = re.compile(r"[A-Za-z0-9_-]{16,64}")


def routes(parts: Parts) -> APIRouter:
    """`/new-vehicle`: each step by GET, the last one by POST."""
    router = APIRouter(include_in_schema=False)

    @router.get(NEW_URL)
    def step(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse("/sign-in", status_code=303)
        around = _around(parts, reader)
        typed = typed_in(request.query_params)
        asked = typed.of(STEP_FIELD, "1")
        wanted = int(asked) if asked in {str(n) for n in range(1, STEPS + 1)} else 1
        card, status = _step(parts, around, typed, wanted)
        return HTMLResponse(parts.pages.ask(card, seal_of(request)), status_code=status)

    @router.post(NEW_URL)
    async def saved(request: Request) -> Response:
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _saved(parts, request, form))

    return router


@dataclass(frozen=True, slots=True)
class _Read:
    """What was read from the steps: a card for the step that has to be answered again, or the whole vehicle."""

    card: AskCard
    vehicle: NewVehicle | None = None


def _around(parts: Parts, reader: Person) -> Around:
    """What the steps need. Raises NotAllowed."""
    with parts.store.read() as view:
        garage, people, vehicles = garage_of(view), view.people(), view.vehicles()
    if not may_add(reader, garage):
        raise NotAllowed(NOT_YOURS)
    keepers: tuple[Person, ...] = (reader,)
    if reader.key == garage.list_keeper:
        others = [p for p in people if p.key != reader.key and Role.KEEPER in p.roles and Role.ONLOOKER not in p.roles]
        keepers = (reader, *others)
    return Around(garage, reader, garage_day(garage, parts.clock.now()), keepers, vehicles)


def _step(parts: Parts, around: Around, typed: Typed, wanted: int) -> tuple[AskCard, int]:
    """The step that was asked for, or the first one before it that has no good answer yet."""
    try:
        return _read(parts, around, typed, wanted).card, 200
    except BadInput as trouble:
        return _again(parts, around, typed, trouble, wanted)


def _again(
    parts: Parts, around: Around, typed: Typed, trouble: BadInput | Clash, wanted: int = STEPS
) -> tuple[AskCard, int]:
    """The step of the field that is wrong, with what is wrong."""
    field = getattr(trouble, "field", "") or "name"
    if step_of(field) == 4 and not field.startswith((PAST_PREFIX, "on.", "at.")):
        field = f"{PAST_PREFIX}{field}"
    marked = replace(typed, problem=trouble.words(), problem_field=field)
    return _read(parts, around, marked, min(wanted, step_of(field))).card, status_of(trouble)


def _read(parts: Parts, around: Around, typed: Typed, wanted: int) -> _Read:
    """Reads the steps before the wanted one and makes its page. Raises BadInput for the first that is wrong."""
    if wanted <= 1:
        return _Read(what_it_is(around, typed))
    rules, garage, today = parts.rules, around.garage, around.today
    first = first_of(typed, keepers={each.key for each in around.keepers}, reader=around.reader.key)
    name, kind = first[0], first[1]
    if wanted == 2:
        mark = proposed_mark(name, {each.mark for each in around.taken})
        duties = duties_in_order(rules.duties.values())
        return _Read(its_dial(around, typed, name=name, kind=kind, mark=mark, duties=duties))
    vehicle, dial = vehicle_begun(typed, first, garage=garage, duties=rules.duties, others=around.taken, today=today)
    if wanted == 3:
        return _Read(its_parts(around, typed, name=name, parts=parts_offered(rules.book, kind)))
    chosen = parts_of_form(typed, rules.book, kind)
    meter = vehicle.odometer or vehicle.hour_meter
    if wanted == 4:
        unit = None if meter is None else meter.unit
        return _Read(done_when(around, typed, name=name, parts=chosen, unit=unit))
    said = said_of(typed, chosen, dial, today=today, by=around.reader.key)
    vehicle = replace(vehicle, components=components_of(chosen, said))
    work_of(vehicle, said)
    once = (ONCE_FIELD, typed.of(ONCE_FIELD) or parts.keys.new_key())
    card = before_saving(around, typed, vehicle=vehicle, said=said, duties=rules.duties, once=once)
    return _Read(card, NewVehicle(vehicle, said, Door.PHONE))


def _saved(parts: Parts, request: Request, form: FormData) -> Response:
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    around = _around(parts, person)
    typed = typed_in(form)
    now, seal = parts.clock.now(), seal_of(request)
    try:
        once = _once(parts, around, typed)
        # What stands here under this very key is no other vehicle that takes its name: it is answered again.
        known = _answered(parts, once)
        if known is not None:
            return HTMLResponse(known.body, status_code=known.status)
        given = _read(parts, around, typed, STEPS).vehicle
        assert given is not None  # the last step makes one
        came = add_vehicle(parts.store, parts.rules, given, now=now, who=person.key, base_url=parts.base_url, once=once)
    except (BadInput, Clash) as trouble:
        if str(trouble) == SENT_BEFORE:
            raise
        try:
            card, status = _again(parts, around, typed, trouble)
        except FleetcareError:
            raise trouble from None
        return HTMLResponse(parts.pages.ask(card, seal), status_code=status)
    return HTMLResponse(came.body, status_code=came.status)


def _once(parts: Parts, around: Around, typed: Typed) -> Once[Added]:
    """What makes this form count once, however often it is sent. Raises BadInput for a key no page of ours gives."""
    key = typed.of(ONCE_FIELD)
    if not _ONCE.fullmatch(key):
        raise BadInput("This form cannot be read.", remedy="Go back one step, then on again.")
    sent = sorted((name, value) for name, value in typed.pairs if name != ONCE_FIELD)
    return Once(
        key=key_hash(f"new vehicle\n{around.reader.key}\n{key}"),
        body=key_hash(json.dumps(sent)),
        answer_of=as_spoken_now(lambda added: Answer(200, _told(parts, around.garage, added))),
    )


def _answered(parts: Parts, once: Once[Added]) -> Answer | None:
    with parts.store.read() as view:
        return answered_before(view, once)


def _told(parts: Parts, garage: Garage, added: Added) -> bytes:
    vehicle, settled = added.vehicle, added.settled
    lines = moved_lines(
        settled.outlooks, [(each.line, each.before, each.after) for each in settled.moved], settled.today
    )
    told = [tr("It stands in the list, on the road ahead, and in its keeper’s calendar.")]
    told += [tr("Its VIN is kept as you gave it. {doubt}", doubt=tr(doubt)) for doubt in vin_doubts(vehicle.vin)[:2]]
    if vehicle.meters and added.reading is None:
        told.append(tr("Enter what its dial shows when you are next at it; its services by distance wait for that."))
    card = vehicle_told_card(
        garage=garage,
        vehicle=vehicle,
        today=settled.today,
        heading=tr("{name} is on the road", name=vehicle.name),
        told=told,
        lines_title=tr("Its services"),
        lines=lines,
        links=_links(vehicle),
    )
    return parts.pages.vehicle_told(card).encode()


def _links(vehicle: Vehicle) -> tuple[Link, ...]:
    return (
        Link(tr("To {name}", name=vehicle.name), vehicle_url(vehicle.mark), is_main=True),
        Link(tr("Put another vehicle on the road"), NEW_URL),
        Link(tr("All vehicles"), VEHICLES_URL),
    )
