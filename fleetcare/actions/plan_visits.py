"""A visit to the bay is pencilled, inked, moved or rubbed out by a person."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, rules_in_force, vehicle_in
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.actions.sheet_visits import course_of_lines, follow_visit
from fleetcare.bayplan.plan_changes import LOG_SUBJECT, LastPlan, logged_change, told_from
from fleetcare.bayplan.visit_notices import visit_in_words, visit_notices
from fleetcare.book.jobs import JobBook
from fleetcare.digest.schedule import visit_period
from fleetcare.digest.values import LetterKind
from fleetcare.due.first_window import FirstWindow, first_window
from fleetcare.due.naming import line_called
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import BadInput, Clash, NotFound, Overtaken
from fleetcare.fleet.bay_visit import (
    BayVisit,
    Stretch,
    StretchKind,
    VisitState,
    laid_end_to_end,
    moved_to,
    next_number,
    stand_of_visit,
)
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying, tr, tr_book
from fleetcare.wording import joined
from fleetcare.work.order import sheets_by_visit
from fleetcare.work.visit_stretches import stretches_of

MOST_CHANGES = 200
"""So many changes of the last plan are told."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A visit as somebody asks for it: when its first hand is, in the garage's own time, and what follows on what.

    parts: empty for what the garage's jobs take.
    """

    vehicle: str
    services: tuple[str, ...]
    on: date
    at: time
    parts: tuple[tuple[StretchKind, timedelta], ...]
    mechanic: str = ""
    reason: str = ""
    inked: bool = True


@dataclass(frozen=True, slots=True)
class Planned:
    """How a visit stands now, and how it stood before, None for a new one. notices: what is worth knowing about it, a
    sentence each; nothing stops at them."""

    vehicle: Vehicle
    visit: BayVisit
    before: BayVisit | None
    zone: ZoneInfo
    notices: tuple[str, ...]
    settled: Settled


@dataclass(frozen=True, slots=True)
class VisitsAhead:
    """Every visit that takes place and is not over, by begin, with what is needed to name it."""

    today: date
    zone: ZoneInfo
    visits: tuple[BayVisit, ...]
    outlooks: dict[str, VehicleOutlook]
    people: dict[str, str]
    notices: dict[tuple[str, int], tuple[str, ...]]
    """What is worth knowing about a visit, by mark and number."""
    sheets: dict[tuple[str, int], int]
    """The job sheet that was made from a visit, by mark and number."""
    last_plan: LastPlan | None = None
    first_window: FirstWindow | None = None
    """What comes first, if nothing is planned; None if something is, or no service has a date."""


def plan_visit(
    store: Store, rules: Rules, wanted: Wanted, *, jobs: JobBook, who: str, now: datetime, base_url: str
) -> Planned:
    """Writes a new visit into the plan. jobs: what services take, for a visit that does not say how long it is.

    Raises NotFound (vehicle, service, mechanic), BadInput (a time that is on no clock, a chain that cannot be, no
    length and a service without a job), and Clash (the vehicle is in the bay then).
    """
    state = VisitState.INKED if wanted.inked else VisitState.PENCILLED
    with store.write(Change(who, f"a visit to the bay {state.value}", now)) as unit:
        zone = ZoneInfo(garage_of(unit).zone)
        vehicle = vehicle_in(unit, wanted.vehicle)
        outlook = _outlook(unit, rules, vehicle, now)
        lines = tuple(dict.fromkeys(line_called(outlook, service).key for service in wanted.services))
        visits = unit.bay_visits()
        first = _instant(wanted.on, wanted.at, zone)
        visit = BayVisit(
            mark=vehicle.mark,
            number=next_number(visits, vehicle.mark),
            lines=lines,
            stretches=laid_end_to_end(first, wanted.parts) if wanted.parts else _by_jobs(outlook, lines, jobs, first),
            state=state,
            mechanic=person_called(unit.people(), wanted.mechanic).key if wanted.mechanic else "",
            reason=wanted.reason,
        )
        return _stored(unit, rules, vehicle, None, visit, now=now, base_url=base_url)


def set_visit(
    store: Store,
    rules: Rules,
    *,
    vehicle: str,
    number: int,
    state: VisitState,
    who: str,
    now: datetime,
    base_url: str,
    stand: str = "",
) -> Planned:
    """Inks a visit, pencils it, or rubs it out; said twice it counts once.

    stand: what `stand_of_visit` said of the visit that whoever says so was shown; empty where nobody was. Raises
    NotFound, Overtaken if it has become another one since, and Clash if what comes back meets another visit.
    """
    with store.write(Change(who, f"a visit to the bay {state.value}", now)) as unit:
        zone = ZoneInfo(garage_of(unit).zone)
        found = vehicle_in(unit, vehicle)
        before = _visit(unit, found, number)
        after = replace(before, state=state)
        if after != before:
            _refuse_older(stand, before, found, zone)
        return _stored(unit, rules, found, before, after, now=now, base_url=base_url)


def move_visit(
    store: Store,
    rules: Rules,
    *,
    vehicle: str,
    number: int,
    on: date,
    at: time,
    who: str,
    now: datetime,
    base_url: str,
    stand: str = "",
) -> Planned:
    """The same visit at another time; every wait keeps its length. stand: as for `set_visit`. Raises NotFound,
    BadInput, Overtaken, Clash."""
    with store.write(Change(who, "a visit to the bay moved", now)) as unit:
        zone = ZoneInfo(garage_of(unit).zone)
        found = vehicle_in(unit, vehicle)
        before = _visit(unit, found, number)
        after = replace(before, stretches=moved_to(before.stretches, _instant(on, at, zone)))
        if after != before:
            _refuse_older(stand, before, found, zone)
        if not before.takes_place:
            raise BadInput("That visit was rubbed out.", remedy="Plan a new one.", field="number")
        after = replace(after, moved_from=_counted_on(unit, before, after, zone, now))
        return _stored(unit, rules, found, before, after, now=now, base_url=base_url)


def _counted_on(unit: ReadView, before: BayVisit, after: BayVisit, zone: ZoneInfo, now: datetime) -> date | None:
    """The day people count on when a visit moves; None if they count on none, or on the one it comes to.

    Moved again before word of the first move went out, that is still the day of before it; so nobody hears of a day
    that a visit was on for a moment.
    """
    was_on, is_on = (each.begins_at.astimezone(zone).date() for each in (before, after))
    if was_on == is_on:
        return before.moved_from
    day = told_from(before, after, today=garage_day(garage_of(unit), now), zone=zone)
    if before.moved_from is not None:
        places = unit.letter_places(kinds=(LetterKind.BAY_DAY, LetterKind.BAY_DAY_MOVED))
        if visit_period(before, zone) not in {each.period for each in places}:
            day = before.moved_from
    return None if day == is_on else day


def visits_ahead(store: Store, rules: Rules, *, now: datetime, kept: KeptOutlooks | None = None) -> VisitsAhead:
    """What is planned from now on. Raises BadInput if there is no garage yet.

    kept: what this process has worked out before; only what has changed since is worked out then.
    """
    with store.read() as view:
        garage = garage_of(view)
        visits = [visit for visit in view.bay_visits() if visit.takes_place and visit.free_at > now]
        marks = sorted({visit.mark for visit in visits})
        today = garage_day(garage, now)
        # With nothing planned the page says what comes first, and that is asked of every vehicle.
        found = (kept or KeptOutlooks()).look(view, rules, today, marks if visits else None)
        by_mark = {each.outlook.vehicle.mark: each.outlook for each in found}
        return VisitsAhead(
            today=today,
            zone=ZoneInfo(garage.zone),
            visits=tuple(sorted(visits, key=lambda visit: (visit.begins_at, visit.key))),
            outlooks=by_mark,
            people={person.key: person.name for person in view.people()},
            sheets=sheets_by_visit(view.orders(marks)) if marks else {},
            last_plan=_last_plan(view),
            first_window=None if visits else first_window([each.outlook for each in found], today),
            notices={
                visit.key: visit_notices(
                    visit,
                    by_mark[visit.mark],
                    visits,
                    view.bookings(),
                    names={mark: each.vehicle.name for mark, each in by_mark.items()},
                    today=today,
                    zone=ZoneInfo(garage.zone),
                    now=now,
                )
                for visit in visits
            },
        )


def _last_plan(view: ReadView) -> LastPlan | None:
    entries = view.log(LOG_SUBJECT, MOST_CHANGES)
    if not entries:
        return None
    said = entries[0].change
    found = [logged_change(e.what, e.before, e.after) for e in reversed(entries) if e.change == said]
    return LastPlan(said.who, said.at, tuple(each for each in found if each is not None))


def _outlook(unit: ReadView, rules: Rules, vehicle: Vehicle, now: datetime) -> VehicleOutlook:
    today = garage_day(garage_of(unit), now)
    return outlooks_from(facts_of(unit, (vehicle.mark,)), rules_in_force(unit, rules), today)[0]


def _named(titles: Sequence[str]) -> str:
    return joined([tr_book(title) for title in titles]) if titles else tr("These services")


def _by_jobs(
    outlook: VehicleOutlook, lines: tuple[LineKey, ...], jobs: JobBook, first: datetime
) -> tuple[Stretch, ...]:
    """The stretches that the jobs for these services take. Raises BadInput where one has none."""
    rows = {line.key: line.row for line in outlook.lines}
    found = course_of_lines(lines, outlook.vehicle, rows, jobs, first)
    stretches = stretches_of(found.course) if found.course is not None and not found.without_job else ()
    if not stretches:
        titles = [rows[line].title for line in found.without_job]
        raise BadInput(
            saying("{named}: the garage has no job for that.", named=partial(_named, titles)),
            remedy="Say how long it takes, such as 2:20, or 2:20, stands 24:00, 1:20.",
            field="takes",
        )
    return stretches


def _visit(unit: ReadView, vehicle: Vehicle, number: int) -> BayVisit:
    visits = {visit.number: visit for visit in unit.bay_visits((vehicle.mark,))}
    if number not in visits:
        raise NotFound(saying("visit of {name}", name=vehicle.name), str(number), [str(each) for each in visits])
    return visits[number]


def _instant(on: date, at: time, zone: ZoneInfo) -> datetime:
    """The instant at which the garage's clock shows that, the first of two when it is put back."""
    local = datetime.combine(on, at, zone)
    instant = local.astimezone(ZoneInfo("UTC"))
    if instant.astimezone(zone).replace(tzinfo=None) != local.replace(tzinfo=None):
        raise BadInput(
            saying("The clock is put forward that day and never shows {at}.", at=f"{at:%H:%M}"),
            remedy="Take an hour later.",
            field="at",
        )
    return instant


