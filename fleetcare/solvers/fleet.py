"""The solver for large fleets: each depot planned quickly, then improved by freeing a few vehicles at a time.

The bound is that of the linear programme over whole visits, priced to the end: no plan of a depot costs less. Depots
are worked through in turns, so that a search that is stopped early has a plan for each of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Answer, Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing
from fleetcare.solvers.depot_work import begun
from fleetcare.solvers.exact import joined, searches_for, told_by
from fleetcare.solvers.neighbourhood import bound_it, first_plan, improve, is_idle


@dataclass(frozen=True, slots=True)
class FleetSolver:
    """Depot by depot: a first plan from generated visits, then a large neighbourhood searched round by round.

    shares: the steps of each depot by name; without them they are shared out by the number of services.
    """

    shares: Mapping[str, float] | None = None

    def solve(
        self,
        problem: BayProblem,
        limits: Limits,
        *,
        tell: Callable[[Progress, BayPlan | None], None] | None = None,
        standing: Standing = NOTHING_STANDS,
    ) -> Answer:
        """Plans every depot once, then improves them in turns until the steps are spent or nothing improves."""
        searches = searches_for(problem, limits, standing, self.shares)
        told_by(problem, searches, tell)
        depots = []
        for search in searches:
            if not search.grid.service_names:
                search.cents, search.bound, search.is_proven = 0, 0, True
                continue
            depots.append(begun(search))
        for depot in depots:
            first_plan(depot)
        for depot in depots:
            bound_it(depot)
        while not all(is_idle(depot) for depot in depots):
            for depot in depots:
                if not is_idle(depot):
                    improve(depot, limits.seed)
        return joined(problem, searches)
