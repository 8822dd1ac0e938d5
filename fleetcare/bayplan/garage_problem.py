"""A garage as a bay problem: its windows, jobs, open hours and what is inked already; and the answer as visits.

Minutes are those of the garage's own clock since the Monday of this week; only instants leave this room. On the two
days a year on which the clock is moved, a stretch over that hour is an hour longer or shorter by the sun.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.cost import work_minutes
from fleetcare.bayplan.day_costs import day_costs, due_points
from fleetcare.bayplan.open_shifts import BAY, Span, Taken, WallClock, full_spans, open_shifts
from fleetcare.bayplan.orders import afters
from fleetcare.bayplan.plan import BayPlan, Visit, WorkKind
from fleetcare.bayplan.problem import (
    DAY_MIN,
    BayProblem,
    BayService,
    Depot,
    Hand,
    PlanVehicle,
    Published,
    Shift,
    Stage,
    Wait,
)
from fleetcare.bayplan.shared_setups import SharedSetUps, shared_set_ups
from fleetcare.bayplan.standing import StandingStay, StandingWork
from fleetcare.bayplan.workshop import OpenHours, Stakes, WorkshopPrices
from fleetcare.due.outlook import DueWindow
from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.component import LineKey

LONGEST_WAIT_MIN = 14 * DAY_MIN
"""A wait without a longest time may be this long; nobody leaves a job open for more."""
USUAL_MINUTES = 60
"""Hands-on time of a service for which the garage has no job. Judgement, no source."""
USUAL_INTERVAL_DAYS = 365
ASKED_SKIPS = 10
"""Leaving out what has no dates, and is pencilled because a person asked for it, counts like leaving so many others; it
goes only where there is no room. Judgement, no source."""
NEAR_DAYS = 14
"""Within a fortnight people have arranged themselves."""
_HARM = ("axle", "belt", "hub", "brake", "coupling")
"""Words in kinds of component where more breaks than the part if it fails, or somebody may be hurt; what an engine or a
gearbox takes wears on for a while, as in the garages that the prices were tried on. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One service with a window, or without one because a person pencilled it. parts: (hands-on minutes, least and most
    of the wait after it) in order; the last has no wait. set_ups: work it shares with others. interval_days: from one
    time to the next, on the likely course. materials_cents: what it uses up. not_before: its sheet is put off until
    then. skills: what whoever does it must be able to do, all of it. fluid: which one it takes, in the same words for
    the same fluid; work: its short name, by which orders go."""

    line: LineKey
    component: str
    window: DueWindow | None
    parts: tuple[tuple[int, Wait | None], ...]
    set_ups: tuple[str, ...] = ()
    interval_days: int = USUAL_INTERVAL_DAYS
    skills: tuple[str, ...] = ()
    fluid: str = ""
    work: str = ""
    materials_cents: int = 0
    not_before: date | None = None


def garage_problem(
    wanted: Sequence[Wanted],
    *,
    today: date,
    zone: ZoneInfo,
    prices: WorkshopPrices,
    hours: Sequence[OpenHours],
    mechanics: Collection[str],
    taken: Iterable[Taken],
    pencilled: Iterable[BayVisit],
    closed: Collection[date] = (),
    horizon_days: int | None = None,
    skills: Mapping[str, Sequence[str]] | None = None,
    at_work: Collection[date] = (),
) -> BayProblem:
    """The problem of finding days for these services, from tomorrow on.

    mechanics: keys of who works here. taken: of people, vehicles and the bay, inked visits included. pencilled: visits
    that may move at a price. closed: days on which nobody works. skills: of people by
    key; nothing for everybody may do everything. at_work: days on which somebody works here anyway, so that opening
    the bay costs no more. Raises BadInput if nobody works here at any time.
    """
    begins = today - timedelta(days=today.weekday())
    days = (today - begins).days + (horizon_days or prices.horizon_days)
    clock = WallClock(begins, zone)
    taken = tuple(taken)
    busy = clock.spells(taken)
    # Jobs take longer than one thinks, so the end of each shift stays free.
    shifts = open_shifts(
        hours,
        mechanics=mechanics,
        busy=busy,
        bays=prices.bays,
        share=prices.shift_share,
        begins=begins,
        today=today,
        days=days,
        closed=closed,
    )
    people = sorted({name for shift in shifts for name in shift.people})
    told = {line: visit for visit in pencilled if visit.takes_place for line in visit.lines}
    shared = shared_set_ups([(each.line, each.set_ups, each.fluid) for each in wanted], prices.setups)
    likely = {each.line: date.min if each.window is None else each.window.likely for each in wanted}
    after = afters({each.line: (each.work, likely[each.line]) for each in wanted}, prices.orders)
    services = tuple(
        replace(
            _service(each, prices, shared, begins, days, told.get(each.line), clock, today, bool(skills)),
            after=after.get(each.line, ()),
        )
        for each in sorted(wanted, key=lambda one: one.line)
    )
    marks = sorted({each.line.mark for each in wanted})
    open_anyway = [day for day in sorted({(each - begins).days for each in at_work}) if 0 <= day < days]
    return BayProblem(
        name="garage",
        days=days,
        max_visit_min=prices.max_visit_hours * 60,
        setups=shared.setups,
        depots=(Depot(BAY, prices.bays, prices.opening_day, tuple((day, 0) for day in open_anyway)),),
        people=tuple(Hand(name, BAY, _able(name, wanted, skills or {})) for name in people),
        shifts=tuple(shifts),
        vehicles=tuple(
            PlanVehicle(
                mark,
                BAY,
                prices.arrive_minutes,
                prices.arrive,
                prices.out_of_use_per_hour,
                _away(mark, taken, busy, clock, prices.bays),
            )
            for mark in marks
        ),
        services=services,
    )


def planned_visits(
    problem: BayProblem,
    plan: BayPlan,
    *,
    today: date,
    zone: ZoneInfo,
    before: Sequence[BayVisit],
    reasons: Mapping[tuple[str, ...], str] | None = None,
) -> tuple[BayVisit, ...]:
    """The visits of a plan, pencilled, by begin.

    before: every visit there ever was; a pencilled one that does some of the same keeps its number, so that it moves on
    phones instead of going and coming. reasons: a sentence for the visit with these services.
    """
    clock = WallClock(today - timedelta(days=today.weekday()), zone)
    free = [each for each in before if each.state is VisitState.PENCILLED]
    highest: dict[str, int] = {}
    for each in before:
        highest[each.mark] = max(highest.get(each.mark, 0), each.number)
    found = []
    for visit in sorted(plan.visits, key=lambda one: (one.starts_at, one.vehicle)):
        lines = tuple(LineKey(*name.split("/", 2)) for name in visit.services)
        same = next((each for each in free if each.mark == visit.vehicle and set(each.lines) & set(lines)), None)
        if same is None:
            highest[visit.vehicle] = highest.get(visit.vehicle, 0) + 1
        else:
            free.remove(same)
        found.append(
            BayVisit(
                mark=visit.vehicle,
                number=highest[visit.vehicle] if same is None else same.number,
                lines=lines,
                stretches=_stretches(problem, visit, clock),
                state=VisitState.PENCILLED,
                mechanic=next((one.person for one in visit.work if one.kind is WorkKind.STAGE), ""),
                reason=(reasons or {}).get(visit.services, ""),
            )
        )
    return tuple(found)


def stays_of(visits: Iterable[BayVisit], problem: BayProblem, begins: date, zone: ZoneInfo) -> Iterator[StandingStay]:
    """What inked visits take of a workshop with several bays, each in the first that is free.

    begins: the Monday that the problem's days are counted from. A visit outside of every shift takes its bay as well.
    """
    clock = WallClock(begins, zone)
    free_at = [0] * problem.depots[0].bays
    for visit in sorted(visits, key=lambda one: (one.begins_at, one.key)):
        starts, ends = clock.minute(visit.begins_at), clock.minute(visit.free_at)
        bay = next((place for place, at in enumerate(free_at) if at <= starts), None)
        if bay is None:
            continue  # people have inked more than there are bays; nothing more fits then anyway
        free_at[bay] = ends
        met = [shift for shift in problem.shifts if _meets((shift.starts_at, shift.ends_at), (starts, ends))]
        ready = min((shift.ends_at for shift in met), default=ends)
        leaves = max((shift.starts_at for shift in met), default=starts)
        yield StandingStay(BAY, bay, starts, ends, ready, leaves)


def work_of(visits: Iterable[BayVisit], problem: BayProblem, begins: date, zone: ZoneInfo) -> Iterator[StandingWork]:
    """The hands that pencilled visits take while they stand, in the shifts that they lie in.

    begins: the Monday that the problem's days are counted from. Hands outside of every shift take nothing of any.
    """
    clock = WallClock(begins, zone)
    by_day: dict[int, list[Shift]] = {}
    for shift in problem.shifts:
        by_day.setdefault(shift.day, []).append(shift)
    for visit in visits:
        for stretch in visit.stretches:
            if stretch.kind is not StretchKind.HANDS_ON:
                continue
            at, until = clock.minute(stretch.begins_at), clock.minute(stretch.ends_at)
            for shift in by_day.get(at // DAY_MIN, ()):
                lies = max(at, shift.starts_at), min(until, shift.ends_at)
                if lies[0] < lies[1] and (not visit.mechanic or visit.mechanic in shift.people):
                    yield StandingWork(shift.name, visit.mechanic or shift.people[0], lies[0], lies[1] - lies[0])


def _away(
    mark: str, taken: Iterable[Taken], busy: Mapping[str, Sequence[Span]], clock: WallClock, bays: int
) -> tuple[Span, ...]:
    """When a vehicle cannot be here. On days of its own inked visits it has no other one, and as long as every bay is
    taken it cannot stand in one: so no visit lasts from before such a time to after it."""
    own = []
    for each in taken:
        if each.who == mark:
            span = (clock.minute(each.begins_at), clock.minute(each.ends_at))
            own.append(span if each.visit is None else _whole_days(span))
    full = full_spans(busy.get(BAY, ()), bays)
    # Kept apart, since a person is told of the first as what the vehicle is spoken for.
    return (
        *_merged((max(0, a), b) for a, b in own if b > 0),
        *((max(0, a), b) for a, b in full if b > 0),
    )


def _whole_days(span: Span) -> Span:
    return span[0] // DAY_MIN * DAY_MIN, -(-span[1] // DAY_MIN) * DAY_MIN


def stakes_of(component: str) -> Stakes:
    """What being late puts at stake on that kind of component."""
    if component == "legal":
        return Stakes.LAW
    return Stakes.HARM if any(word in component for word in _HARM) else Stakes.WEAR


def skill_of(skills: Sequence[str]) -> str:
    """One word for all of these together, as a stage wants it; empty for none."""
    return " and ".join(sorted(skills))


def _able(name: str, wanted: Sequence[Wanted], skills: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Of what is wanted, what this person can do; a job may want several skills of one person."""
    own = set(skills.get(name, ()))
    return tuple(sorted({skill_of(each.skills) for each in wanted if each.skills and set(each.skills) <= own}))


