"""Where the garage stands, as the problem that bay days are planned from: a step of planning, not an action."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import ReadView, Store
from fleetcare.bayplan.garage_problem import (
    LONGEST_WAIT_MIN,
    USUAL_INTERVAL_DAYS,
    USUAL_MINUTES,
    Wanted,
    garage_problem,
    stays_of,
    work_of,
)
from fleetcare.bayplan.held_days import BayHolder, held_days
from fleetcare.bayplan.open_shifts import BAY, Taken, WallClock, full_spans
from fleetcare.bayplan.problem import BayProblem, Wait
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.bayplan.workshop import OpenHours, WorkshopPrices
from fleetcare.bayplan.workshop_doubts import NO_DOUBTS, WorkshopDoubts, workshop_doubts
from fleetcare.bayplan.written_times import as_written, for_written_times
from fleetcare.book.bench import needs_of
from fleetcare.book.chains import in_order, with_tag
from fleetcare.book.jobs import FromTag, Job, JobBook
from fleetcare.due.outlook import Cause, LineOutlook, VehicleOutlook
from fleetcare.errors import BadInput
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.busy import CalendarOwner, busy_spells
from fleetcare.fleet.people import Role
from fleetcare.fleet.tag import Tag
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.quantities import DateSpan, months_after
from fleetcare.work.order import OrderState

_LAST_MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Workplace:
    """What bay days are planned with: prices, the weekly hours, and how each service is done."""

    prices: WorkshopPrices
    hours: Sequence[OpenHours]
    jobs: JobBook
    days_off: Callable[[date, date], Mapping[date, str]] = lambda first, last: {}
    """Closed days from the first to the last, with what they are called."""
    skills: Mapping[str, Sequence[str]] = field(default_factory=dict)
    """What each person may do, by key; empty: everybody may do everything."""


@dataclass(frozen=True, slots=True)
class BayGround:
    """Where the garage stands, as a problem is made of it."""

    today: date
    zone: ZoneInfo
    before: tuple[BayVisit, ...]
    outlooks: dict[str, VehicleOutlook]
    inked: tuple[BayVisit, ...]
    pencilled: tuple[BayVisit, ...]
    wanted: tuple[Wanted, ...]
    problem: BayProblem | None
    standing: Standing = NOTHING_STANDS
    """What inked visits take of several bays."""
    closed: Mapping[date, str] = field(default_factory=dict)
    held: Mapping[date, tuple[BayHolder, ...]] = field(default_factory=dict)
    """Days on which somebody would be there, and no bay is free: what holds it."""
    doubts: WorkshopDoubts = NO_DOUBTS
    full: frozenset[tuple[int, int]] = frozenset()
    """Times, in minutes of the problem, in which every bay is taken; vehicles are down as away in them."""
    beyond: frozenset[tuple[str, int]] = frozenset()
    """Keys of pencilled visits after the time that is planned, of which something comes due before its end."""
    others: tuple[BayVisit, ...] = ()
    """Pencilled visits of vehicles that are not planned now; they stand."""


def bay_ground(
    store: Store,
    rules: Rules,
    workplace: Workplace,
    *,
    now: datetime,
    horizon_days: int | None,
    freed: BayVisit | None = None,
    kept: KeptOutlooks | None = None,
    only: Collection[str] | None = None,
    moved: Mapping[str, Sequence[BayVisit]] | None = None,
    is_as_written: bool = False,
) -> BayGround:
    """What is to be planned, as it stands now.

    freed: taken for pencilled, even if it is inked; is_as_written: with its own times, not those of the job book.
    kept: what the process has worked out before. only: marks of the vehicles to be planned (all if None); pencilled
    visits of the others stand, and take hands and bays. moved: by mark, pencilled visits of such others that stand
    elsewhere than they are stored. Raises BadInput if nobody works here.
    """
    with store.read() as view:
        garage = garage_of(view)
        zone, today = ZoneInfo(garage.zone), garage_day(garage, now)
        before = view.bay_visits()
        looked = (
            outlooks_of(view, rules, today, only, with_steps=False)
            if kept is None
            else tuple(each.outlook for each in kept.look(view, rules, today, only))
        )
        outlooks = {outlook.vehicle.mark: outlook for outlook in looked}
        vehicles = {mark: outlook.vehicle for mark, outlook in outlooks.items()}
        fleet = vehicles if only is None else {each.mark: each for each in view.bare_vehicles()}
        mechanics = tuple(person.key for person in view.people() if Role.MECHANIC in person.roles)
        standing = [each for each in before if freed is None or each.key != freed.key]
        taken = tuple(taken_of(view, vehicles, standing, zone, now))
        put_off = {
            line: each.until
            for each in view.orders()
            if each.state is OrderState.DEFERRED and each.until is not None
            for line in each.lines
        }
    if not mechanics:
        raise BadInput("Nobody here is a mechanic.", remedy="Give somebody that role in people.toml.", field="roles")
    inked = tuple(each for each in standing if each.state is VisitState.INKED and each.free_at > now)
    pencilled = tuple(each for each in standing if each.state is VisitState.PENCILLED and each.begins_at > now)
    others: tuple[BayVisit, ...] = ()
    if only is not None:
        elsewhere = moved or {}
        others = tuple(each for each in pencilled if each.mark not in vehicles and each.mark not in elsewhere)
        others += tuple(each for mark, visits in elsewhere.items() if mark not in vehicles for each in visits)
        pencilled = tuple(each for each in pencilled if each.mark in vehicles)
    settled = {line for each in inked for line in each.lines}
    horizon = horizon_days or workplace.prices.horizon_days
    asked = set(freed.lines) if freed is not None else set()
    last = today + timedelta(days=horizon)
    by_hand = asked | {line for each in pencilled if _local_day(each, zone) <= last for line in each.lines}
    wanted = tuple(
        replace(_wanted(outlook, line, workplace), not_before=put_off.get(line.key))
        for outlook in outlooks.values()
        for line in outlook.lines
        if line.key not in settled
        and put_off.get(line.key, today) <= last
        and (line.key in by_hand if line.window is None else line.key in asked or line.window.early <= last)
    )
    prices = workplace.prices
    if freed is not None and is_as_written:
        wanted, prices = as_written(wanted, freed), for_written_times(prices)
    # A visit beyond the time that is planned, of which nothing comes due before, is nobody's business here.
    lines = {each.line for each in wanted}
    pencilled = tuple(each for each in pencilled if _local_day(each, zone) <= last or lines & set(each.lines))
    closed = workplace.days_off(today, last)
    problem = None
    if wanted:
        problem = garage_problem(
            wanted,
            today=today,
            zone=zone,
            prices=prices,
            hours=workplace.hours,
            mechanics=mechanics,
            taken=taken,
            pencilled=(*pencilled, freed) if freed is not None else pencilled,
            horizon_days=horizon,
            closed=tuple(closed),
            skills=workplace.skills,
            at_work={day for each in (*inked, *others) for day in _days_with_hands(each, zone)},
        )
    begins = today - timedelta(days=today.weekday())
    settled_stays = NOTHING_STANDS
    if problem is not None and (others or workplace.prices.bays > 1):
        # With one bay what is inked is cut out of the open hours already.
        holding = (*inked, *others) if workplace.prices.bays > 1 else others
        settled_stays = Standing(
            work=tuple(work_of(others, problem, begins, zone)), stays=tuple(stays_of(holding, problem, begins, zone))
        )
    held = held_days(
        first=today + timedelta(days=1),
        last=last,
        zone=zone,
        prices=workplace.prices,
        hours=workplace.hours,
        mechanics=mechanics,
        taken=taken,
        names={mark: vehicle.name for mark, vehicle in fleet.items()},
        closed=tuple(closed),
    )
    doubts = workshop_doubts(workplace.prices, wanted, {row.short for row in rules.book.rows.values()})
    beyond = frozenset(each.key for each in pencilled if _local_day(each, zone) > last)
    full = full_spans(WallClock(begins, zone).spells(taken).get(BAY, []), workplace.prices.bays)
    return BayGround(
        today=today,
        zone=zone,
        before=before,
        outlooks=outlooks,
        inked=inked,
        pencilled=pencilled,
        wanted=wanted,
        problem=problem,
        standing=settled_stays,
        closed=closed,
        held=held,
        doubts=doubts,
        full=frozenset((max(0, a), b) for a, b in full if b > 0),
        beyond=beyond,
        others=others,
    )


def _local_day(visit: BayVisit, zone: ZoneInfo) -> date:
    return visit.begins_at.astimezone(zone).date()


def _days_with_hands(visit: BayVisit, zone: ZoneInfo) -> Iterator[date]:
    for each in visit.stretches:
        if each.kind is StretchKind.HANDS_ON:
            first, last = (at.astimezone(zone).date() for at in (each.begins_at, each.ends_at - _LAST_MOMENT))
            yield from (first + timedelta(days=later) for later in range((last - first).days + 1))


def _wanted(outlook: VehicleOutlook, line: LineOutlook, workplace: Workplace) -> Wanted:
    tag = tag_of(line.component)
    job = workplace.jobs.job_for(line.row, line.component.kind, tag)
    parts: list[tuple[int, Wait | None]] = []
    hands = 0
    for stage in () if job is None else with_tag(in_order(job.stages), tag):
        if not stage.is_standing:
            hands += stage.minutes or 0
        elif hands:
            parts.append((hands, Wait(stage.least_minutes or 0, stage.most_minutes or LONGEST_WAIT_MIN)))
            hands = 0
    if hands or not parts:
        parts.append((hands or USUAL_MINUTES, None))
    else:
        # It has to stand at the end: a last look lets it go.
        parts.append((1, None))
    return Wanted(
        line=line.key,
        component=line.component.kind,
        window=line.window,
        parts=tuple(parts),
        set_ups=() if job is None else job.set_ups,
        skills=() if job is None else job.skills,
        fluid="" if job is None or tag is None else _fluid(job, tag),
        work=line.row.short,
        interval_days=_interval_days(line),
        materials_cents=0 if job is None else workplace.prices.materials(needs_of(job.stages, tag)),
    )


def _interval_days(line: LineOutlook) -> int:
    """From one time to the next. Where nobody knows when it was last done, the course is that of the look which comes
    first, so the book is asked."""
    if line.window is not None and line.window.cause is Cause.UNKNOWN_HISTORY:
        limits = line.row.rule.repeat
        if limits.months is not None:
            return (months_after(line.today, limits.months) - line.today).days
        return USUAL_INTERVAL_DAYS if limits.weeks is None else 7 * limits.weeks
    return round(1 / line.per_day) if line.per_day else USUAL_INTERVAL_DAYS


def _fluid(job: Job, tag: Tag) -> str:
    """The fluid the job fills in, as the tag has it; nothing where it fills none in or the tag does not know which."""
    takes = any(one.from_tag is FromTag.REFILL for stage in job.stages for one in stage.consumables)
    fluid = tag.fluid.value if tag.fluid is not None else None
    return " ".join((fluid.grade, fluid.service_class)).strip() if takes and fluid is not None else ""


def taken_of(
    view: ReadView, vehicles: Mapping[str, Vehicle], visits: Sequence[BayVisit], zone: ZoneInfo, now: datetime
) -> list[Taken]:
    """When these vehicles, and everybody and every bay, are not free: bookings, lay-ups, calendars, inked visits."""

    def whole(who: str, days: DateSpan) -> Taken:
        begins, ends = (datetime.combine(day, time(), zone) for day in (days.first, days.end))
        return Taken(who, begins, ends)

    found = [whole(mark, booking.days) for booking in view.bookings() for mark in booking.marks if mark in vehicles]
    found += [whole(mark, span) for mark, vehicle in vehicles.items() for span in vehicle.laid_up]
    for spell in busy_spells(view.calendars()):
        who = BAY if spell.owner_kind is CalendarOwner.BAY else spell.owner
        if spell.begins_at is not None and spell.ends_at is not None:
            found.append(Taken(who, spell.begins_at, spell.ends_at))
        else:
            found.append(whole(who, spell.days))
    for visit in visits:
        if visit.state is VisitState.INKED and visit.free_at > now:
            found += [Taken(who, visit.begins_at, visit.free_at, visit.key) for who in (visit.mark, BAY)]
            found += [
                Taken(visit.mechanic, each.begins_at, each.ends_at, visit.key)
                for each in visit.stretches
                if visit.mechanic and each.kind is StretchKind.HANDS_ON
            ]
    return found
