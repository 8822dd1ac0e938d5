"""Calendars that several can look at: their addresses made, named, replaced and ended by who answers for them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.links import (
    feed_addresses,
    make_key,
    publish_feed,
    rename_feed_key,
    revoke_feed_key,
    rotate_feed_key,
    shared_addresses,
)
from fleetcare.assemble import Parts
from fleetcare.errors import BadInput, Clash, NotAllowed
from fleetcare.fleet.access import BAY, Purpose, link_address
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.page.cards.calendar_choice import Tried
from fleetcare.page.cards.frame import COME_IN_URL
from fleetcare.page.cards.shared_calendars import (
    GARAGE_OWNER,
    MARK_FIELD,
    OWNER_FIELD,
    SHARED_URL,
    shared_calendars_card,
)
from fleetcare.page.cards.your_calendar import ADD_URL, NAME_FIELD, Address, NewAddress, new_address
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.who import reader_of, refuse_other_sites
from fleetcare.web.your_calendar import form_key, named, sender

NOT_YOURS = "That calendar is looked after by who keeps the vehicle, or the list. Ask them."


def routes(parts: Parts) -> APIRouter:
    """`/calendar/shared` and what lies below it."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, step: Callable[[Person, str, str, FormData], Response]) -> Response:
        refuse_other_sites(request)
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _allowed(parts, request, form, step))

    @router.get(SHARED_URL)
    def page(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, reader, form_key(request))

    @router.post(SHARED_URL)
    async def make(request: Request) -> Response:
        return await told(request, lambda person, owner, key, form: _make(parts, person, owner, key, form))

    @router.post(f"{SHARED_URL}/{{short}}/rename")
    async def rename(request: Request, short: str) -> Response:
        return await told(request, lambda person, owner, key, form: _rename(parts, person, owner, key, form, short))

    @router.post(f"{SHARED_URL}/{{short}}/replace")
    async def replace(request: Request, short: str) -> Response:
        return await told(request, lambda person, owner, key, form: _replace(parts, person, owner, key, short))

    @router.post(f"{SHARED_URL}/{{short}}/end")
    async def end(request: Request, short: str) -> Response:
        return await told(request, lambda person, owner, key, form: _end(parts, person, owner, short))

    return router


def owners_of(person: Person, garage: Garage, vehicles: tuple[Vehicle, ...]) -> tuple[str, ...]:
    """Whose calendars this person looks after: `garage` and `bay` for who keeps the list, and the vehicles kept."""
    if person.key == garage.list_keeper:
        return (GARAGE_OWNER, BAY, *(vehicle.mark for vehicle in vehicles))
    return tuple(vehicle.mark for vehicle in vehicles if vehicle.keeper == person.key)


def _allowed(
    parts: Parts, request: Request, form: FormData, step: Callable[[Person, str, str, FormData], Response]
) -> Response:
    person, key = sender(parts, request, form)
    with parts.store.read() as view:
        owners = owners_of(person, garage_of(view), view.vehicles())
    owner, typed = text_of(form, OWNER_FIELD), text_of(form, MARK_FIELD)
    if owners and typed.strip():
        # Typed by its mark, where there are too many vehicles to choose from.
        try:
            owner = _one_typed(typed, owners)
        except BadInput as trouble:
            return _wrong(parts, person, owner, key, form, trouble, field=MARK_FIELD)
    if owner not in owners:
        raise NotAllowed(NOT_YOURS)
    return step(person, owner, key, form)


def _one_typed(typed: str, owners: Sequence[str]) -> str:
    """The vehicle of that mark. Raises BadInput for none of these, and for several."""
    marks = marks_typed(typed, [owner for owner in owners if owner not in (GARAGE_OWNER, BAY)], field=MARK_FIELD)
    if len(marks) != 1:
        raise BadInput("An address is of one vehicle.", remedy="Write one mark.", field=MARK_FIELD)
    return marks[0]


def _mark(owner: str) -> str:
    """What the store calls the owner: a mark, the bay's word, or nothing for the garage."""
    return "" if owner == GARAGE_OWNER else owner


def _page(
    parts: Parts,
    reader: Person,
    key: str,
    *,
    new: NewAddress | None = None,
    tried: Tried | None = None,
    status: int = 200,
) -> HTMLResponse:
    now = parts.clock.now()
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
    owners = owners_of(reader, garage, vehicles)
    if not owners:
        raise NotAllowed(NOT_YOURS)
    addresses = shared_addresses(parts.store, now=now)
    card = shared_calendars_card(
        garage=garage,
        reader=reader,
        today=garage_day(garage, now),
        form_key=key,
        vehicles=vehicles,
        addresses={
            owner: [
                Address(a.short, a.name, a.made_at, a.expires_at, a.replaced_at, a.fetch)
                for a in addresses.get(_mark(owner), ())
            ]
            for owner in owners
        },
        can_enter=any(vehicle.meters and may_enter(reader, vehicle, garage) for vehicle in vehicles),
        new=new,
        tried=tried,
    )
    return HTMLResponse(parts.pages.shared_calendars(card), status_code=status)


def _shown_once(parts: Parts, person: Person, key: str, name: str, secret: str) -> Response:
    address = link_address(parts.base_url, Purpose.FEED, secret)
    return _page(parts, person, key, new=new_address(name, address, f"{parts.base_url}{ADD_URL}/{secret}"))


def _make(parts: Parts, person: Person, owner: str, key: str, form: FormData) -> Response:
    now, name = parts.clock.now(), text_of(form, NAME_FIELD)
    try:
        secret = make_key(
            parts.store,
            parts.keys,
            now=now,
            who=person.key,
            purpose=Purpose.FEED,
            mark=_mark(owner),
            name=named(name),
        )
    except (BadInput, Clash) as trouble:
        return _wrong(parts, person, owner, key, form, trouble)
    publish_feed(parts.store, parts.rules, mark=_mark(owner), now=now, base_url=parts.base_url)
    return _shown_once(parts, person, key, " ".join(name.split()), secret)


def _rename(parts: Parts, person: Person, owner: str, key: str, form: FormData, short: str) -> Response:
    try:
        rename_feed_key(
            parts.store,
            short,
            named(text_of(form, NAME_FIELD)),
            now=parts.clock.now(),
            who=person.key,
            mark=_mark(owner),
        )
    except (BadInput, Clash) as trouble:
        return _wrong(parts, person, owner, key, form, trouble)
    return _back(owner)


def _replace(parts: Parts, person: Person, owner: str, key: str, short: str) -> Response:
    now, mark = parts.clock.now(), _mark(owner)
    known = {each.short: each.name for each in feed_addresses(parts.store, now=now, mark=mark)}
    secret = rotate_feed_key(parts.store, parts.keys, short, now=now, who=person.key, mark=mark)
    return _shown_once(parts, person, key, known.get(short, short), secret)


def _end(parts: Parts, person: Person, owner: str, short: str) -> Response:
    revoke_feed_key(parts.store, short, now=parts.clock.now(), who=person.key, mark=_mark(owner))
    return _back(owner)


def _wrong(
    parts: Parts,
    person: Person,
    owner: str,
    key: str,
    form: FormData,
    trouble: BadInput | Clash,
    field: str = NAME_FIELD,
) -> HTMLResponse:
    tried = Tried(owner, field, trouble.words(), again(form, NAME_FIELD), mark=again(form, MARK_FIELD))
    return _page(parts, person, key, tried=tried, status=status_of(trouble))


def _back(owner: str) -> Response:
    return RedirectResponse(f"{SHARED_URL}#of-{owner}", status_code=303)
