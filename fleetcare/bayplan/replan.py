"""A plan kept up after a change: first only what the change hit is planned anew, then what competes with it, if that
pays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import (
    ChangeReport,
    MovePrices,
    ServiceDay,
    change_report,
    hit_vehicles,
    kept_visits,
    published,
    service_days,
)
from fleetcare.bayplan.cost import blocked, plan_cost
from fleetcare.bayplan.plan import BayPlan, Visit, in_order
from fleetcare.bayplan.port import Limits, Solver
from fleetcare.bayplan.problem import DAY_MIN, BayProblem
from fleetcare.bayplan.standing import beside, standing_of

NEIGHBOUR_DAYS = 7
"""Vehicles with a visit this near to one that is planned anew compete with it for hands and bays."""
MOST_FREED = 8


@dataclass(frozen=True, slots=True)
class Replanned:
    """A plan after a change. problem: the one it was planned for, with what people had been told in it; freed: vehicles
    that were planned anew; is_whole: every service that must be done has its place; days_before: of each service in the
    old plan."""

    problem: BayProblem
    plan: BayPlan
    report: ChangeReport
    freed: tuple[str, ...]
    is_whole: bool
    days_before: dict[str, ServiceDay]


def replan(
    old: BayProblem,
    plan: BayPlan,
    new: BayProblem,
    solver: Solver,
    limits: Limits,
    *,
    prices: MovePrices | None = None,
    from_day: int = 0,
    inked: Iterable[str] = (),
) -> Replanned:
    """Plans a changed problem from the plan of the old one. Vehicles that the change does not hit keep their visits.

    inked: services whose days do not move. Where what is hit finds no room, its neighbours are freed as well, and in
    the end all.
    """
    days = service_days(old, plan)
    told = published(new, days, prices or MovePrices(), from_day=from_day, inked=inked)
    known = _known_visits(told, plan)
    names = {name for broken in audit(told, BayPlan(told.name, known)) for name in broken.names}
    placed = {name for visit in known for name in visit.services}
    names -= {name for name in names if name in told.service_by_name and name not in placed and _was_left(plan, name)}
    freed = hit_vehicles(old, new, names)
    if not freed:
        return _result(told, plan, days, _with_skips(told, known), freed)
    found = _planned(told, known, freed, solver, limits)
    for wider in (_neighbours(told, known, freed), frozenset(one.name for one in told.vehicles)):
        if _is_whole(told, found):
            break
        found, freed = _planned(told, known, wider, solver, limits), wider
    return _result(told, plan, days, found, freed)


def improved(now: Replanned, before: BayPlan, solver: Solver, limits: Limits) -> Replanned | None:
    """The same with the neighbours of what was planned anew freed too; None unless that saves more than its moves
    cost."""
    freed = _neighbours(now.problem, now.plan.visits, frozenset(now.freed))
    if freed == frozenset(now.freed):
        return None
    found = _planned(now.problem, now.plan.visits, freed, solver, limits)
    if _is_whole(now.problem, found) < now.is_whole:
        return None
    if plan_cost(now.problem, found).total >= plan_cost(now.problem, now.plan).total:
        return None
    return _result(now.problem, before, now.days_before, found, freed)


def _known_visits(problem: BayProblem, plan: BayPlan) -> tuple[Visit, ...]:
    """Visits all of whose names still exist."""
    return tuple(
        visit
        for visit in plan.visits
        if visit.vehicle in problem.vehicle_by_name
        and all(
            work.shift in problem.shift_by_name
            and work.person in problem.hand_by_name
            and (not work.service or work.service in problem.service_by_name)
            and (not work.setup or work.setup in problem.setup_by_name)
            and (not work.service or work.stage < len(problem.service_by_name[work.service].stages))
            for work in visit.work
        )
    )


def _was_left(plan: BayPlan, name: str) -> bool:
    return name in plan.skipped


def _planned(
    problem: BayProblem, visits: tuple[Visit, ...], freed: frozenset[str], solver: Solver, limits: Limits
) -> BayPlan:
    kept = kept_visits(problem, BayPlan(problem.name, visits), freed)
    names = [one.name for one in problem.services if one.vehicle in freed]
    answer = solver.solve(beside(problem, kept, names), limits, standing=standing_of(problem, kept))
    return _with_skips(problem, (*kept, *(answer.plan.visits if answer.plan else ())))


def _with_skips(problem: BayProblem, visits: tuple[Visit, ...]) -> BayPlan:
    done = {name for visit in visits for name in visit.services}
    return in_order(BayPlan(problem.name, visits, tuple(one.name for one in problem.services if one.name not in done)))


def _is_whole(problem: BayProblem, plan: BayPlan) -> bool:
    return not any(problem.service_by_name[name].is_required for name in plan.skipped)


def _neighbours(problem: BayProblem, visits: tuple[Visit, ...], freed: frozenset[str]) -> frozenset[str]:
    """The freed vehicles with those whose visits lie nearest to theirs, `MOST_FREED` in all at most."""
    days = [_days(problem, visit) for visit in visits if visit.vehicle in freed]
    depots = {problem.vehicle_by_name[name].depot for name in freed}
    near: dict[str, int] = {}
    for visit in visits:
        if visit.vehicle not in freed and problem.vehicle_by_name[visit.vehicle].depot in depots:
            first, last = _days(problem, visit)
            for low, high in days:
                apart = max(low - last, first - high, 0)
                if apart <= NEIGHBOUR_DAYS:
                    near[visit.vehicle] = min(apart, near.get(visit.vehicle, apart))
    nearest = sorted(near, key=lambda name: (near[name], name))[: max(0, MOST_FREED - len(freed))]
    return freed | frozenset(nearest)


def _days(problem: BayProblem, visit: Visit) -> tuple[int, int]:
    begins, ends = blocked(problem, visit)
    return begins // DAY_MIN, (ends - 1) // DAY_MIN


def _result(
    problem: BayProblem, before: BayPlan, days: dict[str, ServiceDay], after: BayPlan, freed: frozenset[str]
) -> Replanned:
    report = change_report(problem, before, after, can_be_kept=not audit(problem, before), days_before=days)
    return Replanned(problem, after, report, tuple(sorted(freed)), _is_whole(problem, after), days)
