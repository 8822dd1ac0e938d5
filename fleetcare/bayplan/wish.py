"""A visit that is wished for on one day: the problem around it, and what keeps it from that day."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from fleetcare.bayplan.cost import blocked
from fleetcare.bayplan.explain import Forbidden, why_not
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.problem import DAY_MIN, BayProblem, BayService, Published

HELD_CENTS = 10**6
"""The price of beginning on another day than the wished one, so high that no plan pays it; one visit may last several
days, so the day of its last stage cannot be fixed instead."""


def wished(problem: BayProblem, names: Collection[str], day: int) -> BayProblem:
    """The problem in which these services must be done in a visit that begins on the day; prices of the rest stay."""
    reach = problem.max_visit_min // DAY_MIN + 1

    def held(service: BayService) -> BayService:
        if service.name not in names:
            return service
        if len(service.stages) == 1:
            return replace(service, not_before=day, not_after=day, is_required=True, published=None)
        last, told = min(day + reach, problem.days - 1), Published(day, HELD_CENTS, 0)
        return replace(service, not_before=day, not_after=last, is_required=True, published=told)

    return replace(problem, services=tuple(held(service) for service in problem.services))


def is_kept(problem: BayProblem, plan: BayPlan, names: Collection[str], day: int) -> bool:
    """Whether one visit of the plan does all these services and begins on that day."""
    return any(
        set(names) <= set(visit.services) and blocked(problem, visit)[0] // DAY_MIN == day for visit in plan.visits
    )


def why_not_then(problem: BayProblem, vehicle: str, names: Sequence[str], day: int) -> Forbidden:
    """The first rule that keeps a vehicle from coming in for these services on that day, nothing else planned."""
    work = tuple(Work(WorkKind.STAGE, "", "", 0, service=name, stage=0) for name in names)
    return why_not(problem, BayPlan(problem.name, ()), Visit(vehicle, 0, work), day)
