"""Pages for people who came in, or for everybody while it is open house: the road ahead, the vehicles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from fleetcare.actions.gather import facts_of, garage_day, garage_of, outlooks_from, rules_in_force
from fleetcare.actions.lay_up import may_lay_up
from fleetcare.actions.look_ahead import Ahead, look_at_once, window_changes
from fleetcare.actions.look_back import LookedBack, look_back
from fleetcare.assemble import Parts
from fleetcare.due.change_words import WindowChange
from fleetcare.due.dial_course import DialCourse, dial_course
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.entering import may_add
from fleetcare.fleet.naming import answers_for, may_enter, vehicle_called
from fleetcare.fleet.people import Garage, Person
from fleetcare.language.measure import told_in
from fleetcare.meter.reading import Reading
from fleetcare.page.cards.choose import ChooseCard, choose_card, is_called
from fleetcare.page.cards.frame import Frame
from fleetcare.page.cards.fresh import fresh_words, so_far_words
from fleetcare.page.cards.laid_up import Tried
from fleetcare.page.cards.road import RoadCard, road_card
from fleetcare.page.cards.trust import trust_card
from fleetcare.page.cards.vehicle import vehicle_card
from fleetcare.page.cards.vehicles import VehiclesCard, vehicles_card
from fleetcare.page.cards.whose import whose_vehicles
from fleetcare.page.drawings.fan import WIDE_FAN
from fleetcare.quantities import DistanceUnit
from fleetcare.web.form_seal import seal_of
from fleetcare.web.letter_notes import notes_on_calendars, notes_on_letters
from fleetcare.web.reading_form import count_of
from fleetcare.web.who import reader_of
from fleetcare.work.record import WorkDone

LONGEST_FIND = 60
PAST_DAYS = 400
"""The page looks back from so many past days, so that it comes in about a second however large the garage is."""


@dataclass(frozen=True, slots=True)
class One:
    """One vehicle with its past, as of one moment of the store."""

    garage: Garage
    people: tuple[Person, ...]
    outlook: VehicleOutlook
    readings: tuple[Reading, ...]
    work: tuple[WorkDone, ...]
    changes: Mapping[LineKey, tuple[WindowChange, ...]]
    course: DialCourse | None
    visits: tuple[BayVisit, ...]
    bookings: tuple[Booking, ...]


def routes(parts: Parts) -> APIRouter:
    """`/`, `/vehicles`, `/vehicles/{mark}`, `/trust` and `/readings`."""
    router = APIRouter(include_in_schema=False)
    looked_back: LookedBack | None = None

    @router.get("/")
    def road(request: Request, unit: str = "", start: str = "", of: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        ahead = look_at_once(parts.store, parts.rules, now=parts.clock.now(), kept=parts.kept_outlooks)
        outlooks = [each for each in ahead.outlooks if not each.vehicle.is_gone(ahead.today)]
        names = {person.key: person.first_name for person in ahead.people}
        whose = whose_vehicles(
            of[:LONGEST_FIND],
            outlooks,
            garage=ahead.garage,
            reader=reader,
            names=names,
            whole_names={person.key: person.name for person in ahead.people},
        )
        card = road_card(
            garage=ahead.garage,
            reader=reader,
            outlooks=outlooks if whose is None else [each for each in outlooks if whose.shows(each)],
            work=ahead.work,
            today=ahead.today,
            unit=_unit(unit, reader, ahead),
            mail_folder_note=parts.mail_note,
            can_enter=reader is not None and bool(_may_enter(reader, ahead)),
            start=count_of(start),
            names=names,
            visits=ahead.visits,
            bookings=ahead.bookings,
            may_add=reader is not None and may_add(reader, ahead.garage),
            whose=whose,
            letter_notes=(
                *notes_on_letters(parts, reader, ahead.garage, ahead.people),
                *notes_on_calendars(parts, reader, ahead.garage),
            ),
        )
        fresh = fresh_words(ahead.garage, ahead.outlooks, parts.clock.now())
        return HTMLResponse(parts.pages.road(replace(card, frame=replace(_frame(card, ahead), fresh=fresh))))

    @router.get("/vehicles")
    def vehicles(request: Request, find: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        ahead = look_at_once(
            parts.store,
            parts.rules,
            now=parts.clock.now(),
            kept=parts.kept_outlooks,
            first=(lambda vehicle, _: is_called(vehicle, find)) if find.strip() else None,
        )
        card = vehicles_card(
            garage=ahead.garage,
            reader=reader,
            outlooks=ahead.outlooks,
            today=ahead.today,
            can_enter=reader is not None and bool(_may_enter(reader, ahead)),
            find=find[:LONGEST_FIND],
            start=count_of(start),
            may_add=reader is not None and may_add(reader, ahead.garage),
        )
        return HTMLResponse(parts.pages.vehicles(replace(card, frame=_frame(card, ahead))))

    @router.get("/vehicles/{mark}")
    def vehicle(request: Request, mark: str, start: str = "", readings: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        return vehicle_page(
            parts, reader, mark, start=count_of(start), readings_start=count_of(readings), seal=seal_of(request)
        )

    @router.get("/trust")
    def trust(request: Request) -> Response:
        nonlocal looked_back
        reader = reader_of(request, parts)
        if reader is None and not parts.settings.web.open_house:
            return RedirectResponse("/sign-in", status_code=303)
        back = looked_back = look_back(
            parts.store, parts.rules, now=parts.clock.now(), at_most=PAST_DAYS, kept=looked_back
        )
        card = trust_card(
            garage=back.garage,
            reader=reader,
            found=back.found,
            vehicles=back.vehicles,
            can_enter=reader is not None and any(v.meters and may_enter(reader, v, back.garage) for v in back.vehicles),
        )
        return HTMLResponse(parts.pages.trust(card))

    @router.get("/readings")
    def choose(request: Request, find: str = "", start: str = "") -> Response:
        reader = reader_of(request, parts)
        if reader is None:
            return RedirectResponse("/sign-in", status_code=303)
        ahead = look_at_once(
            parts.store,
            parts.rules,
            now=parts.clock.now(),
            kept=parts.kept_outlooks,
            first=lambda vehicle, garage: may_enter(reader, vehicle, garage) and is_called(vehicle, find),
        )
        card = choose_card(
            garage=ahead.garage,
            reader=reader,
            outlooks=[
                outlook
                for outlook in ahead.outlooks
                if may_enter(reader, outlook.vehicle, ahead.garage) and not outlook.vehicle.is_gone(ahead.today)
            ],
            today=ahead.today,
            find=find[:LONGEST_FIND],
            start=count_of(start),
            may_stick=any(answers_for(reader, outlook.vehicle, ahead.garage) for outlook in ahead.outlooks),
        )
        return HTMLResponse(parts.pages.choose(replace(card, frame=_frame(card, ahead))))

    return router


def vehicle_page(
    parts: Parts,
    reader: Person | None,
    mark: str,
    *,
    start: int = 0,
    readings_start: int = 0,
    tried: Tried | None = None,
    seal: str = "",
) -> HTMLResponse:
    """The page about one vehicle. tried: an answer that could not be taken, then the page says why. Raises NotFound.

    seal: what its forms carry.
    """
    one = _one(parts, mark)
    vehicle = one.outlook.vehicle
    card = vehicle_card(
        garage=one.garage,
        reader=reader,
        outlook=one.outlook,
        readings=one.readings,
        work=one.work,
        duties=parts.rules.duties,
        can_enter=reader is not None
        and may_enter(reader, vehicle, one.garage)
        and not vehicle.is_gone(one.outlook.today),
        names={person.key: person.first_name for person in one.people},
        start=start,
        readings_start=readings_start,
        changes=one.changes,
        may_lay_up=reader is not None and may_lay_up(reader, vehicle, one.garage),
        tried=tried,
        seal=seal,
        course=one.course,
        visits=one.visits,
        bookings=one.bookings,
    )
    fresh = fresh_words(one.garage, (one.outlook,), parts.clock.now())
    card = replace(card, frame=replace(card.frame, fresh=fresh))
    return HTMLResponse(parts.pages.vehicle(card), status_code=422 if tried else 200)


def _one(parts: Parts, mark: str) -> One:
    """The vehicle with that mark, in small or capital letters, or with that name. Raises NotFound."""
    with parts.store.read() as view:
        garage = garage_of(view)
        # Nearly always the mark as it stands in links; only otherwise is the whole list looked through.
        facts = facts_of(view, (mark,)) or facts_of(view, (vehicle_called(view.vehicles(), mark).mark,))
        wanted = (facts[0].vehicle.mark,)
        now = parts.clock.now()
        today = garage_day(garage, now)
        rules = rules_in_force(view, parts.rules)
        outlook = outlooks_from(facts, rules, today)[0]
        since, until = WIDE_FAN.days(today)
        return One(
            garage=garage,
            people=view.people(),
            outlook=outlook,
            readings=facts[0].readings,
            work=facts[0].work,
            changes={line.key: window_changes(view, line.key) for line in outlook.lines},
            course=dial_course(facts[0], rules.priors, today=today, since=since, until=until),
            visits=tuple(visit for visit in view.bay_visits(wanted) if visit.takes_place and visit.free_at > now),
            bookings=facts[0].bookings,
        )


def _frame(card: RoadCard | VehiclesCard | ChooseCard, ahead: Ahead) -> Frame:
    """The frame of a page of the whole garage, with what is said while some of it is still being worked out."""
    return replace(card.frame, so_far=so_far_words(len(ahead.outlooks), ahead.missing))


def _may_enter(reader: Person, ahead: Ahead) -> list[str]:
    return [o.vehicle.mark for o in ahead.outlooks if o.vehicle.meters and may_enter(reader, o.vehicle, ahead.garage)]


def _unit(asked: str, reader: Person | None, ahead: Ahead) -> DistanceUnit:
    if asked in (DistanceUnit.KM.value, DistanceUnit.MI.value):
        return DistanceUnit(asked)
    return reader.unit if reader is not None else told_in(ahead.garage.unit)
