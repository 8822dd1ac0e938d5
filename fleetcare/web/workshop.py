"""The workshop over HTTP: what bay days are planned by, and the forms by which the garage changes it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.change_book import may_change_book
from fleetcare.actions.change_workshop import WORKSHOP, change_workshop
from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.assemble import Parts
from fleetcare.bayplan.workshop import WorkshopPrices
from fleetcare.errors import BadInput, Clash, NotAllowed, NotFound
from fleetcare.fleet.naming import may_enter
from fleetcare.fleet.people import Garage, Person, Role
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.page.cards.asking import AskCard
from fleetcare.page.cards.changed import Changed
from fleetcare.page.cards.frame import COME_IN_URL, WORKSHOP_URL
from fleetcare.page.cards.typed import Typed
from fleetcare.page.cards.workshop import Shop, workshop_card, workshop_changed
from fleetcare.page.cards.workshop_forms import (
    CLOSED,
    HOURS,
    ORDERS,
    PRICES,
    SHOWN_FIELD,
    SKILLS,
    Around,
    closed_form,
    hours_form,
    orders_form,
    prices_form,
    skills_form,
)
from fleetcare.page.cards.workshop_words import PROFILES
from fleetcare.settings.own_workshop import (
    own_tables,
    own_text,
    own_workshop_path,
    put_in_place,
    state_of,
    with_tables,
    workshop_with,
)
from fleetcare.settings.workshop_file import Workshop
from fleetcare.web.changed import back_to, entries_at
from fleetcare.web.form_seal import seal_of, sender_of
from fleetcare.web.reading_form import text_of
from fleetcare.web.safety import status_of
from fleetcare.web.who import reader_of
from fleetcare.web.workshop_form import (
    Sent,
    closed_sent,
    hours_sent,
    off_fields,
    orders_sent,
    prices_sent,
    skills_sent,
)

NOT_YOURS = "The workshop is changed by who keeps the list here. Come in, then send it again."
MOST_ASKED = 60
"""People whose skills one form asks for; a garage with more mechanics says it of the others in its file."""
_AHEAD_DAYS = 400
_LONGEST_AGAIN = 2000


@dataclass(frozen=True, slots=True)
class _Ground:
    """What the pages stand on: the garage, and its workshop as it is in force. own: its own tables."""

    garage: Garage
    today: date
    people: tuple[Person, ...]
    vehicles: tuple[Vehicle, ...]
    text: str
    own: Mapping[str, object]
    there: Workshop
    usual: Mapping[str, WorkshopPrices]

    @property
    def shipped(self) -> Workshop:
        """The workshop without the garage's own values."""
        return workshop_with("")


Form = Callable[[Parts, _Ground, Person, Typed], AskCard]
Reading = Callable[[Parts, _Ground, Typed], Sent]


def routes(parts: Parts) -> APIRouter:
    """`/workshop` and `/workshop/{what}`."""
    router = APIRouter(include_in_schema=False)

    @router.get(WORKSHOP_URL)
    def page(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        ground = _ground(parts)
        card = workshop_card(
            _shop(parts, ground),
            garage=ground.garage,
            reader=reader,
            today=ground.today,
            can_enter=any(v.meters and may_enter(reader, v, ground.garage) for v in ground.vehicles),
            may_change=may_change_book(reader, ground.garage),
            done=_done(parts, request, reader),
        )
        return HTMLResponse(parts.pages.workshop(card))

    @router.get(f"{WORKSHOP_URL}/{{what}}")
    def form(request: Request, what: str) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        ground = _ground(parts)
        if not may_change_book(reader, ground.garage):
            raise NotAllowed(NOT_YOURS)
        return HTMLResponse(parts.pages.ask(_form_of(what)(parts, ground, reader, Typed()), seal_of(request)))

    @router.post(f"{WORKSHOP_URL}/{{what}}")
    async def changed(request: Request, what: str) -> Response:
        async with request.form() as sent:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: _changed(parts, request, what, sent))

    return router


