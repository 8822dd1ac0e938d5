"""Your calendar: addresses made, named, replaced and ended, and what the calendar holds, by forms without scripts."""

from __future__ import annotations

import hmac
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from typing import TypeVar
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.datastructures import FormData

from fleetcare.actions.gather import garage_day, garage_of
from fleetcare.actions.links import (
    LINK_OVER,
    choose_feed,
    feed_addresses,
    feed_choice,
    make_key,
    open_key,
    publish_feed,
    rename_feed_key,
    revoke_feed_key,
    rotate_feed_key,
)
from fleetcare.assemble import Parts
from fleetcare.calendar_feed.reading_back import entries_ahead
from fleetcare.errors import BadInput, Clash, NotAllowed, StoreTrouble, shown
from fleetcare.fleet.access import Purpose, link_address
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.fleet.naming import marks_seen_by, may_enter
from fleetcare.fleet.people import Person
from fleetcare.language import saying
from fleetcare.page.cards.calendar_choice import (
    ALARM_FIELD,
    CHOICE_ANCHOR,
    DATE_FIELD,
    KIND_FIELD,
    OTHERS_FIELD,
    VEHICLE_FIELD,
    Tried,
)
from fleetcare.page.cards.frame import CALENDAR_URL, COME_IN_URL
from fleetcare.page.cards.your_calendar import (
    ADD_URL,
    ADDRESSES_ANCHOR,
    ADDRESSES_URL,
    CHOICE_URL,
    FORM_FIELD,
    NAME_FIELD,
    Address,
    NewAddress,
    add_card,
    new_address,
    your_calendar_card,
)
from fleetcare.web.form_seal import seal_of
from fleetcare.web.messages import here
from fleetcare.web.reading_form import again, text_of
from fleetcare.web.safety import status_of
from fleetcare.web.typed_marks import marks_typed
from fleetcare.web.who import reader_of, refuse_other_sites

ENTRIES_SHOWN = 12
NOT_IN = "A calendar is changed by whose it is. Come in, then send it again."
NOT_FROM_HERE = "That form did not come from your calendar’s page, or you came in anew since. Open the page again."
_FIELDS = {"topics": KIND_FIELD, "dates": DATE_FIELD, "alarms": ALARM_FIELD}
"""What a choice calls its parts, and the fields of the form they are in."""

T = TypeVar("T")


def routes(parts: Parts) -> APIRouter:
    """`/calendar` and what lies below it."""
    router = APIRouter(include_in_schema=False)

    async def told(request: Request, step: Callable[[Person, str, FormData], Response]) -> Response:
        refuse_other_sites(request)
        async with request.form() as form:
            # The store is waited for beside the loop that answers everybody else.
            return await run_in_threadpool(lambda: step(*sender(parts, request, form), form))

    @router.get(CALENDAR_URL)
    def page(request: Request) -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse(COME_IN_URL, status_code=303)
        return _page(parts, reader, form_key(request))

    @router.get(f"{ADD_URL}/{{key}}")
    def add(key: str) -> Response:
        # The key in the address opens it: the device the code is read with need not have come in.
        opened = open_key(parts.store, key, Purpose.FEED, now=parts.clock.now())
        if opened.key.replaced_at is not None:
            raise NotAllowed(LINK_OVER)
        garage, today = here(parts)
        address = link_address(parts.base_url, Purpose.FEED, key)
        return HTMLResponse(
            parts.pages.add_calendar(add_card(garage=garage, today=today, name=opened.key.name, address=address))
        )

    @router.post(ADDRESSES_URL)
    async def make(request: Request) -> Response:
        return await told(request, lambda person, key, form: _make(parts, person, key, form))

    @router.post(f"{ADDRESSES_URL}/{{short}}/rename")
    async def rename(request: Request, short: str) -> Response:
        return await told(request, lambda person, key, form: _rename(parts, person, key, form, short))

    @router.post(f"{ADDRESSES_URL}/{{short}}/replace")
    async def replace(request: Request, short: str) -> Response:
        return await told(request, lambda person, key, form: _replace(parts, person, key, short))

    @router.post(f"{ADDRESSES_URL}/{{short}}/end")
    async def end(request: Request, short: str) -> Response:
        return await told(request, lambda person, key, form: _end(parts, person, short))

    @router.post(CHOICE_URL)
    async def choose(request: Request) -> Response:
        return await told(request, lambda person, key, form: _choose(parts, person, key, form))

    return router


