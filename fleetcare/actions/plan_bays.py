"""Days in the bay are proposed for what comes due, and written down as pencilled visits if somebody takes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import BayGround, Workplace, bay_ground
from fleetcare.actions.gather import Rules, garage_day, garage_of, vehicle_in
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.proposal import (
    Granted,
    Proposal,
    Solve,
    barred_of,
    not_due_of,
    staying_beyond,
    visits_of,
    with_days_told,
)
from fleetcare.actions.settle import settle
from fleetcare.actions.sheet_visits import follow_visit
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.explain import Forbidden
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.impossible import WishKind, smallest_clash
from fleetcare.bayplan.inked_clashes import inked_clashes
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.plan_changes import log_line, plan_changes
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.bayplan.wish import is_kept, why_not_then, wished
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.component import LineKey
from fleetcare.language import Saying, saying, tr, tr_book
from fleetcare.wording import day_words, joined


@dataclass(frozen=True, slots=True)
class Wish:
    """A visit that somebody would like to see on another day."""

    vehicle: str
    number: int
    on: date


def propose(
    store: Store,
    rules: Rules,
    workplace: Workplace,
    solve: Solve,
    *,
    now: datetime,
    horizon_days: int | None = None,
    wish: Wish | None = None,
    kept: KeptOutlooks | None = None,
) -> Proposal:
    """The plan that costs least by the workshop's prices. Writes nothing.

    Inked visits stand and their services are not planned again; pencilled ones may move at a price. wish: planned
    around; the plan is searched for twice, with it and without it. kept: what the process has worked out before. Raises
    BadInput if nobody works here or the wish cannot be, and NotFound for a visit that is not there.
    """
    freed = None if wish is None else _wished_visit(store, wish, now)
    ground = bay_ground(store, rules, workplace, now=now, horizon_days=horizon_days, freed=freed, kept=kept)
    today, zone, before, outlooks = ground.today, ground.zone, ground.before, ground.outlooks
    problem, pencilled, inked = ground.problem, ground.pencilled, ground.inked
    granted = None
    if freed is not None and wish is not None:
        answer, extra = _around(ground, freed, wish, solve)
        granted = Granted(freed, wish.on, extra)
        assert ground.problem is not None  # else the wish was refused
        problem = ground.problem
    elif problem is None:
        clashes = inked_clashes(inked, workplace.prices.bays)
        return Proposal(
            today, zone, (), pencilled, inked, (), None, before, outlooks, clashes=clashes, bays=workplace.prices.bays
        )
    else:
        answer = solve(problem, ground.standing)
    if answer.plan is not None and not answer.plan.visits and answer.outcome is not Outcome.PROVEN:
        # Stopped before its first visit: that leaves everything out, and taken it would rub out all that is pencilled.
        answer = Answer(Outcome.NOTHING, None, None, answer.bound, answer.steps)
    if answer.plan is None:
        left = tuple(each.line for each in ground.wanted)
        return Proposal(today, zone, pencilled, (), inked, left, answer, before, outlooks)
    visits = visits_of(ground, problem, answer.plan, now=now, freed=freed)
    if granted is not None:
        visits = tuple(_as_wished(each, granted) for each in visits)
    visits = with_days_told(visits, before, today=today, zone=zone)
    stay = staying_beyond(ground, visits)
    keys = {each.key for each in (*visits, *stay)}
    gone = tuple(each for each in pencilled if each.key not in keys)
    have_a_day = {line for each in stay for line in each.lines}
    skipped = (LineKey(*name.split("/", 2)) for name in answer.plan.skipped)
    left = tuple(line for line in skipped if line not in have_a_day)
    changes = plan_changes(
        problem,
        before=before,
        after=visits,
        gone=gone,
        left=left,
        wished=None if granted is None else granted.was.key,
        day_0=today - timedelta(days=today.weekday()),
        zone=zone,
        held=ground.held,
        kept=inked,
    )
    return Proposal(
        today=today,
        zone=zone,
        visits=visits,
        gone=gone,
        kept=inked,
        left=left,
        answer=answer,
        before=before,
        outlooks=outlooks,
        granted=granted,
        changes=changes,
        cost=plan_cost(problem, answer.plan),
        barred=barred_of(problem, answer.plan.skipped, lambda one: solve(one, ground.standing)),
        not_due=not_due_of(before, visits, problem),
        clashes=inked_clashes(inked, workplace.prices.bays),
        bays=workplace.prices.bays,
        doubts=ground.doubts,
    )


def _wished_visit(store: Store, wish: Wish, now: datetime) -> BayVisit:
    with store.read() as view:
        mark = vehicle_in(view, wish.vehicle).mark
        visits = {each.number: each for each in view.bay_visits((mark,)) if each.takes_place}
        today, zone = garage_day(garage_of(view), now), ZoneInfo(garage_of(view).zone)
    if wish.number not in visits:
        raise NotFound(saying("visit of {mark}", mark=mark), str(wish.number), [str(each) for each in visits])
    visit = visits[wish.number]
    if visit.begins_at <= now:
        raise BadInput("That visit has begun.", remedy="Visits ahead can be moved.", field="number")
    if visit.begins_at.astimezone(zone).date() == wish.on:
        raise BadInput("It is on that day already.", remedy="Name another day.", field="on")
    if wish.on <= today:
        raise BadInput("Days are planned from tomorrow on.", remedy="Name a later day.", field="on")
    return visit


def _around(ground: BayGround, freed: BayVisit, wish: Wish, solve: Solve) -> tuple[Answer, int]:
    """The plan around a wish, priced without it, and what it costs more. Raises BadInput if it cannot be."""
    problem, name = ground.problem, ground.outlooks[freed.mark].vehicle.name
    names = [each for each in map(str, freed.lines) if problem is not None and each in problem.service_by_name]
    if problem is None or not names:
        raise BadInput("Nothing of it comes due in the time that is planned.", remedy="Move it by hand.", field="on")
    day = (wish.on - ground.today + timedelta(days=ground.today.weekday())).days
    on = partial(day_words, wish.on, ground.today)
    if day >= problem.days:
        raise BadInput(
            saying("{on} lies beyond the time that is planned.", on=on), remedy="Name an earlier day.", field="on"
        )
    without = solve(problem, ground.standing)
    found = solve(wished(problem, names, day), ground.standing)
    if found.plan is None or not is_kept(problem, found.plan, names, day):
        rule = why_not_then(problem, freed.mark, names, day)
        clash = _clash(wished(problem, names, day), ground, solve, on) if rule is Forbidden.ROOM else ""
        holders = ground.held.get(wish.on, ()) if rule is Forbidden.NOBODY else ()
        # Ended before everything was looked at: that none was found is no proof that there is none.
        if rule is Forbidden.ROOM and not clash and found.outcome in (Outcome.NOTHING, Outcome.FOUND):
            raise BadInput(
                saying(
                    "No plan with {name} on {on} was found with the time it was given; there may be one.",
                    name=name,
                    on=on,
                ),
                remedy="Name another day, move it there by hand, or have fleetcare plan search longer with --steps.",
                field="on",
            )
        why = clash or (_taken_by(holders) if holders else saying(rule.value))
        raise BadInput(
            saying("{name} cannot come in on {on}: {why}.", name=name, on=on, why=why),
            remedy="Name another day.",
            field="on",
        )
    total = plan_cost(problem, found.plan).total
    before = total if without.plan is None else plan_cost(problem, without.plan).total
    bound = found.bound if found.outcome is Outcome.PROVEN else None
    priced = Answer(found.outcome, found.plan, total, total if bound is not None else without.bound, found.steps)
    return priced, total - before


def _taken_by(holders: Sequence[BayHolder]) -> Saying:
    named = [
        saying("{name} (visit {number})", name=each.name, number=each.number)
        if each.mark
        else saying("what its calendar says")
        for each in holders
    ]
    return saying("the bay is taken by {holders}", holders=_together(named))


def _together(sayings: Sequence[str]) -> Callable[[], str]:
    """All of them in one, in the language of whoever reads it."""
    return lambda: joined([tr(each) for each in sayings])


def _clash(problem: BayProblem, ground: BayGround, solve: Solve, on: Callable[[], str]) -> str:
    """Which wishes clash, the fewest of which none can be spared; nothing where that is not known."""

    class Asked:
        def solve(
            self,
            problem: BayProblem,
            limits: Limits,
            *,
            tell: Callable[[Progress, BayPlan | None], None] | None = None,
            standing: Standing = ground.standing,
        ) -> Answer:
            return solve(problem, standing)

    said: list[Saying] = []
    for asked in smallest_clash(problem, Asked(), Limits()):
        if asked.kind is WishKind.SERVICE:
            line = LineKey(*asked.name.split("/", 2))
            lines = ground.outlooks[line.mark].lines
            short = next((each.row.short for each in lines if each.key == line), line.service)
            said.append(saying("{service} on {on}", service=partial(tr_book, short), on=on))
        elif asked.kind is WishKind.BOOKING:
            gone, back = problem.vehicle_by_name[asked.name].away[asked.at]
            day_0 = ground.today - timedelta(days=ground.today.weekday())
            first, last = (day_0 + timedelta(minutes=minute) for minute in (gone, back - 1))
            if (gone, back) in ground.full:
                said.append(
                    saying(
                        "the bay is taken from {first} to {last}",
                        first=partial(day_words, first, ground.today),
                        last=partial(day_words, last, ground.today),
                    )
                )
                continue
            said.append(
                saying(
                    "{vehicle} spoken for from {first} to {last}",
                    vehicle=ground.outlooks[asked.name].vehicle.name,
                    first=partial(day_words, first, ground.today),
                    last=partial(day_words, last, ground.today),
                )
            )
    if len(said) == 1:
        return saying("there is no room for {what}, even alone", what=said[0])
    return saying("these cannot all be: {wishes}", wishes=_together(said)) if said else ""


def _as_wished(visit: BayVisit, granted: Granted) -> BayVisit:
    """The wished visit is inked; a service of it that has no dates, and so is not planned, stays in it."""
    was = granted.was
    if visit.mark != was.mark or not set(visit.lines) & set(was.lines):
        return visit
    lines = visit.lines + tuple(line for line in was.lines if line not in visit.lines)
    return replace(visit, lines=lines, state=VisitState.INKED)


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
            follow_visit(unit, visit, proposal.zone)
            was = old.get(visit.key)
            unit.log_change(
                visit.mark,
                "visit to the bay",
                "" if was is None else f"{was.state.value}, {was.begins_at.astimezone(proposal.zone):%Y-%m-%d %H:%M}",
                f"{visit.state.value}, {visit.begins_at.astimezone(proposal.zone):%Y-%m-%d %H:%M}",
            )
        unit.log_changes(log_line(change) for change in proposal.changes)
        marks = tuple(sorted({visit.mark for visit in after}))
        if marks:
            settle(unit, rules, now=now, base_url=base_url, marks=marks)
    return len(after)