def _changed(parts: Parts, request: Request, what: str, form: FormData) -> Response:
    person = sender_of(parts, request, form, not_in=NOT_YOURS)
    ground = _ground(parts)
    if not may_change_book(person, ground.garage):
        raise NotAllowed(NOT_YOURS)
    show, read = _form_of(what), _READ[what]
    pairs = tuple((name, str(value)[:_LONGEST_AGAIN]) for name, value in form.multi_items() if isinstance(value, str))
    shown, now = text_of(form, SHOWN_FIELD), parts.clock.now()
    try:
        if shown != state_of(ground.text):
            raise Clash("Somebody changed the workshop meanwhile. Here it is as it is now.")
        sent = read(parts, ground, Typed(pairs))
        made = with_tables(ground.text, sent.tables) if sent.tables else ground.text
        workshop_with(made)  # nothing is put in place that could not be read again
        own = own_workshop_path(parts.home)
        change_workshop(
            parts.store,
            sent.changes,
            now=now,
            who=person.key,
            put_in_place=lambda: put_in_place(own, made, shown=shown),
        )
    except (BadInput, Clash, NotFound) as trouble:
        field = trouble.field if isinstance(trouble, BadInput) else ""
        again = _ground(parts)
        typed = Typed(() if isinstance(trouble, Clash) else pairs, trouble.words(), field)
        card = show(parts, again, person, typed)
        return HTMLResponse(parts.pages.ask(card, seal_of(request)), status_code=status_of(trouble))
    return back_to(WORKSHOP_URL, now, f"#{what}" if not sent.changes else "")


def _ground(parts: Parts) -> _Ground:
    with parts.store.read() as view:
        garage, people, vehicles = garage_of(view), view.people(), view.vehicles()
    text = own_text(own_workshop_path(parts.home))
    usual = {key: workshop_with(f'profile = "{key}"\n').prices for key in PROFILES}
    today = garage_day(garage, parts.clock.now())
    return _Ground(garage, today, people, vehicles, text, own_tables(text), workshop_with(text), usual)


def _shop(parts: Parts, ground: _Ground) -> Shop:
    there = ground.there
    return Shop(
        prices=there.prices,
        figures=there.figures,
        hours=there.hours,
        skills=there.skills,
        profile=there.profile,
        country=there.days_off.country,
        region=there.days_off.region,
        default=ground.usual[there.profile],
        own=set(ground.own),
        off=there.days_off.between(ground.today, ground.today + timedelta(days=_AHEAD_DAYS)),
        known_skills=sorted({skill for job in parts.jobs.jobs.values() for skill in job.skills}),
        names={person.key: person.name for person in ground.people},
    )


def _done(parts: Parts, request: Request, reader: Person) -> Changed | None:
    entries = [each for each in entries_at(parts, request, reader) if each.subject == WORKSHOP]
    return workshop_changed(entries, looks_again=parts.settings.plan.again)


def _asked(ground: _Ground) -> tuple[Person, ...]:
    """Whose skills are asked for: mechanics, and those of whom something is said."""
    here = [p for p in ground.people if Role.MECHANIC in p.roles or p.key in ground.there.skills]
    return tuple(sorted(here, key=lambda person: (person.key not in ground.there.skills, person.name)))[:MOST_ASKED]


def _around(ground: _Ground, reader: Person) -> Around:
    return Around(ground.garage, reader, ground.today, state_of(ground.text))


def _shorts(parts: Parts, ground: _Ground) -> tuple[str, ...]:
    carried = {line.service for vehicle in ground.vehicles for part in vehicle.components for line in part.lines}
    return tuple(sorted({row.short for key, row in parts.rules.book.rows.items() if key in carried}))


_SHOW: Mapping[str, Form] = {
    HOURS: lambda parts, ground, reader, typed: hours_form(_shop(parts, ground), _around(ground, reader), typed),
    CLOSED: lambda parts, ground, reader, typed: closed_form(
        _shop(parts, ground), _around(ground, reader), off_fields(ground.there.days_off), typed
    ),
    SKILLS: lambda parts, ground, reader, typed: skills_form(
        _shop(parts, ground), _around(ground, reader), _asked(ground), typed
    ),
    PRICES: lambda parts, ground, reader, typed: prices_form(_shop(parts, ground), _around(ground, reader), typed),
    ORDERS: lambda parts, ground, reader, typed: orders_form(
        ground.there.prices.orders, _around(ground, reader), _shorts(parts, ground), typed
    ),
}
_READ: Mapping[str, Reading] = {
    HOURS: lambda parts, ground, typed: hours_sent(typed, ground.there, ground.shipped, ground.people),
    CLOSED: lambda parts, ground, typed: closed_sent(typed, ground.there),
    SKILLS: lambda parts, ground, typed: skills_sent(typed, ground.there, _asked(ground)),
    PRICES: lambda parts, ground, typed: prices_sent(typed, ground.there, ground.usual, ground.own),
    ORDERS: lambda parts, ground, typed: orders_sent(
        typed, ground.there, {row.short for row in parts.rules.book.rows.values()}
    ),
}


def _form_of(what: str) -> Form:
    if what not in _SHOW:
        raise NotFound("part of the workshop", what, _SHOW)
    return _SHOW[what]
