"""Re-planning calmly: days in ink stay, days in pencil move only if it pays more than the price of moving; what
moved."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.plan import BayPlan, Visit, WorkKind
from fleetcare.bayplan.problem import BayProblem, BayService, Published

NEAR_DAYS = 14
"""Within this time a move is dearer: people have arranged themselves. Judgement, no source."""


@dataclass(frozen=True, slots=True)
class MovePrices:
    """What moving a published service costs. near_cents instead of cents if it was to begin within a fortnight."""

    cents: int = 500
    per_day_cents: int = 20
    near_cents: int = 2000


@dataclass(frozen=True, slots=True)
class ServiceDay:
    """One service of a plan on its days: of its first and its last stage."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Moved:
    """One service whose day is another. was, now: the day it begins; None: in no visit."""

    service: str
    vehicle: str
    was: int | None
    now: int | None


@dataclass(frozen=True, slots=True)
class ChangeReport:
    """What a new plan changes. visits_moved: visits of the old plan that begin on another day, or are gone.
    saves_cents: how much cheaper the new plan is than keeping the old days, move prices left out; None if these cannot
    be kept."""

    moved: tuple[Moved, ...]
    visits_moved: int
    saves_cents: int | None


def service_days(problem: BayProblem, plan: BayPlan) -> dict[str, ServiceDay]:
    """The days of each service that the plan does."""
    found: dict[str, ServiceDay] = {}
    for visit in plan.visits:
        for work in visit.work:
            if work.kind is WorkKind.STAGE and work.service in problem.service_by_name:
                day = problem.shift_by_name[work.shift].day
                known = found.get(work.service, ServiceDay(day, day))
                found[work.service] = ServiceDay(min(known.first, day), max(known.last, day))
    return found


def published(
    problem: BayProblem,
    days: Mapping[str, ServiceDay],
    prices: MovePrices,
    *,
    from_day: int = 0,
    inked: Iterable[str] = (),
) -> BayProblem:
    """The problem with these days as the ones people were told: moving costs from now on, and what is inked (names of
    services) cannot move at all. from_day: today, as a day of the horizon."""
    ink = frozenset(inked)

    def told(service: BayService) -> BayService:
        day = days.get(service.name)
        if day is None:
            return service
        is_near = day.first - from_day <= NEAR_DAYS
        cents = prices.near_cents if is_near else prices.cents
        known = replace(service, published=Published(day.first, cents, prices.per_day_cents))
        return pinned(known, day) if service.name in ink else known

    return replace(problem, services=tuple(told(service) for service in problem.services))


def pinned(service: BayService, day: ServiceDay) -> BayService:
    """The service on these days and no others: it begins on the first and ends on the last, and must be done."""
    return replace(service, not_before=day.first, not_after=day.last, is_required=True)


def as_it_stands(problem: BayProblem, days: Mapping[str, ServiceDay]) -> BayProblem:
    """The problem of laying these services between the days they have, and no others: what the plan as it stands costs
    at least. Where no plan does all of them, they cannot stay."""
    services = tuple(
        replace(
            pinned(one, days[one.name]),
            not_before=max(one.not_before, days[one.name].first),
            after=tuple(each for each in one.after if each.service in days),
        )
        for one in problem.services
        if one.name in days
    )
    mine = {one.vehicle for one in services}
    return replace(problem, services=services, vehicles=tuple(one for one in problem.vehicles if one.name in mine))


def without_moves(problem: BayProblem) -> BayProblem:
    """The problem as if nobody had been told anything."""
    return replace(problem, services=tuple(replace(one, published=None) for one in problem.services))


def change_report(
    problem: BayProblem,
    before: BayPlan,
    after: BayPlan,
    *,
    can_be_kept: bool,
    days_before: Mapping[str, ServiceDay] | None = None,
) -> ChangeReport:
    """What moved between two plans. can_be_kept: the old plan keeps every rule of this problem. days_before: its days,
    if it was made for another problem."""
    was = service_days(problem, before) if days_before is None else days_before
    now = service_days(problem, after)
    moved = []
    for service in problem.services:
        old, new = was.get(service.name), now.get(service.name)
        if old is not None and (new is None or new.first != old.first):
            moved.append(Moved(service.name, service.vehicle, old.first, None if new is None else new.first))
        elif old is None and new is not None:
            moved.append(Moved(service.name, service.vehicle, None, new.first))
    names = {one.service for one in moved if one.was is not None}
    visits_moved = sum(bool(names & set(visit.services)) for visit in before.visits)
    saves = None
    if can_be_kept:
        bare = without_moves(problem)
        saves = plan_cost(bare, before).total - plan_cost(bare, after).total
    return ChangeReport(tuple(moved), visits_moved, saves)


def hit_vehicles(old: BayProblem, new: BayProblem, broken: Iterable[str]) -> frozenset[str]:
    """Vehicles that a change concerns: themselves or a service of theirs changed, or a rule broke that names them or
    one of their services. broken: names out of an audit of the old plan against the new problem."""
    names = set(broken)
    before: Mapping[str, BayService] = old.service_by_name
    found = set()
    for vehicle in new.vehicles:
        if old.vehicle_by_name.get(vehicle.name) != vehicle or vehicle.name in names:
            found.add(vehicle.name)
    for service in new.services:
        known = before.get(service.name)
        if known is None or replace(known, published=service.published) != service or service.name in names:
            found.add(service.vehicle)
    for service in old.services:
        if service.name not in new.service_by_name and service.vehicle in new.vehicle_by_name:
            found.add(service.vehicle)
    return frozenset(found)


def kept_visits(problem: BayProblem, plan: BayPlan, freed: frozenset[str]) -> tuple[Visit, ...]:
    """Visits of vehicles that are not freed, as they stand."""
    return tuple(visit for visit in plan.visits if visit.vehicle not in freed)
