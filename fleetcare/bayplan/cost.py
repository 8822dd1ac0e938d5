"""What a plan costs, added up term by term from the plan alone; no solver has a part in it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from fleetcare.bayplan.day_costs import DayPrices, move_cents, out_of_use_cents
from fleetcare.bayplan.plan import BayPlan, Visit, Work, WorkKind
from fleetcare.bayplan.problem import BayProblem


@dataclass(frozen=True, slots=True)
class PlanCost:
    """The price of a plan in cents, by what it is for. Parts and the job's own labour are not in it: they are spent
    whatever the day."""

    days: int = 0
    """Life thrown away by being early, and expected harm of being late."""
    moves: int = 0
    """Moving what people already have on their phones."""
    skipped: int = 0
    """Services left for the next horizon."""
    arrivals: int = 0
    """Fetching and cleaning each vehicle, once for each visit."""
    out_of_use: int = 0
    """Doing without the vehicles."""
    setups: int = 0
    """Wheels off, on stands and the like, once for each visit that needs it."""
    opening: int = 0
    """A workshop day begun at all."""
    premium: int = 0
    """Work outside usual hours."""

    @property
    def total(self) -> int:
        """All of it."""
        return (
            self.days
            + self.moves
            + self.skipped
            + self.arrivals
            + self.out_of_use
            + self.setups
            + self.opening
            + self.premium
        )


def plan_cost(problem: BayProblem, plan: BayPlan, prices: DayPrices | None = None) -> PlanCost:
    """Adds a plan up. The plan may break rules; its names must be those of the problem (the audit says if not).

    prices: the problem's day prices, kept by whoever adds up several plans of it.
    """
    found = visits_cost(problem, plan.visits, prices or DayPrices(problem))
    skipped = moves = 0
    for name in plan.skipped:
        service = problem.service_by_name[name]
        skipped += service.skip_cents
        moves += move_cents(service, None)
    return replace(found, skipped=skipped, moves=found.moves + moves)


def visits_cost(
    problem: BayProblem, visits: Sequence[Visit], prices: DayPrices, opened: Collection[tuple[str, int]] = ()
) -> PlanCost:
    """What these visits cost together. opened: (depot, day) of days that are open without them, and cost nothing
    more."""
    days = moves = arrivals = out_of_use = setups = premium = 0
    for visit in visits:
        vehicle = problem.vehicle_by_name[visit.vehicle]
        begins, ends = blocked(problem, visit)
        out_of_use += out_of_use_cents(vehicle.out_cents_per_hour, ends - begins)
        for work in visit.work:
            shift = problem.shift_by_name[work.shift]
            premium += shift.premium_cents_per_min * work_minutes(problem, visit, work)
            if work.kind is WorkKind.ARRIVE:
                arrivals += vehicle.arrive_cents
            elif work.kind is WorkKind.SETUP:
                setups += problem.setup_by_name[work.setup].cents
            else:
                service = problem.service_by_name[work.service]
                if work.stage == 0:
                    moves += move_cents(service, shift.day)
                if work.stage == len(service.stages) - 1:
                    days += prices.of(service.name)[shift.day]
    opens = days_opened(problem, visits).difference(opened)
    opening = sum(problem.depot_by_name[depot].opening_cents(day) for depot, day in opens)
    return PlanCost(days, moves, 0, arrivals, out_of_use, setups, opening, premium)


def days_opened(problem: BayProblem, visits: Iterable[Visit]) -> set[tuple[str, int]]:
    """(depot, day) of every day on which one of the visits has work."""
    return {
        (problem.vehicle_by_name[visit.vehicle].depot, problem.shift_by_name[work.shift].day)
        for visit in visits
        for work in visit.work
    }


def blocked(problem: BayProblem, visit: Visit) -> tuple[int, int]:
    """From the start of the first shift a visit uses to the end of the last one, in minutes since day 0."""
    shifts = [problem.shift_by_name[work.shift] for work in visit.work]
    return min((one.starts_at for one in shifts), default=0), max((one.ends_at for one in shifts), default=0)


def work_minutes(problem: BayProblem, visit: Visit, work: Work) -> int:
    """How long a stretch of work takes."""
    if work.kind is WorkKind.ARRIVE:
        return problem.vehicle_by_name[visit.vehicle].arrive_min
    if work.kind is WorkKind.SETUP:
        return problem.setup_by_name[work.setup].minutes
    return problem.service_by_name[work.service].stages[work.stage].minutes
