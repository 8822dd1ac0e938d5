"""The exact solver: each depot by itself, until its plan is proven or the steps are spent."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

from fleetcare.bayplan.cost import plan_cost
from fleetcare.bayplan.day_costs import all_day_costs
from fleetcare.bayplan.plan import BayPlan, in_order
from fleetcare.bayplan.port import Answer, Limits, Outcome, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.depot import Search, is_in_reach, widen
from fleetcare.solvers.depot_work import DepotWork, begun
from fleetcare.solvers.grid import depot_grid
from fleetcare.solvers.neighbourhood import bound_it, first_plan, improve, is_idle

FEW = 8
"""Up to so many vehicles a proof begins at once; with more, a few of them are freed in turns first."""
IMPROVE_SHARE = 0.6
"""So much of the steps is kept for the proof."""
EFFORT = 20.0

Tell = Callable[[Progress, BayPlan | None], None]


def left_out_price(problem: BayProblem) -> int:
    """A price for leaving out one required service that no saving elsewhere can outweigh.

    More than every plan without such a service can cost: each service by its dearest day with its own arrival, stay,
    set-ups and shop day.
    """
    dearest = 0
    prices = all_day_costs(problem)
    premium = max((shift.premium_cents_per_min for shift in problem.shifts), default=0)
    opening = max(
        (max([depot.open_cents, *(cents for _, cents in depot.open_by_day)]) for depot in problem.depots), default=0
    )
    for service in problem.services:
        vehicle = problem.vehicle_by_name[service.vehicle]
        told = service.published
        dearest += max(max(prices[service.name]) - min(0, *prices[service.name]), service.skip_cents)
        dearest += vehicle.arrive_cents + vehicle.out_cents_per_hour * (problem.max_visit_min // 60 + 1)
        dearest += (told.move_cents + 30 * told.per_day_cents) if told else 0
        dearest += opening * (len(service.stages) + 1)
        setups = [problem.setup_by_name[name] for name in service.setups]
        dearest += sum(setup.cents for setup in setups)
        dearest += premium * (service.minutes + vehicle.arrive_min + sum(setup.minutes for setup in setups))
    return dearest + 1


@dataclass(frozen=True, slots=True)
class ExactSolver:
    """Column generation over whole visits, with proofs. Good for some twenty-five vehicles a depot.

    shares: the steps of each depot by name; without them they are shared out by the number of services.
    """

    shares: Mapping[str, float] | None = None

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Tell | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """A plan for every depot first; then those furthest from their bounds are improved, and at last proven."""
        searches = searches_for(problem, limits, standing, self.shares)
        told_by(problem, searches, tell)
        depots = []
        for search in searches:
            if not search.grid.service_names:
                search.cents, search.bound, search.is_proven = 0, 0, True
                continue
            depots.append(begun(search))
        for depot in depots:
            first_plan(depot, calm_share=0.0)
            bound_it(depot)
        proof_of = {id(depot): _kept_for_proof(depot) for depot in depots}
        while open_ones := [depot for depot in depots if _is_to_improve(depot, proof_of[id(depot)])]:
            improve(max(open_ones, key=_gap), limits.seed)
        for depot in sorted(depots, key=_gap, reverse=True):
            _prove(depot)
        return joined(problem, searches)


def _kept_for_proof(depot: DepotWork) -> float:
    """Steps that are not spent on a better plan. Where there are too many visits to look through, a proof is so far off
    that whatever improves the plan comes first."""
    search = depot.search
    if len(search.grid.vehicles) <= FEW or search.cents is None or is_in_reach(search, depot.rows, depot.master):
        return IMPROVE_SHARE * search.left
    return 0.0


def _is_to_improve(depot: DepotWork, left_for_proof: float) -> bool:
    """Whether a depot is to be improved before it is proven: a good plan comes first, for the nearer it is to the
    bound, the fewer visits a proof has to look at."""
    search = depot.search
    return len(search.grid.vehicles) > FEW and not is_idle(depot) and search.left > left_for_proof


def _gap(depot: DepotWork) -> int:
    """Cents between the plan and the bound; the depot's first plan is all there is to go for if it has none."""
    return 2**62 if depot.search.cents is None else depot.search.cents - depot.search.bound


