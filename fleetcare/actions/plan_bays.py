"""Days in the bay are proposed for what comes due, and written down as pencilled visits if somebody takes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.actions.bay_ground import Workplace, bay_ground
from fleetcare.actions.gather import Rules
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import settle
from fleetcare.actions.sheet_visits import follow_visit
from fleetcare.bayplan.garage_problem import planned_visits
from fleetcare.bayplan.port import Answer
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import Standing
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.errors import Clash
from fleetcare.fleet.bay_visit import BayVisit, VisitState
from fleetcare.fleet.component import LineKey

Solve = Callable[[BayProblem, Standing], Answer]
"""The best plan beside what is settled."""


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
    store: Store,
    rules: Rules,
    workplace: Workplace,
    solve: Solve,
    *,
    now: datetime,
    horizon_days: int | None = None,
    pinned: BayVisit | None = None,
) -> Proposal:
    """The plan that costs least by the workshop's prices. Writes nothing.

    Inked visits stand and their services are not planned again; pencilled ones may move at a price. pinned: a visit as
    somebody wishes it, taken for inked. Raises BadInput if nobody works here.
    """
    ground = bay_ground(store, rules, workplace, now=now, horizon_days=horizon_days, pinned=pinned)
    today, zone, before, outlooks = ground.today, ground.zone, ground.before, ground.outlooks
    problem, pencilled, inked = ground.problem, ground.pencilled, ground.inked
    if problem is None:
        return Proposal(today, zone, (), pencilled, inked, (), None, before, outlooks)
    answer = solve(problem, ground.standing)
    if answer.plan is None:
        left = tuple(each.line for each in ground.wanted)
        return Proposal(today, zone, pencilled, (), inked, left, answer, before, outlooks)
    known = tuple(pinned if pinned is not None and each.key == pinned.key else each for each in before)
    visits = planned_visits(problem, answer.plan, today=today, zone=zone, before=pencilled_first(known, now))
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
            follow_visit(unit, visit, proposal.zone)
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