def form_key(request: Request) -> str:
    """What every form of this page carries: made of the session, which no other site knows, and telling nothing of it.

    Raises nothing; a request without a session has a key that no page shows.
    """
    return seal_of(request)


def sender(parts: Parts, request: Request, form: FormData) -> tuple[Person, str]:
    """Who sends a form, and the form key of that session. Raises NotAllowed."""
    person = reader_of(request, parts)
    if person is None:
        raise NotAllowed(NOT_IN)
    key = form_key(request)
    if not hmac.compare_digest(text_of(form, FORM_FIELD).encode("utf-8", "surrogatepass"), key.encode()):
        raise NotAllowed(NOT_FROM_HERE)
    return person, key


def _page(
    parts: Parts,
    reader: Person,
    form_key: str,
    *,
    new: NewAddress | None = None,
    tried: Tried | None = None,
    status: int = 200,
) -> HTMLResponse:
    """The page as it stands. new: shown once. tried: a form that could not be taken, then the page says why."""
    now = parts.clock.now()
    with suppress(StoreTrouble):
        # If it cannot be, the page shows what was published last.
        parts.bring_feeds_up()
    addresses = feed_addresses(parts.store, now=now, person=reader.key)
    with parts.store.read() as view:
        garage, vehicles = garage_of(view), view.vehicles()
        body = view.feed(reader.key)
    today = garage_day(garage, now)
    if body is not None and any(each.replaced_at is None for each in addresses):
        served = body.body
    else:
        # A calendar that nothing fetches is not kept up to date.
        served = publish_feed(parts.store, parts.rules, reader.key, now=now, base_url=parts.base_url)
    ahead, in_all = entries_ahead(served, today, ENTRIES_SHOWN, ZoneInfo(garage.zone))
    seen = set(marks_seen_by(reader, garage, vehicles))
    card = your_calendar_card(
        garage=garage,
        reader=reader,
        today=today,
        form_key=form_key,
        addresses=[Address(a.short, a.name, a.made_at, a.expires_at, a.replaced_at, a.fetch) for a in addresses],
        choice=feed_choice(parts.store, reader.key),
        vehicles=[vehicle for vehicle in vehicles if vehicle.mark in seen],
        alarms=parts.rules.feeds.alarms,
        ahead=ahead,
        ahead_in_all=in_all,
        can_enter=any(vehicle.meters and may_enter(reader, vehicle, garage) for vehicle in vehicles),
        new=new,
        tried=tried,
    )
    return HTMLResponse(parts.pages.your_calendar(card), status_code=status)


def _shown_once(parts: Parts, person: Person, form_key: str, name: str, key: str) -> Response:
    address = link_address(parts.base_url, Purpose.FEED, key)
    return _page(parts, person, form_key, new=new_address(name, address, f"{parts.base_url}{ADD_URL}/{key}"))


def _make(parts: Parts, person: Person, form_key: str, form: FormData) -> Response:
    now, name = parts.clock.now(), text_of(form, NAME_FIELD)
    try:
        # The name is asked for: sent twice, the second is a name that is taken, and no second address comes about.
        key = make_key(
            parts.store,
            parts.keys,
            now=now,
            who=person.key,
            purpose=Purpose.FEED,
            person=person.key,
            name=named(name),
        )
    except (BadInput, Clash) as trouble:
        tried = Tried("", NAME_FIELD, trouble.words(), again(form, NAME_FIELD))
        return _page(parts, person, form_key, tried=tried, status=status_of(trouble))
    publish_feed(parts.store, parts.rules, person.key, now=now, base_url=parts.base_url)
    return _shown_once(parts, person, form_key, " ".join(name.split()), key)


