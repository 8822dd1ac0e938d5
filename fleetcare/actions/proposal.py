"""A plan that was worked out and counts once somebody takes it; how a search becomes one. Not an action itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import BayGround
from fleetcare.bayplan.cost import PlanCost
from fleetcare.bayplan.garage_problem import planned_visits
from fleetcare.bayplan.impossible import NoDay, NoDayKind, alone, no_day
from fleetcare.bayplan.lead_reason import lead_reason
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.plan_changes import PlanChange, told_from
from fleetcare.bayplan.port import Answer, Outcome
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.bayplan.workshop_doubts import NO_DOUBTS, WorkshopDoubts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.component import LineKey

MOST_TRIED_ALONE = 40
"""Of what is left, so many services are tried by themselves; each takes some hundredths of a second."""

Solve = Callable[[BayProblem, Standing], Answer]
"""The best plan beside what is settled."""


@dataclass(frozen=True, slots=True)
class Granted:
    """What a wish leads to. was: the visit as it stands; it is inked on the day if the plan is taken.

    extra_cents: what the best plan with it costs more than the best one without it, both as far as they were searched.
    """

    was: BayVisit
    on: date
    extra_cents: int


@dataclass(frozen=True, slots=True)
class Proposal:
    """Visits that would be pencilled, and what becomes of those that are.

    gone: pencilled now, and not in the proposal. kept: not touched, because it is inked. left: services that are left
    for a later plan. answer: what the search said; None if nothing is to be planned. granted: the wish that the plan
    was made around, if it was.
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
    granted: Granted | None = None
    changes: tuple[PlanChange, ...] = ()
    """What taking it changes, each with its cause."""
    cost: PlanCost | None = None
    """Its price, term by term; None without a plan."""
    barred: Mapping[LineKey, NoDay] = field(default_factory=dict)
    """Of what is left, what has no day even with the garage to itself, and why."""
    not_due: tuple[LineKey, ...] = ()
    """Services of visits that stay which do not come due in the time that is planned, and are in no visit any more."""
    clashes: tuple[tuple[BayVisit, ...], ...] = ()
    """Inked visits that cannot all be, the fewest together."""
    bays: int = 1
    doubts: WorkshopDoubts = NO_DOUBTS
    """What in the workshop's own figures leads nowhere."""
    untouched: int | None = None
    """Where only what a change hit was planned anew: how many other pencilled visits stand beside it."""
    planned: frozenset[str] = frozenset()
    """Then, too: marks of the vehicles that were hit, and that were planned anew before the search ended."""

    @property
    def moved(self) -> tuple[tuple[BayVisit, BayVisit], ...]:
        """Visits that were pencilled for another time, before and after."""
        old = {each.key: each for each in self.before}
        return tuple(
            (old[each.key], each)
            for each in self.visits
            if each.key in old and old[each.key].begins_at != each.begins_at
        )


def visits_of(
    ground: BayGround, problem: BayProblem, plan: BayPlan, *, now: datetime, freed: BayVisit | None = None
) -> tuple[BayVisit, ...]:
    """The visits of a plan as they would be pencilled, each with why it is on its day. freed: the inked visit that a
    wish is about."""
    known = tuple(
        replace(each, state=VisitState.PENCILLED) if freed is not None and each.key == freed.key else each
        for each in ground.before
    )
    visits = planned_visits(problem, plan, today=ground.today, zone=ground.zone, before=pencilled_first(known, now))
    return tuple(replace(each, reason=lead_reason(each, ground.outlooks[each.mark], ground.today)) for each in visits)


def with_days_told(
    visits: Sequence[BayVisit], before: Sequence[BayVisit], *, today: date, zone: ZoneInfo
) -> tuple[BayVisit, ...]:
    """The same visits, each with the day that people had counted on, where it moves off it."""
    old = {each.key: each for each in before}
    return tuple(
        replace(each, moved_from=told_from(old[each.key], each, today=today, zone=zone)) if each.key in old else each
        for each in visits
    )


def staying_beyond(ground: BayGround, visits: Sequence[BayVisit]) -> tuple[BayVisit, ...]:
    """Pencilled visits after the time that is planned whose services have no other visit in the plan: they may come
    sooner, if that pays; where they are only left for later, their day later on stands."""
    done = {line for each in visits for line in each.lines}
    return tuple(each for each in ground.pencilled if each.key in ground.beyond and not done & set(each.lines))


def barred_of(
    problem: BayProblem, skipped: Sequence[str], solve: Callable[[BayProblem], Answer], most: int = MOST_TRIED_ALONE
) -> dict[LineKey, NoDay]:
    """Of what a plan leaves, what has no day even alone, and why: by its rules, else by trying, `most` times."""
    found = {}
    tried = 0
    for name in skipped:
        service = problem.service_by_name[name]
        why = no_day(problem, service)
        if why is None and tried < most:
            tried += 1
            if solve(alone(problem, service)).outcome is Outcome.IMPOSSIBLE:
                why = NoDay(NoDayKind.ALONE, f"{name} fits on no day.")
        if why is not None:
            found[LineKey(*name.split("/", 2))] = why
    return found


def not_due_of(before: Sequence[BayVisit], after: Sequence[BayVisit], problem: BayProblem) -> tuple[LineKey, ...]:
    """Services of visits that stay which the problem does not know, and that are in no visit any more."""
    old = {each.key: each for each in before}
    there = {line for each in after for line in each.lines}
    lost = [line for each in after if each.key in old for line in old[each.key].lines if line not in there]
    return tuple(line for line in dict.fromkeys(lost) if str(line) not in problem.service_by_name)


def pencilled_first(before: Sequence[BayVisit], now: datetime) -> tuple[BayVisit, ...]:
    """Every visit, those that are pencilled and over as if they were rubbed out: they give no number away."""
    return tuple(
        replace(each, state=VisitState.RUBBED_OUT)
        if each.state is VisitState.PENCILLED and each.begins_at <= now
        else each
        for each in before
    )
