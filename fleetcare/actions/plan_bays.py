"""Days in the bay are proposed for what comes due, and written down as pencilled visits if somebody takes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.actions.settle import settle
from fleetcare.bayplan.garage_problem import (
    BAY,
    LONGEST_WAIT_MIN,
    USUAL_INTERVAL_DAYS,
    USUAL_MINUTES,
    Taken,
    Wanted,
    garage_problem,
    planned_visits,
)
from fleetcare.bayplan.port import Answer
from fleetcare.bayplan.problem import BayProblem, Wait
from fleetcare.bayplan.workshop import OpenHours, WorkshopPrices
from fleetcare.book.chains import in_order, with_tag
from fleetcare.book.jobs import JobBook
from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.errors import BadInput, Clash
from fleetcare.fleet.bay_visit import BayVisit, StretchKind, VisitState
from fleetcare.fleet.busy import CalendarOwner, busy_spells
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Role
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.quantities import DateSpan

Solve = Callable[[BayProblem], Answer]


@dataclass(frozen=True, slots=True)
class Workplace:
    """What bay days are planned with: prices, the weekly hours, and how each service is done."""

    prices: WorkshopPrices
    hours: Sequence[OpenHours]
    jobs: JobBook


@dataclass(frozen=True, slots=True)
class Proposal:
    """Visits that would be pencilled, and what becomes of those that are.

    gone: pencilled now, and not in the proposal. kept: not touched, because it is inked. left: services that are left
    for a later plan. answer: what the search said; None if nothing is to be planned.
    """

    today: date
    zone: ZoneInfo
    visits: tuple[BayVisit, ...]
    gone: tuple[BayVisit, ...]
    kept: tuple[BayVisit, ...]
    left: tuple[LineKey, ...]
    answer: Answer | None
    before: tuple[BayVisit, ...]
    outlooks: dict[str, VehicleOutlook]

    @property
    def moved(self) -> tuple[tuple[BayVisit, BayVisit], ...]:
        """Visits that were pencilled for another time, before and after."""
        old = {each.key: each for each in self.before}
        return tuple(
            (old[each.key], each)
            for each in self.visits
            if each.key in old and old[each.key].begins_at != each.begins_at
        )


def propose(
    store: Store, rules: Rules, workplace: Workplace, solve: Solve, *, now: datetime, horizon_days: int | None = None
) -> Proposal:
    """The plan that costs least by the workshop's prices. Writes nothing.

    Inked visits stand and their services are not planned again; pencilled ones may move at a price. Raises BadInput if
    nobody works here.
    """
    with store.read() as view:
        garage = garage_of(view)
        zone, today = ZoneInfo(garage.zone), garage_day(garage, now)
        before = view.bay_visits()
        outlooks = {outlook.vehicle.mark: outlook for outlook in outlooks_of(view, rules, today)}
        mechanics = tuple(person.key for person in view.people() if Role.MECHANIC in person.roles)
        taken = tuple(_taken(view, outlooks, before, zone, now))
    if not mechanics:
        raise BadInput("Nobody here is a mechanic.", remedy="Give somebody that role in people.toml.", field="roles")
    inked = tuple(each for each in before if each.state is VisitState.INKED and each.free_at > now)
    pencilled = tuple(each for each in before if each.state is VisitState.PENCILLED and each.begins_at > now)
    settled = {line for each in inked for line in each.lines}
    horizon = horizon_days or workplace.prices.horizon_days
    wanted = [
        _wanted(outlook, line, workplace.jobs)
        for outlook in outlooks.values()
        for line in outlook.lines
        if line.window is not None and line.key not in settled and line.window.early <= today + timedelta(days=horizon)
    ]
    if not wanted:
        return Proposal(today, zone, (), pencilled, inked, (), None, before, outlooks)
    problem = garage_problem(
        wanted,
        today=today,
        zone=zone,
        prices=workplace.prices,
        hours=workplace.hours,
        mechanics=mechanics,
        taken=taken,
        pencilled=pencilled,
        horizon_days=horizon,
    )
    answer = solve(problem)
    if answer.plan is None:
        return Proposal(
            today, zone, pencilled, (), inked, tuple(each.line for each in wanted), answer, before, outlooks
        )
    visits = planned_visits(problem, answer.plan, today=today, zone=zone, before=pencilled_first(before, now))
    visits = tuple(replace(each, reason=_reason(each, outlooks[each.mark], today)) for each in visits)
    keys = {each.key for each in visits}
    return Proposal(
        today=today,
        zone=zone,
        visits=visits,
        gone=tuple(each for each in pencilled if each.key not in keys),
        kept=inked,
        left=tuple(LineKey(*name.split("/", 2)) for name in answer.plan.skipped),
        answer=answer,
        before=before,
        outlooks=outlooks,
    )


def accept(store: Store, rules: Rules, proposal: Proposal, *, who: str, now: datetime, base_url: str) -> int:
    """Writes a proposal down; returns how many visits are new, moved or gone. Raises Clash if others planned since."""
    old = {each.key: each for each in proposal.before}
    after = [each for each in proposal.visits if old.get(each.key) != each]
    after += [replace(each, state=VisitState.RUBBED_OUT) for each in proposal.gone]
    with store.write(Change(who, "bay days planned", now)) as unit:
        if unit.bay_visits() != proposal.before:
            raise Clash("Somebody changed the plan meanwhile. Plan again; nothing was changed.")
        for visit in after:
            unit.put_bay_visit(visit)
            was = old.get(visit.key)
            unit.log_change(
                visit.mark,
                "visit to the bay",
                "" if was is None else f"{was.state.value}, {was.begins_at.astimezone(proposal.zone):%Y-%m-%d %H:%M}",
                f"{visit.state.value}, {visit.begins_at.astimezone(proposal.zone):%Y-%m-%d %H:%M}",
            )
        marks = tuple(sorted({visit.mark for visit in after}))
        if marks:
            settle(unit, rules, now=now, base_url=base_url, marks=marks)
    return len(after)


def pencilled_first(before: Sequence[BayVisit], now: datetime) -> tuple[BayVisit, ...]:
    """Every visit, those that are pencilled and over as if they were rubbed out: they give no number away."""
    return tuple(
        replace(each, state=VisitState.RUBBED_OUT)
        if each.state is VisitState.PENCILLED and each.begins_at <= now
        else each
        for each in before
    )


def _wanted(outlook: VehicleOutlook, line: LineOutlook, jobs: JobBook) -> Wanted:
    assert line.window is not None  # whoever calls has looked
    tag = tag_of(line.component)
    job = jobs.job_for(line.row, line.component.kind, tag)
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
        interval_days=round(1 / line.per_day) if line.per_day else USUAL_INTERVAL_DAYS,
    )


def _taken(
    view: ReadView, outlooks: dict[str, VehicleOutlook], visits: Sequence[BayVisit], zone: ZoneInfo, now: datetime
) -> list[Taken]:
    def whole(who: str, days: DateSpan) -> Taken:
        begins, ends = (datetime.combine(day, time(), zone) for day in (days.first, days.end))
        return Taken(who, begins, ends)

    found = [whole(mark, booking.days) for booking in view.bookings() for mark in booking.marks if mark in outlooks]
    found += [whole(mark, span) for mark, outlook in outlooks.items() for span in outlook.vehicle.laid_up]
    for spell in busy_spells(view.calendars()):
        who = BAY if spell.owner_kind is CalendarOwner.BAY else spell.owner
        if spell.begins_at is not None and spell.ends_at is not None:
            found.append(Taken(who, spell.begins_at, spell.ends_at))
        else:
            found.append(whole(who, spell.days))
    for visit in visits:
        if visit.state is VisitState.INKED and visit.free_at > now:
            found += [Taken(who, visit.begins_at, visit.free_at) for who in (visit.mark, BAY)]
            found += [
                Taken(visit.mechanic, each.begins_at, each.ends_at)
                for each in visit.stretches
                if visit.mechanic and each.kind is StretchKind.HANDS_ON
            ]
    return found


def _reason(visit: BayVisit, outlook: VehicleOutlook, today: date) -> str:
    """What leads the visit: the service whose late date comes first, with its dates."""
    from fleetcare.wording import counted_words, day_words

    dated = [(line.window, line) for line in outlook.lines if line.key in visit.lines and line.window is not None]
    if not dated:
        return ""
    window, line = min(dated, key=lambda each: (each[0].late, each[1].key))
    if window.is_past_late(today):
        said = f"{line.row.title} is past late since {day_words(window.late, today)}."
    else:
        said = f"{line.row.title}: likely {day_words(window.likely, today)}, late {day_words(window.late, today)}."
    others = len(visit.lines) - 1
    return f"{said} {counted_words(others, 'more rides', 'more ride').capitalize()} along." if others else said
