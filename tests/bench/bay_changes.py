"""Re-planning after one change, and prices of other days: `python -m tests.bench.bay_changes [--vehicles N] [--seeds
N]`.

Each garage gets a plan, then one change at a time: a vehicle booked away over its visit, a shift lost, due dates of a
vehicle moved by ten days, a service added; and nothing at all. Printed are CPU seconds of both stages, visits moved,
what a fresh plan would move, and how much dearer the calm plan is than one with all vehicles free and the same move
prices. `--moved-only` leaves the last two out, which take nearly all of the time.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Iterator
from dataclasses import replace

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import change_report, without_moves
from fleetcare.bayplan.cost import blocked, plan_cost
from fleetcare.bayplan.explain import explain
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits
from fleetcare.bayplan.problem import BayProblem, BayService, Stage
from fleetcare.bayplan.replan import improved, replan
from fleetcare.solvers.days import ExactDays
from fleetcare.solvers.pick import solver_for
from tests.bench.bay_garages import garage

NOTHING, ODOMETER = "nothing", "odometer"


def changes(problem: BayProblem, plan: BayPlan) -> Iterator[tuple[str, BayProblem]]:
    """One changed problem after another, spread over the plan."""
    yield NOTHING, problem
    for visit in plan.visits[:: max(1, len(plan.visits) // 4)][:4]:
        begins, ends = blocked(problem, visit)
        day = begins // 1440
        gone = tuple(
            replace(one, away=(*one.away, (begins, ends))) if one.name == visit.vehicle else one
            for one in problem.vehicles
        )
        yield f"{visit.vehicle} away on day {day}", replace(problem, vehicles=gone)
        lost = {work.shift for work in visit.work}
        yield (
            f"shift lost on day {day}",
            replace(problem, shifts=tuple(one for one in problem.shifts if one.name not in lost)),
        )
        for shift in (-10, 10):
            moved = tuple(
                replace(one, due=tuple((on + shift, ppm) for on, ppm in one.due))
                if one.vehicle == visit.vehicle
                else one
                for one in problem.services
            )
            yield f"{ODOMETER} of {visit.vehicle}: {shift:+d} days", replace(problem, services=moved)
        new = BayService(
            f"{visit.vehicle} rattle",
            visit.vehicle,
            (Stage(40),),
            ((day, 0), (day + 5, 1_000_000)),
            late_cents_per_day=400,
            overdue_cents=4000,
            not_after=problem.days - 1,
        )
        yield f"rattle on {visit.vehicle}", replace(problem, services=(*problem.services, new))


def main() -> None:
    """Prints the table."""
    parser = argparse.ArgumentParser(description="Re-planning after one change.")
    parser.add_argument("--vehicles", type=int, default=12)
    parser.add_argument("--days", type=int, default=120)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--moved-only", action="store_true")
    parser.add_argument("--first", type=float, default=5.0, help="Steps that stage A may take at most.")
    parser.add_argument("--second", type=float, default=5.0, help="Steps that stage B may take at most.")
    given = parser.parse_args()
    first, second, moved, fresh_moved, dearer, priced = [], [], [], [], [], []
    of_kind: dict[str, list[int]] = {}
    for seed in range(1, given.seeds + 1):
        problem = garage(name="shop", vehicles=given.vehicles, days=given.days, seed=seed, is_household=False)
        solver = solver_for(problem)
        plan = solver.solve(problem, Limits(30)).plan
        assert plan is not None
        for visit in plan.visits:
            began = time.process_time()
            explain(problem, plan, visit, ExactDays())
            priced.append(time.process_time() - began)
        for words, changed in changes(problem, plan):
            began = time.process_time()
            calm = replan(problem, plan, changed, solver, Limits(given.first))
            first.append(time.process_time() - began)
            began = time.process_time()
            better = improved(calm, plan, solver, Limits(given.second))
            second.append(time.process_time() - began)
            final = better or calm
            assert calm.is_whole
            assert audit(final.problem, final.plan) == ()
            moved.append(calm.report.visits_moved)
            of_kind.setdefault(words.split()[0] if words.startswith((NOTHING, ODOMETER)) else "other", []).append(
                moved[-1]
            )
            told = f"{words}: {first[-1]:.2f} CPU s, {moved[-1]} moved, then {second[-1]:.2f} CPU s"
            if not given.moved_only:
                free = solver.solve(calm.problem, Limits(15))
                fresh = solver.solve(without_moves(changed), Limits(15)).plan
                assert free.total is not None
                assert fresh is not None
                report = change_report(changed, plan, fresh, can_be_kept=False, days_before=calm.days_before)
                fresh_moved.append(report.visits_moved)
                dearer.append(plan_cost(final.problem, final.plan).total / free.total - 1)
                told += f"; fresh moves {fresh_moved[-1]}, {100 * dearer[-1]:.2f} % above all free"
            print(told, flush=True)
    few = sum(number <= 2 for number in moved)
    print(f"stage A: CPU s {spread(first)}")
    print(f"stage B: CPU s {spread(second)}")
    print(f"visits moved: median {statistics.median(moved)}, worst {max(moved)}, <= 2 in {few} of {len(moved)}")
    for kind, numbers in sorted(of_kind.items()):
        print(f"visits moved, {kind}: worst {max(numbers)} of {len(numbers)} changes")
    if dearer:
        print(f"a fresh plan moves: median {statistics.median(fresh_moved)}, worst {max(fresh_moved)}")
        near = sum(share <= 0.005 for share in dearer)
        print(
            f"above all free: median {100 * statistics.median(dearer):.2f} %, worst {100 * max(dearer):.2f} %, "
            f"<= .5 % in {near} of {len(dearer)}"
        )
    print(f"prices of other days, a visit: CPU s {spread(priced)}")


def spread(values: list[float]) -> str:
    """Median, the ninth tenth and the worst."""
    ordered = sorted(values)
    return (
        f"median {statistics.median(ordered):.3f}, p90 {ordered[9 * len(ordered) // 10]:.3f}, worst {ordered[-1]:.3f}"
    )


if __name__ == "__main__":
    main()