def _rename(parts: Parts, person: Person, form_key: str, form: FormData, short: str) -> Response:
    try:
        rename_feed_key(
            parts.store,
            short,
            named(text_of(form, NAME_FIELD)),
            now=parts.clock.now(),
            who=person.key,
            person=person.key,
        )
    except (BadInput, Clash) as trouble:
        tried = Tried(short, NAME_FIELD, trouble.words(), again(form, NAME_FIELD))
        return _page(parts, person, form_key, tried=tried, status=status_of(trouble))
    return RedirectResponse(f"{CALENDAR_URL}{ADDRESSES_ANCHOR}", status_code=303)


def _replace(parts: Parts, person: Person, form_key: str, short: str) -> Response:
    now = parts.clock.now()
    named = {each.short: each.name for each in feed_addresses(parts.store, now=now, person=person.key)}
    key = rotate_feed_key(parts.store, parts.keys, short, now=now, who=person.key, person=person.key)
    return _shown_once(parts, person, form_key, named.get(short, short), key)


def _end(parts: Parts, person: Person, short: str) -> Response:
    revoke_feed_key(parts.store, short, now=parts.clock.now(), who=person.key, person=person.key)
    return RedirectResponse(f"{CALENDAR_URL}{ADDRESSES_ANCHOR}", status_code=303)


def _choose(parts: Parts, person: Person, form_key: str, form: FormData) -> Response:
    now = parts.clock.now()
    before = feed_choice(parts.store, person.key)
    alarms: dict[str, FeedAlarm] = {alarm.name: alarm for alarm in (*before.alarms, *parts.rules.feeds.alarms)}
    with parts.store.read() as view:
        seen = marks_seen_by(person, garage_of(view), view.vehicles())
    try:
        choice = FeedChoice(
            topics=_picked(form, KIND_FIELD, {topic.value: topic for topic in Topic}),
            dates=_picked(form, DATE_FIELD, {each.value: each for each in WindowDate}),
            marks=_marks(form, seen),
            alarms=_picked(form, ALARM_FIELD, alarms),
        )
    except BadInput as trouble:
        field = _FIELDS.get(trouble.field, trouble.field)
        boxes = (KIND_FIELD, DATE_FIELD, ALARM_FIELD, VEHICLE_FIELD, OTHERS_FIELD)
        ticked = tuple((each, value) for each in boxes for value in form.getlist(each) if isinstance(value, str))
        tried = Tried(CHOICE_ANCHOR, field, trouble.words(), ticked=ticked)
        return _page(parts, person, form_key, tried=tried, status=status_of(trouble))
    choose_feed(parts.store, parts.rules, person.key, choice, now=now, who=person.key, base_url=parts.base_url)
    return RedirectResponse(f"{CALENDAR_URL}{CHOICE_ANCHOR}", status_code=303)


def _marks(form: FormData, seen: Collection[str]) -> tuple[str, ...]:
    """The vehicles ticked and typed, in their order. Raises BadInput."""
    ticked = _picked(form, VEHICLE_FIELD, {mark: mark for mark in seen})
    wanted = {*ticked, *marks_typed(text_of(form, OTHERS_FIELD), seen, field=VEHICLE_FIELD)}
    return tuple(mark for mark in seen if mark in wanted)


def named(name: str) -> str:
    """The name of an address as typed. Raises BadInput if there is none."""
    if not name:
        raise BadInput("Give the address a name, such as phone or laptop.", field=NAME_FIELD)
    return name


def _picked(form: FormData, field: str, known: Mapping[str, T]) -> tuple[T, ...]:
    """What was ticked, in the order it is known in. Raises BadInput for what is not there to be ticked."""
    ticked = [value for value in form.getlist(field) if isinstance(value, str)]
    for word in ticked:
        if word not in known:
            raise BadInput(
                saying("There is no {field} called {word}.", field=field, word=shown(word, 40)),
                remedy="Tick what is there.",
                field=field,
            )
    return tuple(thing for word, thing in known.items() if word in ticked)