def _stored(
    unit: WriteUnit,
    rules: Rules,
    vehicle: Vehicle,
    before: BayVisit | None,
    visit: BayVisit,
    *,
    now: datetime,
    base_url: str,
) -> Planned:
    zone = ZoneInfo(garage_of(unit).zone)
    others = [each for each in unit.bay_visits() if each.takes_place and each.key != visit.key]
    if visit.takes_place:
        _refuse_twice(visit, vehicle, others, zone)
    if visit != before:
        unit.put_bay_visit(visit)
        unit.log_change(vehicle.mark, "visit to the bay", visit_in_words(before, zone), visit_in_words(visit, zone))
        follow_visit(unit, visit, zone)
    settled = settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
    notices = (
        visit_notices(
            visit,
            settled.outlooks[0],
            others,
            unit.bookings(),
            names={each.mark: each.name for each in unit.vehicles()},
            today=settled.today,
            zone=zone,
            now=now,
        )
        if visit.takes_place
        else ()
    )
    return Planned(vehicle, visit, before, zone, notices, settled)


def _refuse_older(stand: str, visit: BayVisit, vehicle: Vehicle, zone: ZoneInfo) -> None:
    """Raises Overtaken if whoever changes a visit was shown another state of it than the one it is in."""
    if stand and stand != stand_of_visit(visit):
        raise Overtaken(
            saying(
                "Visit {number} of {name} was changed meanwhile: now it is {state}, {begins}. Nothing was changed by "
                "this form; look at it as it stands, then send it again.",
                number=visit.number,
                name=vehicle.name,
                state=partial(tr, visit.state.value),
                begins=f"{visit.begins_at.astimezone(zone):%Y-%m-%d %H:%M}",
            )
        )


def _refuse_twice(visit: BayVisit, vehicle: Vehicle, others: Iterable[BayVisit], zone: ZoneInfo) -> None:
    twice = next((each for each in others if each.mark == visit.mark and each.overlaps(visit)), None)
    if twice is not None:
        raise Clash(
            saying(
                "{name} is in the bay already from {begins} until {free} (visit {number}). Move one of the two.",
                name=vehicle.name,
                begins=f"{twice.begins_at.astimezone(zone):%Y-%m-%d %H:%M}",
                free=f"{twice.free_at.astimezone(zone):%Y-%m-%d %H:%M}",
                number=twice.number,
            )
        )
