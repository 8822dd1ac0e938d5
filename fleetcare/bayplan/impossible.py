"""What cannot be planned, in words: services that have no day by themselves, and the fewest wishes that clash."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from fleetcare.bayplan.port import Limits, Outcome, Solver
from fleetcare.bayplan.problem import BayProblem, BayService, PlanVehicle

MOST_WISHES = 150
"""Beyond so many wishes in one depot the search for those that clash is not begun."""


class WishKind(StrEnum):
    """What somebody wants of a plan."""

    SERVICE = "service"
    WINDOW = "window"
    ORDER = "order"
    BOOKING = "booking"


@dataclass(frozen=True, slots=True)
class Wish:
    """One wish. name: the service or vehicle; at: which of its bookings, or of what it comes after."""

    kind: WishKind
    name: str
    at: int = 0


class NoDayKind(StrEnum):
    """Why a service has no day, whatever else is planned."""

    NOBODY = "nobody"
    NO_BAY = "no bay"
    SKILL = "skill"
    TOO_LONG = "too long"
    WINDOW = "window"
    AWAY = "away"
    CHAIN = "chain"
    ALONE = "alone"
    """Proven by a search: it has no day, and no single rule says why."""


@dataclass(frozen=True, slots=True)
class NoDay:
    """Why a service has no day even with the garage to itself. figures: minutes or days, as the sentence has them."""

    kind: NoDayKind
    sentence: str
    skill: str = ""
    figures: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True)
class Hopeless:
    """A service that must be done and has no day even with the garage to itself, and why."""

    service: str
    sentence: str


def hopeless(problem: BayProblem) -> tuple[Hopeless, ...]:
    """Services that must be done and cannot be, each by itself and by name, without searching."""
    found = []
    for service in problem.services:
        why = no_day(problem, service) if service.is_required else None
        if why is not None:
            found.append(Hopeless(service.name, why.sentence))
    return tuple(found)


def no_day(problem: BayProblem, service: BayService) -> NoDay | None:
    """Why this service cannot be done on any day, nothing else in the way; None if it could be or is not ruled out."""
    vehicle = problem.vehicle_by_name[service.vehicle]
    depot = problem.depot_by_name[vehicle.depot]
    shifts = [one for one in problem.shifts if one.depot == depot.name and one.people]
    if not shifts:
        return NoDay(NoDayKind.NOBODY, f"{depot.name} has no day with anybody there.")
    if depot.bays == 0:
        return NoDay(NoDayKind.NO_BAY, f"{depot.name} has no bay.")
    for stage in service.stages:
        if stage.skill and not any(stage.skill in problem.skills_of(shift) for shift in shifts):
            told = f"{service.name} wants {stage.skill}, and nobody has that skill."
            return NoDay(NoDayKind.SKILL, told, skill=stage.skill)
    setups = sum(problem.setup_by_name[name].minutes for name in service.setups)
    longest = max(shift.length for shift in shifts)
    needed = max(setups + service.stages[0].minutes, *(stage.minutes for stage in service.stages))
    if needed > longest:
        told = f"{service.name} takes {needed} minutes at a stretch, and no shift is longer than {longest}."
        return NoDay(NoDayKind.TOO_LONG, told, figures=(needed, longest))
    inside = [one for one in shifts if service.not_before <= one.day <= service.not_after]
    if not inside:
        days = (service.not_before, service.not_after)
        told = f"{service.name} is wanted from day {days[0]} to {days[1]}, and nobody is there then."
        return NoDay(NoDayKind.WINDOW, told, figures=days)
    if not [one for one in inside if _is_here(vehicle, one.starts_at, one.ends_at)]:
        return NoDay(NoDayKind.AWAY, f"{vehicle.name} is away whenever somebody is there for {service.name}.")
    if len(service.stages) > 1 and service.waits and not _chain_fits(problem, service):
        least = sum(wait.least for wait in service.waits)
        most = sum(wait.most for wait in service.waits)
        told = f"The stages of {service.name} lie {least} to {most} minutes apart, and no two shifts do."
        return NoDay(NoDayKind.CHAIN, told, figures=(least, most))
    return None


def alone(problem: BayProblem, service: BayService) -> BayProblem:
    """The problem in which this service must be done and nothing else is to be planned."""
    must = replace(service, is_required=True, skip_cents=0, published=None, after=())
    return replace(problem, vehicles=(problem.vehicle_by_name[service.vehicle],), services=(must,))


def _is_here(vehicle: PlanVehicle, begins: int, ends: int) -> bool:
    return not any(begins < back and gone < ends for gone, back in vehicle.away)


def _chain_fits(problem: BayProblem, service: BayService) -> bool:
    """Whether the stages can be laid into shifts with their waits, nothing else in the way."""
    vehicle = problem.vehicle_by_name[service.vehicle]
    shifts = [
        one
        for one in problem.shifts
        if one.depot == vehicle.depot
        and one.people
        and service.not_before <= one.day <= service.not_after
        and _is_here(vehicle, one.starts_at, one.ends_at)
    ]
    # Spans in which each next stage may begin, from each shift the first one may lie in, with where the visit began.
    open_spans = [
        (one.starts_at, one.ends_at - service.stages[0].minutes, one.starts_at)
        for one in shifts
        if one.length >= service.stages[0].minutes and _may(problem, service, 0, one.people)
    ]
    for at, wait in enumerate(service.waits, start=1):
        minutes, before = service.stages[at].minutes, service.stages[at - 1].minutes
        found = []
        for low, high, began in open_spans:
            for one in shifts:
                first = max(low + before + wait.least, one.starts_at)
                last = min(high + before + wait.most, one.ends_at - minutes)
                is_short = one.ends_at - began <= problem.max_visit_min
                is_able = _may(problem, service, at, one.people)
                if first <= last and is_short and is_able and _is_here(vehicle, began, one.ends_at):
                    found.append((first, last, began))
        open_spans = sorted(frozenset(found))
    return bool(open_spans)


def _may(problem: BayProblem, service: BayService, stage: int, people: tuple[str, ...]) -> bool:
    skill = service.stages[stage].skill
    return not skill or any(skill in problem.hand_by_name[name].skills for name in people)


def smallest_clash(problem: BayProblem, solver: Solver, limits: Limits) -> tuple[Wish, ...]:
    """The fewest wishes of which none can be spared for there to be no plan; nothing if a plan exists or is not ruled
    out.

    Wishes are taken away one after another, each put back if the rest could then be planned: what is left clashes, and
    would not without any one of them. It need not be the only such set. Nothing as well where a depot has more than
    `MOST_WISHES`.
    """
    wishes = _wishes(problem)
    kept: list[Wish] = []
    # A vehicle at a time first, then a depot: what clashes lies in one of them.
    for mine in _stretches(problem):
        part = [wish for wish in wishes if wish.name in mine]
        if _clashes(problem, part, solver, limits):
            kept = part
            break
    if len(kept) > MOST_WISHES:
        return ()
    for wish in list(kept):
        fewer = [one for one in kept if one != wish]
        if _clashes(problem, fewer, solver, limits):
            kept = fewer
    return tuple(kept)


def _stretches(problem: BayProblem) -> list[frozenset[str]]:
    """Names of each vehicle with its services, then of all in each depot."""
    found = [
        frozenset([vehicle.name, *(one.name for one in problem.services if one.vehicle == vehicle.name)])
        for vehicle in problem.vehicles
    ]
    for depot in problem.depots:
        mine = {one.name for one in problem.vehicles if one.depot == depot.name}
        found.append(frozenset(mine | {one.name for one in problem.services if one.vehicle in mine}))
    return found


def _wishes(problem: BayProblem) -> list[Wish]:
    """Services come first, so that as few of them as possible are left to read about."""
    wishes = [Wish(WishKind.SERVICE, one.name) for one in problem.services if one.is_required]
    for vehicle in problem.vehicles:
        wishes += [Wish(WishKind.BOOKING, vehicle.name, at) for at in range(len(vehicle.away))]
    for one in problem.services:
        wishes += [Wish(WishKind.ORDER, one.name, at) for at in range(len(one.after))]
        if one.not_before > 0 or one.not_after < problem.days - 1:
            wishes.append(Wish(WishKind.WINDOW, one.name))
    return wishes


def _clashes(problem: BayProblem, wishes: list[Wish], solver: Solver, limits: Limits) -> bool:
    answer = solver.solve(only(problem, wishes), limits)
    return answer.outcome is Outcome.IMPOSSIBLE


def only(problem: BayProblem, wishes: list[Wish]) -> BayProblem:
    """The problem with these wishes and no others: what is not wished for is not there at all, nor is its vehicle."""
    kept = frozenset(wishes)
    names = {one.name for one in wishes if one.kind is WishKind.SERVICE}
    services = []
    for one in problem.services:
        if one.name not in names:
            continue
        changed = one
        if Wish(WishKind.WINDOW, one.name) not in kept:
            changed = replace(changed, not_before=0, not_after=problem.days - 1)
        orders = enumerate(one.after)
        changed = replace(
            changed,
            after=tuple(
                each for at, each in orders if Wish(WishKind.ORDER, one.name, at) in kept and each.service in names
            ),
        )
        services.append(changed)
    comes_in = {one.vehicle for one in services}
    vehicles = tuple(
        replace(
            one,
            away=tuple(span for at, span in enumerate(one.away) if Wish(WishKind.BOOKING, one.name, at) in kept),
        )
        for one in problem.vehicles
        if one.name in comes_in
    )
    return replace(problem, vehicles=vehicles, services=tuple(services))


def wish_sentence(problem: BayProblem, wish: Wish) -> str:
    """A wish in words."""
    if wish.kind is WishKind.BOOKING:
        gone, back = problem.vehicle_by_name[wish.name].away[wish.at]
        return f"{wish.name} is away from day {gone // 1440} to day {(back - 1) // 1440}"
    service = problem.service_by_name[wish.name]
    if wish.kind is WishKind.ORDER:
        after = service.after[wish.at]
        return f"{wish.name} comes {after.gap_days} days or more after {after.service}"
    if wish.kind is WishKind.WINDOW:
        if service.not_before == service.not_after:
            return f"{wish.name} is to be done on day {service.not_before}"
        return (
            f"{wish.name} is to be done from day {service.not_before} to day {min(service.not_after, problem.days - 1)}"
        )
    return f"{wish.name} must be done"
