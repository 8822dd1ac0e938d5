"""Visits that stand as they are while others are planned: what they take of people, bays and days; and the rest as a
problem of its own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fleetcare.bayplan.calm import ServiceDay, service_days
from fleetcare.bayplan.cost import blocked, work_minutes
from fleetcare.bayplan.plan import BayPlan, Visit, WorkKind
from fleetcare.bayplan.problem import DAY_MIN, BayProblem, BayService


@dataclass(frozen=True, slots=True)
class StandingWork:
    """One stretch of work that is settled. skill: the one it wants, if any."""

    shift: str
    person: str
    start: int
    minutes: int
    skill: str = ""


@dataclass(frozen=True, slots=True)
class StandingStay:
    """One stay in a bay that is settled. ready, leaves: end of its first shift and start of its last one."""

    depot: str
    bay: int
    starts_at: int
    ends_at: int
    ready: int
    leaves: int


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that is settled."""

    work: tuple[StandingWork, ...] = ()
    stays: tuple[StandingStay, ...] = ()


NOTHING_STANDS = Standing()


def standing_of(problem: BayProblem, visits: Iterable[Visit]) -> Standing:
    """What these visits take, by the names of the problem they were planned for."""
    work, stays = [], []
    for visit in visits:
        shifts = [problem.shift_by_name[one.shift] for one in visit.work]
        for one in visit.work:
            skill = ""
            if one.kind is WorkKind.STAGE:
                skill = problem.service_by_name[one.service].stages[one.stage].skill
            work.append(StandingWork(one.shift, one.person, one.start, work_minutes(problem, visit, one), skill))
        begins = min(shift.starts_at for shift in shifts)
        ends = max(shift.ends_at for shift in shifts)
        stays.append(
            StandingStay(
                depot=problem.vehicle_by_name[visit.vehicle].depot,
                bay=visit.bay,
                starts_at=visit.starts_at,
                ends_at=max(one.start + work_minutes(problem, visit, one) for one in visit.work),
                ready=min(shift.ends_at for shift in shifts if shift.starts_at == begins),
                leaves=max(shift.starts_at for shift in shifts if shift.ends_at == ends),
            )
        )
    return Standing(tuple(work), tuple(stays))


def beside(problem: BayProblem, visits: Sequence[Visit], names: Iterable[str]) -> BayProblem:
    """The problem of planning these services alone, beside visits that stand.

    Their vehicles are away on every day a standing visit of theirs touches, and orders between them and services that
    stand become days. Services that neither stand nor are named are left out.
    """
    wanted = frozenset(names)
    days = service_days(problem, BayPlan(problem.name, tuple(visits)))
    services = [_bounded(problem, one, days, wanted) for one in problem.services if one.name in wanted]
    mine = {service.vehicle for service in services}
    taken: dict[str, list[tuple[int, int]]] = {}
    for visit in visits:
        begins, ends = blocked(problem, visit)
        taken.setdefault(visit.vehicle, []).append((begins // DAY_MIN * DAY_MIN, ((ends - 1) // DAY_MIN + 1) * DAY_MIN))
    vehicles = tuple(
        replace(one, away=(*one.away, *taken.get(one.name, ()))) for one in problem.vehicles if one.name in mine
    )
    return replace(problem, vehicles=vehicles, services=tuple(services))


def _bounded(
    problem: BayProblem, service: BayService, known: dict[str, ServiceDay], wanted: frozenset[str]
) -> BayService:
    not_before, not_after = service.not_before, service.not_after
    for each in service.after:
        if each.service not in wanted and each.service in known:
            not_before = max(not_before, known[each.service].last + each.gap_days)
    for other in problem.services:
        for each in other.after:
            if each.service == service.name and other.name in known:
                not_after = min(not_after, known[other.name].first - each.gap_days)
    after = tuple(each for each in service.after if each.service in wanted)
    return replace(service, not_before=not_before, not_after=not_after, after=after)