def _prove(depot: DepotWork) -> None:
    """Goes on until the plan is proven or the steps are spent."""
    search = depot.search
    if not search.is_over:
        # Of few vehicles the bound rises quicker from the branches than from below: measured, not understood.
        search.is_from_below = len(search.grid.vehicles) > FEW
        widen(search, depot.rows, depot.master, EFFORT)


def shares_of(problem: BayProblem, steps: float) -> dict[str, float]:
    """Steps for each depot, by the number of its services."""
    depot_of = {vehicle.name: vehicle.depot for vehicle in problem.vehicles}
    services = Counter(depot_of[service.vehicle] for service in problem.services)
    return {depot.name: steps * services[depot.name] / max(len(problem.services), 1) for depot in problem.depots}


def searches_for(
    problem: BayProblem, limits: Limits, standing: Standing, shares: Mapping[str, float] | None = None
) -> list[Search]:
    """A search for each depot, in order of their names. Nothing in it hangs on the other depots, so that a depot has
    the same plan whoever plans the others. shares: steps by depot; else by the number of services."""
    steps = shares_of(problem, limits.steps) if shares is None else shares
    searches = []
    for depot in sorted(problem.depots, key=lambda one: one.name):
        alone = only_depots(problem, {depot.name})
        grid = depot_grid(alone, depot, standing)
        share = steps[depot.name]
        search = Search(grid, left_out_price(alone), limits.seed, share, limits.is_stopped, lambda one, phase: None)
        search.standing, search.steps = standing, share
        searches.append(search)
    return searches


def only_depots(problem: BayProblem, names: Collection[str]) -> BayProblem:
    """The problem of these depots by themselves."""
    vehicles = tuple(one for one in problem.vehicles if one.depot in names)
    own = {one.name for one in vehicles}
    return replace(
        problem,
        depots=tuple(one for one in problem.depots if one.name in names),
        people=tuple(one for one in problem.people if one.depot in names),
        shifts=tuple(one for one in problem.shifts if one.depot in names),
        vehicles=vehicles,
        services=tuple(one for one in problem.services if one.vehicle in own),
    )


def told_by(problem: BayProblem, searches: list[Search], tell: Tell | None) -> None:
    """Has the searches tell how all of them stand whenever one comes on."""

    def told(current: Search, phase: str) -> None:
        if tell is not None:
            answer = joined(problem, searches)
            tell(Progress(phase, answer.steps, answer.total, answer.bound), answer.plan)

    for search in searches:
        search.tell = told


def joined(problem: BayProblem, searches: list[Search]) -> Answer:
    """The answers of all depots as one. Services without a place are skipped in it, required or not."""
    # Rounded for each depot, so that the sum is the same in whatever order they are added up.
    spent = sum(round(search.steps - max(search.left, 0.0), 3) for search in searches)
    visits = [visit for search in searches for visit in search.visits]
    done = {name for visit in visits for name in visit.services}
    skipped = [service.name for service in problem.services if service.name not in done]
    plan = in_order(BayPlan(problem.name, tuple(visits), tuple(skipped)))
    must = [name for name in skipped if problem.service_by_name[name].is_required]
    bound = sum(search.bound for search in searches) if all(one.bound > -(2**61) for one in searches) else None
    total = plan_cost(problem, plan).total - _open_already(problem, searches, plan)
    if must:
        is_known = all(search.is_proven for search in searches)
        outcome = Outcome.IMPOSSIBLE if is_known else Outcome.NOTHING
        return Answer(outcome, plan, None, None, round(spent, 3))
    outcome = Outcome.PROVEN if all(search.is_proven for search in searches) else Outcome.FOUND
    return Answer(outcome, plan, total, None if bound is None else min(bound, total), round(spent, 3))


def _open_already(problem: BayProblem, searches: list[Search], plan: BayPlan) -> int:
    """What the plan's days cost of those that something standing has opened already."""
    used = {
        (problem.vehicle_by_name[visit.vehicle].depot, problem.shift_by_name[work.shift].day)
        for visit in plan.visits
        for work in visit.work
    }
    return sum(
        search.grid.depot.opening_cents(day) - search.grid.opening[day]
        for search in searches
        for day in search.grid.days
        if (search.grid.depot.name, day) in used
    )
