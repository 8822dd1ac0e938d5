"""A plan kept up after a change: the vehicles it hit are planned anew beside all the others, then those that compete
with them for hands and bays, if that pays more than their moves cost."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import BayGround, Workplace, bay_ground
from fleetcare.actions.gather import Rules
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Store
from fleetcare.actions.proposal import Proposal, Solve, barred_of, staying_beyond, visits_of, with_days_told
from fleetcare.bayplan.calm import ServiceDay, as_it_stands
from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.impossible import NoDay
from fleetcare.bayplan.inked_clashes import inked_clashes
from fleetcare.bayplan.plan import BayPlan, Visit
from fleetcare.bayplan.plan_changes import Cause, PlanChange, plan_changes
from fleetcare.bayplan.port import Answer, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.replan import MOST_FREED, NEIGHBOUR_DAYS
from fleetcare.bayplan.same_minutes import with_minutes_kept
from fleetcare.bayplan.what_is_hit import Hit
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.component import LineKey

MOST_AT_ONCE = 4
"""So many vehicles that were hit are planned together; more go one group after another, so that a thousand of them take
a thousand times as long as one and no longer."""
MOST_TRIED_ALONE = 4
"""Of what has no day, so many services of a group are tried by themselves."""

GroundOf = Callable[[Collection[str], Mapping[str, Sequence[BayVisit]]], BayGround]
"""Where the garage stands for these vehicles alone, beside visits that others have by now."""


@dataclass(slots=True)
class _Now:
    """The plan as it comes on. visits: pencilled ahead, of vehicles that were planned anew, by mark. grounds, skipped:
    of each, what it was planned from last, and what that left out."""

    before: tuple[BayVisit, ...]
    visits: dict[str, tuple[BayVisit, ...]] = field(default_factory=dict)
    grounds: dict[str, BayGround] = field(default_factory=dict)
    skipped: dict[str, tuple[str, ...]] = field(default_factory=dict)
    outlooks: dict[str, VehicleOutlook] = field(default_factory=dict)
    steps: float = 0.0

    def of(self, ground: BayGround) -> tuple[BayVisit, ...]:
        """The visits of the vehicles of a ground that its plan is about."""
        known = {each.key for each in ground.pencilled}
        far = {each.key for each in self.before} - known
        found: list[BayVisit] = []
        for mark in ground.outlooks:
            stored = tuple(each for each in ground.pencilled if each.mark == mark)
            found += [each for each in self.visits.get(mark, stored) if each.key not in far]
        return tuple(found)


def replan_bays(
    store: Store,
    rules: Rules,
    workplace: Workplace,
    solve: Solve,
    *,
    now: datetime,
    hit: Mapping[str, Hit],
    horizon_days: int | None = None,
    kept: KeptOutlooks | None = None,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Proposal | None:
    """The plan as it stands, with these vehicles and what competes with them planned anew. Writes nothing.

    Whatever is not cheaper than leaving visits where they are, moves included, is left where it is. hit: by mark, why.
    kept: what the process has worked out before. is_stopped: asked before each group; what is found by then counts.
    Nothing if there is nothing to be planned. Raises BadInput if nobody works here.
    """

    def ground_of(marks: Collection[str], moved: Mapping[str, Sequence[BayVisit]]) -> BayGround:
        return bay_ground(
            store, rules, workplace, now=now, horizon_days=horizon_days, kept=kept, only=marks, moved=moved
        )

    bays = workplace.prices.bays
    plan: _Now | None = None
    planned: set[str] = set()
    ground: BayGround | None = None
    for group in _groups(sorted(hit)):
        ground = ground_of(group, {} if plan is None else plan.visits)
        plan = plan or _Now(ground.before)
        if is_stopped() or ground.before != plan.before:
            # Somebody has changed the plan meanwhile: it is looked at again from there.
            break
        if not _planned_anew(plan, ground, solve, now, bays):
            continue
        _with_neighbours(plan, ground, solve, now, ground_of, bays)
        planned |= set(group)
    if plan is None or ground is None or not planned:
        return None
    return _proposal(plan, ground, solve, planned, hit, now=now, bays=bays)


def _groups(marks: Sequence[str]) -> Iterator[tuple[str, ...]]:
    for at in range(0, len(marks), MOST_AT_ONCE):
        yield tuple(marks[at : at + MOST_AT_ONCE])


def _planned_anew(plan: _Now, ground: BayGround, solve: Solve, now: datetime, bays: int) -> bool:
    """Stage A: the hit vehicles alone. False if the search ended without a plan."""
    current = plan.of(ground)
    if ground.problem is None:
        # Nothing of them is to be done any more, so what is pencilled goes.
        _take(plan, ground, (), (), now)
        return True
    answer = solve(ground.problem, ground.standing)
    plan.steps += answer.steps
    if answer.plan is None or (not answer.plan.visits and answer.outcome is not Outcome.PROVEN):
        # Stopped before its first visit: that leaves everything out, and taken it would rub out all that is pencilled.
        return False
    stays = _cents_as_it_stands(ground.problem, ground, current, solve)
    if stays is None or plan_cost(ground.problem, answer.plan).total < stays:
        _take(plan, ground, _visits(ground, answer.plan, current, now, bays), answer.plan.skipped, now)
    else:
        _take(plan, ground, current, _without_visit(ground.problem, current), now)
    return True


def _with_neighbours(
    plan: _Now, ground: BayGround, solve: Solve, now: datetime, ground_of: GroundOf, bays: int
) -> None:
    """Stage B: the same with those freed too whose visits lie nearest, taken only if that is cheaper."""
    own = [each for mark in ground.outlooks for each in plan.visits[mark]]
    near = _neighbours((*own, *ground.pencilled), ground.others, MOST_FREED - len(ground.outlooks))
    if not near:
        return
    wider = ground_of((*ground.outlooks, *near), plan.visits)
    if wider.problem is None or wider.before != plan.before:
        return
    current = plan.of(wider)
    stays = _cents_as_it_stands(wider.problem, wider, current, solve)
    if stays is None:
        return
    answer = solve(wider.problem, wider.standing)
    plan.steps += answer.steps
    if answer.plan is None or plan_cost(wider.problem, answer.plan).total >= stays:
        return
    _take(plan, wider, _visits(wider, answer.plan, current, now, bays), answer.plan.skipped, now)


def _visits(
    ground: BayGround, found: BayPlan, current: Sequence[BayVisit], now: datetime, bays: int
) -> tuple[BayVisit, ...]:
    assert ground.problem is not None  # a plan was found for it
    visits = visits_of(ground, ground.problem, found, now=now)
    return with_minutes_kept(
        (*visits, *staying_beyond(ground, visits)),
        current,
        beside=(*ground.others, *ground.inked),
        bays=bays,
        zone=ground.zone,
    )


def _take(plan: _Now, ground: BayGround, visits: Sequence[BayVisit], skipped: Sequence[str], now: datetime) -> None:
    known = {each.key for each in ground.pencilled}
    for mark in ground.outlooks:
        # Beyond the time that is planned, with nothing of it due before: nobody's business here.
        far = [
            each
            for each in ground.before
            if each.mark == mark
            and each.state is VisitState.PENCILLED
            and each.begins_at > now
            and each.key not in known
        ]
        plan.visits[mark] = (*(each for each in visits if each.mark == mark), *far)
        plan.grounds[mark] = ground
        plan.skipped[mark] = tuple(name for name in skipped if LineKey(*name.split("/", 2)).mark == mark)
    plan.outlooks |= ground.outlooks


def _cents_as_it_stands(problem: BayProblem, ground: BayGround, visits: Iterable[BayVisit], solve: Solve) -> int | None:
    """What it costs to leave these visits on their days and to do nothing more; None if they cannot stay."""
    day_0 = ground.today - timedelta(days=ground.today.weekday())
    days: dict[str, ServiceDay] = {}
    for each in visits:
        if each.key in ground.beyond:
            continue
        first, last = (
            (at.astimezone(ground.zone).date() - day_0).days
            for at in (each.begins_at, each.free_at - timedelta(minutes=1))
        )
        for name in map(str, each.lines):
            service = problem.service_by_name.get(name)
            if service is None or last >= problem.days or service.not_before > last:
                return None
            days[name] = ServiceDay(first, last)
    laid: tuple[Visit, ...] = ()
    if days:
        answer = solve(as_it_stands(problem, days), ground.standing)
        if answer.plan is None or answer.plan.skipped:
            return None
        laid = answer.plan.visits
    left = tuple(one.name for one in problem.services if one.name not in days)
    return plan_cost(problem, BayPlan(problem.name, laid, left)).total


def _without_visit(problem: BayProblem, visits: Iterable[BayVisit]) -> tuple[str, ...]:
    done = {str(line) for each in visits for line in each.lines}
    return tuple(one.name for one in problem.services if one.name not in done)


def _neighbours(own: Sequence[BayVisit], others: Iterable[BayVisit], most: int) -> tuple[str, ...]:
    """Marks of the vehicles whose visits lie nearest to these, within a week, `most` of them."""
    spans = [(each.begins_at, each.free_at) for each in own]
    near: dict[str, timedelta] = {}
    for each in others:
        for begins, ends in spans:
            apart = max(begins - each.free_at, each.begins_at - ends, timedelta(0))
            if apart <= timedelta(days=NEIGHBOUR_DAYS):
                near[each.mark] = min(apart, near.get(each.mark, apart))
    return tuple(sorted(sorted(near, key=lambda mark: (near[mark], mark))[: max(0, most)]))


def _proposal(
    plan: _Now,
    ground: BayGround,
    solve: Solve,
    planned: Collection[str],
    hit: Mapping[str, Hit],
    *,
    now: datetime,
    bays: int,
) -> Proposal:
    today, zone = ground.today, ground.zone
    ahead = [each for each in plan.before if each.state is VisitState.PENCILLED and each.begins_at > now]
    visits = tuple(
        sorted((each for own in plan.visits.values() for each in own), key=lambda one: (one.begins_at, one.key))
    )
    visits = with_days_told(visits, plan.before, today=today, zone=zone)
    keys = {each.key for each in visits}
    gone = tuple(each for each in ahead if each.mark in plan.visits and each.key not in keys)
    done = {line for each in visits for line in each.lines}
    left = tuple(
        line
        for mark in sorted(plan.skipped)
        for line in (LineKey(*name.split("/", 2)) for name in plan.skipped[mark])
        if line not in done
    )
    barred: dict[LineKey, NoDay] = {}
    for mark, each in sorted(plan.grounds.items()):
        if each.problem is not None:
            names = [str(line) for line in left if line.mark == mark]
            barred |= barred_of(each.problem, names, partial(_alone, solve, each), MOST_TRIED_ALONE)
    return Proposal(
        today=today,
        zone=zone,
        visits=visits,
        gone=gone,
        kept=ground.inked,
        left=left,
        answer=Answer(Outcome.FOUND, BayPlan("garage", ()), None, None, plan.steps),
        before=plan.before,
        outlooks=plan.outlooks,
        changes=tuple(_changes(plan, visits, gone, left, hit, zone)),
        barred=barred,
        clashes=inked_clashes(ground.inked, bays),
        bays=bays,
        doubts=ground.doubts,
        untouched=sum(each.mark not in plan.visits for each in ahead),
        planned=frozenset(planned),
    )


def _alone(solve: Solve, ground: BayGround, problem: BayProblem) -> Answer:
    return solve(problem, ground.standing)


def _changes(
    plan: _Now,
    visits: Sequence[BayVisit],
    gone: Sequence[BayVisit],
    left: Collection[LineKey],
    hit: Mapping[str, Hit],
    zone: ZoneInfo,
) -> Iterator[PlanChange]:
    """By mark and number, each with its cause: of what was hit by other dates, that is what moved it."""
    for mark, ground in sorted(plan.grounds.items()):
        for change in plan_changes(
            ground.problem,
            before=[each for each in plan.before if each.mark == mark],
            after=[each for each in visits if each.mark == mark],
            gone=[each for each in gone if each.mark == mark],
            left=left,
            wished=None,
            day_0=ground.today - timedelta(days=ground.today.weekday()),
            zone=zone,
            held=ground.held,
            kept=ground.inked,
        ):
            is_of_dates = change.cause is Cause.PRICE and hit.get(mark) is Hit.DATES
            yield replace(change, cause=Cause.DATES) if is_of_dates else change