def _service(
    wanted: Wanted,
    prices: WorkshopPrices,
    shared: SharedSetUps,
    begins: date,
    days: int,
    told: BayVisit | None,
    clock: WallClock,
    today: date,
    is_skilled: bool,
) -> BayService:
    window, stakes = wanted.window, stakes_of(wanted.component)
    set_ups = shared.of[wanted.line]
    parts = [part for part, _ in wanted.parts]
    parts[0] += shared.own_minutes.get(wanted.line, 0)
    minutes = sum(parts)
    cents = sum(setup.cents for setup in shared.setups if setup.name in set_ups)
    published = None
    if told is not None:
        day = clock.minute(told.begins_at) // DAY_MIN
        near = day - (today - begins).days <= NEAR_DAYS
        published = Published(max(0, day), prices.move_near if near else prices.move_once, prices.move_per_day)
    asked = BayService(
        name=str(wanted.line),
        vehicle=wanted.line.mark,
        stages=tuple(Stage(part, skill_of(wanted.skills) if is_skilled else "") for part in parts),
        waits=tuple(wait for _, wait in wanted.parts if wait is not None),
        cost_by_day=(0,) * days,
        setups=set_ups,
        is_required=False,
        skip_cents=ASKED_SKIPS * prices.skip_cents(setup_cents=cents, likely_in_horizon=False, stakes=stakes),
        published=published,
        not_before=0 if wanted.not_before is None else max(0, (wanted.not_before - begins).days),
    )
    if window is None:
        return asked
    early, likely, late = ((day - begins).days for day in (window.early, window.likely, window.late))
    service = replace(
        asked,
        cost_by_day=(),
        due=due_points(early, likely, late),
        early_cents_per_day=prices.early_per_day(
            parts_cents=wanted.materials_cents, minutes=minutes, interval_days=wanted.interval_days
        ),
        late_cents_per_day=prices.late_per_day(stakes),
        overdue_cents=prices.overdue(stakes),
        skip_cents=prices.skip_cents(setup_cents=cents, likely_in_horizon=likely < days, stakes=stakes),
    )
    if likely >= days:
        return service
    # What falls due before the end is left at the price of doing it on the last day at the least: else nothing would be
    # cheaper than to leave what is long overdue for ever.
    return replace(service, skip_cents=service.skip_cents + day_costs(service, days)[-1])


def _stretches(problem: BayProblem, visit: Visit, clock: WallClock) -> tuple[Stretch, ...]:
    """Hands-on where somebody works, standing between; work that meets or touches is one stretch."""
    spans = _merged((one.start, one.start + work_minutes(problem, visit, one)) for one in visit.work)
    found: list[Stretch] = []
    for begins, ends in spans:
        if found:
            found.append(Stretch(StretchKind.STANDING, found[-1].ends_at, clock.instant(begins)))
        found.append(Stretch(StretchKind.HANDS_ON, clock.instant(begins), clock.instant(ends)))
    return tuple(found)


def _merged(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for begins, ends in sorted(spans):
        if found and begins <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], ends))
        elif begins < ends:
            found.append((begins, ends))
    return found


def _meets(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]
