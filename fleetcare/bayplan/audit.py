"""Which rules a plan breaks, read off the plan alone: it shares no code with a solver."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from fleetcare.bayplan.cost import blocked, work_minutes
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.problem import BayProblem


class Rule(StrEnum):
    """The rules of a plan."""

    NAMES = "names are known"
    WHOLE = "each service is done once, whole, in one visit"
    SHIFT = "work lies in its shift, by somebody of the shift who may do it"
    PERSON = "a person does one thing at a time"
    VEHICLE = "one job at a time on a vehicle"
    ARRIVAL = "a visit starts with one arrival in its first shift"
    SETUP = "a set-up is done once in a visit, before what needs it, in one shift with it"
    WAIT = "waits between stages are kept to the minute"
    BAY = "a visit holds one bay from its first work to its last"
    AWAY = "a vehicle that is away is in no bay"
    STAY = "no visit is longer than allowed, and no two of a vehicle touch one day"
    WINDOW = "days and orders asked for are kept"


@dataclass(frozen=True, slots=True)
class BrokenRule:
    """One rule that a plan breaks, with the names it is about and a sentence."""

    rule: Rule
    names: tuple[str, ...]
    sentence: str


def audit(problem: BayProblem, plan: BayPlan) -> tuple[BrokenRule, ...]:
    """Every rule the plan breaks; nothing if it can be done as it stands."""
    unknown = tuple(_unknown_names(problem, plan))
    if unknown:
        return unknown
    found = [*_whole(problem, plan)]
    for visit in plan.visits:
        if visit.work:
            found += [*_in_shift(problem, visit), *_arrival(problem, visit), *_setups(problem, visit)]
            found += [*_waits(problem, visit), *_stay(problem, visit), *_window(problem, visit)]
    found += [
        *_one_at_a_time(problem, plan),
        *_bays(problem, plan),
        *_days_apart(problem, plan),
        *_orders(problem, plan),
    ]
    return tuple(found)


def _unknown_names(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    for name in plan.skipped:
        if name not in problem.service_by_name:
            yield BrokenRule(Rule.NAMES, (name,), f"There is no service {name}.")
    for visit in plan.visits:
        if visit.vehicle not in problem.vehicle_by_name:
            yield BrokenRule(Rule.NAMES, (visit.vehicle,), f"There is no vehicle {visit.vehicle}.")
        if not visit.work:
            yield BrokenRule(Rule.NAMES, (visit.vehicle,), f"A visit of {visit.vehicle} holds no work.")
        for work in visit.work:
            named: list[tuple[str, Mapping[str, object]]] = [
                (work.shift, problem.shift_by_name),
                (work.person, problem.hand_by_name),
            ]
            if work.kind is WorkKind.SETUP:
                named.append((work.setup, problem.setup_by_name))
            elif work.kind is WorkKind.STAGE:
                named.append((work.service, problem.service_by_name))
            for name, known in named:
                if name not in known:
                    yield BrokenRule(Rule.NAMES, (visit.vehicle, name), f"Nothing here is called {name or 'nothing'}.")
            if work.kind is WorkKind.STAGE and work.service in problem.service_by_name:
                stages = len(problem.service_by_name[work.service].stages)
                if not 0 <= work.stage < stages:
                    yield BrokenRule(Rule.NAMES, (work.service,), f"{work.service} has no stage {work.stage}.")


def _whole(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    done: Counter[tuple[str, int]] = Counter()
    visits_of: dict[str, set[int]] = {}
    for at, visit in enumerate(plan.visits):
        for work in visit.work:
            if work.kind is WorkKind.STAGE:
                done[work.service, work.stage] += 1
                visits_of.setdefault(work.service, set()).add(at)
                service = problem.service_by_name[work.service]
                if service.vehicle != visit.vehicle:
                    yield BrokenRule(
                        Rule.WHOLE,
                        (work.service, visit.vehicle),
                        f"{work.service} belongs to {service.vehicle}, not to {visit.vehicle}.",
                    )
    skips = Counter(plan.skipped)
    for service in problem.services:
        name = service.name
        counts = [done[name, stage] for stage in range(len(service.stages))]
        if skips[name]:
            if service.is_required:
                yield BrokenRule(Rule.WHOLE, (name,), f"{name} must be done and is left out.")
            if any(counts) or skips[name] > 1:
                yield BrokenRule(Rule.WHOLE, (name,), f"{name} is left out and done, or left out twice.")
        elif any(count != 1 for count in counts):
            yield BrokenRule(Rule.WHOLE, (name,), f"{name} is not done once with all its stages.")
        elif len(visits_of[name]) != 1:
            yield BrokenRule(Rule.WHOLE, (name,), f"{name} is spread over several visits.")


def _in_shift(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    depot = problem.vehicle_by_name[visit.vehicle].depot
    for work in visit.work:
        shift = problem.shift_by_name[work.shift]
        what = work.service or work.setup or "the arrival"
        ends = work.start + work_minutes(problem, visit, work)
        if shift.depot != depot:
            yield BrokenRule(
                Rule.SHIFT, (visit.vehicle, shift.name), f"{shift.name} is not in the depot of {visit.vehicle}."
            )
        if not shift.starts_at <= work.start <= ends <= shift.ends_at:
            yield BrokenRule(Rule.SHIFT, (what, shift.name), f"{what} does not lie within {shift.name}.")
        if work.person not in shift.people:
            yield BrokenRule(Rule.SHIFT, (what, work.person), f"{work.person} is not there in {shift.name}.")
        if work.kind is WorkKind.STAGE:
            skill = problem.service_by_name[work.service].stages[work.stage].skill
            if skill and skill not in problem.hand_by_name[work.person].skills:
                yield BrokenRule(Rule.SHIFT, (what, work.person), f"{work.person} may not do {what}: it wants {skill}.")


def _one_at_a_time(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    by_person: dict[str, list[tuple[int, int]]] = {}
    by_vehicle: dict[str, list[tuple[int, int]]] = {}
    for visit in plan.visits:
        for work in visit.work:
            minutes = work_minutes(problem, visit, work)
            if minutes:
                span = (work.start, work.start + minutes)
                by_person.setdefault(work.person, []).append(span)
                by_vehicle.setdefault(visit.vehicle, []).append(span)
    for rule, spans_of in ((Rule.PERSON, by_person), (Rule.VEHICLE, by_vehicle)):
        for name, spans in spans_of.items():
            for before, behind in pairwise(sorted(spans)):
                if behind[0] < before[1]:
                    yield BrokenRule(rule, (name,), f"Two things at once for {name} at minute {behind[0]}.")


def _arrival(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    arrivals = [work for work in visit.work if work.kind is WorkKind.ARRIVE]
    if len(arrivals) != 1:
        yield BrokenRule(Rule.ARRIVAL, (visit.vehicle,), f"{visit.vehicle} arrives {len(arrivals)} times in a visit.")
        return
    ready_at = arrivals[0].start + work_minutes(problem, visit, arrivals[0])
    others = [work for work in visit.work if work is not arrivals[0]]
    first_shift = min(problem.shift_by_name[work.shift].starts_at for work in visit.work)
    if problem.shift_by_name[arrivals[0].shift].starts_at != first_shift:
        yield BrokenRule(Rule.ARRIVAL, (visit.vehicle,), f"{visit.vehicle} does not arrive in its first shift.")
    if any(work.start < ready_at for work in others):
        yield BrokenRule(Rule.ARRIVAL, (visit.vehicle,), f"Work on {visit.vehicle} begins before it has arrived.")


def _setups(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    made: dict[str, Work] = {}
    for work in visit.work:
        if work.kind is WorkKind.SETUP:
            if work.setup in made:
                yield BrokenRule(Rule.SETUP, (visit.vehicle, work.setup), f"{work.setup} is done twice in a visit.")
            made[work.setup] = work
    for work in visit.work:
        if work.kind is not WorkKind.STAGE or work.stage != 0:
            continue
        for name in problem.service_by_name[work.service].setups:
            setup = made.get(name)
            if setup is None:
                yield BrokenRule(Rule.SETUP, (work.service, name), f"{work.service} wants {name} first.")
            elif setup.shift != work.shift or setup.start + work_minutes(problem, visit, setup) > work.start:
                yield BrokenRule(
                    Rule.SETUP, (work.service, name), f"{name} is not done before {work.service} in its shift."
                )


def _waits(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    stages: dict[str, dict[int, Work]] = {}
    for work in visit.work:
        if work.kind is WorkKind.STAGE:
            stages.setdefault(work.service, {})[work.stage] = work
    for name, at in stages.items():
        for number, wait in enumerate(problem.service_by_name[name].waits):
            if number in at and number + 1 in at:
                waited = at[number + 1].start - at[number].start - work_minutes(problem, visit, at[number])
                if not wait.least <= waited <= wait.most:
                    yield BrokenRule(
                        Rule.WAIT, (name,), f"{name} waits {waited} minutes; {wait.least} to {wait.most} are wanted."
                    )


def _bays(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    held: dict[tuple[str, int], list[tuple[int, int, str]]] = {}
    for visit in plan.visits:
        depot = problem.depot_by_name[problem.vehicle_by_name[visit.vehicle].depot]
        if not 0 <= visit.bay < depot.bays:
            yield BrokenRule(Rule.BAY, (visit.vehicle, depot.name), f"{depot.name} has no bay {visit.bay}.")
        ends = max(work.start + work_minutes(problem, visit, work) for work in visit.work)
        held.setdefault((depot.name, visit.bay), []).append((visit.starts_at, ends, visit.vehicle))
    for (depot_name, bay), spans in held.items():
        for before, behind in pairwise(sorted(spans)):
            if behind[0] < before[1]:
                yield BrokenRule(
                    Rule.BAY, (before[2], behind[2]), f"{before[2]} and {behind[2]} share bay {bay} of {depot_name}."
                )


def _stay(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    begins, ends = blocked(problem, visit)
    for gone, back in problem.vehicle_by_name[visit.vehicle].away:
        if begins < back and gone < ends:
            yield BrokenRule(Rule.AWAY, (visit.vehicle,), f"{visit.vehicle} is away from minute {gone} to {back}.")
    if ends - begins > problem.max_visit_min:
        yield BrokenRule(
            Rule.STAY,
            (visit.vehicle,),
            f"{visit.vehicle} stays {ends - begins} minutes; {problem.max_visit_min} are allowed.",
        )


def _days_apart(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    stays: dict[str, list[tuple[int, int]]] = {}
    for visit in plan.visits:
        days = _days(problem, visit.work)
        stays.setdefault(visit.vehicle, []).append((min(days), max(days)))
    for name, spans in stays.items():
        for before, behind in pairwise(sorted(spans)):
            if behind[0] <= before[1]:
                yield BrokenRule(Rule.STAY, (name,), f"Two visits of {name} touch day {behind[0]}.")


def _days(problem: BayProblem, work: Iterable[Work]) -> list[int]:
    return [problem.shift_by_name[one.shift].day for one in work]


def _window(problem: BayProblem, visit: Visit) -> Iterator[BrokenRule]:
    for work in visit.work:
        if work.kind is not WorkKind.STAGE:
            continue
        service = problem.service_by_name[work.service]
        day = problem.shift_by_name[work.shift].day
        if work.stage == 0 and day < service.not_before:
            yield BrokenRule(Rule.WINDOW, (service.name,), f"{service.name} begins before day {service.not_before}.")
        if work.stage == len(service.stages) - 1 and day > service.not_after:
            yield BrokenRule(Rule.WINDOW, (service.name,), f"{service.name} ends after day {service.not_after}.")


def _orders(problem: BayProblem, plan: BayPlan) -> Iterator[BrokenRule]:
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for visit in plan.visits:
        for work in visit.work:
            if work.kind is WorkKind.STAGE:
                day = problem.shift_by_name[work.shift].day
                first[work.service] = min(day, first.get(work.service, day))
                last[work.service] = max(day, last.get(work.service, day))
    for service in problem.services:
        for after in service.after:
            if service.name not in first or after.service not in last:
                continue
            gap = first[service.name] - last[after.service]
            if gap < after.gap_days:
                yield BrokenRule(
                    Rule.WINDOW,
                    (service.name, after.service),
                    f"{service.name} comes {gap} days after {after.service}, not {after.gap_days}.",
                )
