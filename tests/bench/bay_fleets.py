"""Bay days against sixteen human rules, and what they cost in time: `python -m tests.bench.bay_fleets [SIZE ...]`.

SIZE is one of home5x90, home5x180, shop20x90, shop20x180, depot50x180, shop100x180, shop500x180; without one all of
them are run. --thirty draws the thirty garages that means are taken over: ten of each of the first three. --seeds N
draws so many garages of each (1), --weight W sets the weight of lateness (4), --steps S overrides the steps. Every
plan is audited and added up apart from the solver; one that breaks a rule is counted and named, and has no part in the
means.
--processes N plans depots side by side in so many (1 and 2 one after the other give the ratio; else as many as there
are processors). CPU seconds are those of all processes, and beside them stand the seconds on the clock; with N seeds
the sizes up to a hundred vehicles take some minutes each, the largest some ten.
"""

from __future__ import annotations

import argparse
import math
import os
import statistics
import time
from dataclasses import dataclass

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.calm import service_days
from fleetcare.bayplan.cost import blocked, plan_cost
from fleetcare.bayplan.day_costs import chance_due_by
from fleetcare.bayplan.plan import BayPlan
from fleetcare.bayplan.port import Limits, Progress
from fleetcare.bayplan.problem import BayProblem
from fleetcare.bayplan.yardsticks import YARDSTICKS, follow
from fleetcare.solvers.days import place_on_day
from fleetcare.solvers.pick import solver_for
from tests.bench.bay_garages import garage


@dataclass(frozen=True, slots=True)
class Size:
    """One size of garage. rules: whether the human rules are priced as well (slow for many vehicles)."""

    vehicles: int
    days: int
    depots: int
    is_household: bool
    steps: float
    rules: tuple[str, ...] = tuple(one.name for one in YARDSTICKS)


SOME = ("next, likely", "together 60, early", "together 90, early")
SIZES = {
    "home5x90": Size(5, 90, 1, True, 40),
    "home5x180": Size(5, 180, 1, True, 60),
    "shop20x90": Size(20, 90, 1, False, 40),
    "shop20x180": Size(20, 180, 1, False, 60),
    "depot50x180": Size(50, 180, 1, False, 40, SOME),
    "shop100x180": Size(100, 180, 4, False, 80, SOME),
    "shop500x180": Size(500, 180, 10, False, 200, SOME),
}


@dataclass(frozen=True, slots=True)
class Seen:
    """What a plan comes to."""

    cents: int
    visits: int
    shop_days: int
    out_h: float
    overdue: float

    def __str__(self) -> str:
        return f"{self.cents / 100:.0f}; {self.visits}/{self.shop_days}; {self.out_h:.0f} h; {self.overdue:.1f}"


def seen(problem: BayProblem, plan: BayPlan) -> Seen:
    """Price, visits, shop days, hours out of use, expected number of services overdue when done."""
    days = service_days(problem, plan)
    overdue = 0
    for service in problem.services:
        if service.name in days and service.due:
            overdue += chance_due_by(service.due, days[service.name].last - 1)
        elif service.due:
            overdue += chance_due_by(service.due, problem.days - 1)
    hours = 0.0
    opened = set()
    for visit in plan.visits:
        begins, ends = blocked(problem, visit)
        hours += (ends - begins) / 60
        depot = problem.vehicle_by_name[visit.vehicle].depot
        opened |= {(depot, problem.shift_by_name[work.shift].day) for work in visit.work}
    return Seen(plan_cost(problem, plan).total, len(plan.visits), len(opened), hours, overdue / 1e6)


@dataclass(frozen=True, slots=True)
class Row:
    """One garage's line in the table."""

    name: str
    services: int
    ours: Seen
    gap: float | None
    is_proven: bool
    cpu_s: float
    wall_s: float
    first: tuple[float, int] | None
    """Seconds on the clock to the first whole plan, and its price in cents."""
    rules: dict[str, Seen]
    broken: tuple[str, ...] = ()
    """Rules that the plan breaks, in sentences."""


def measure(name: str, size: Size, seed: int, weight: int, steps: float, processes: int | None) -> Row:
    """Plans one garage and prices the rules on it."""
    problem = garage(
        name=name.split("x")[0],
        vehicles=size.vehicles,
        days=size.days,
        seed=seed,
        is_household=size.is_household,
        depots=size.depots,
        weight=weight,
    )
    began, began_cpu = time.monotonic(), _cpu_s()
    first: list[tuple[float, int]] = []

    def tell(progress: Progress, plan: BayPlan | None) -> None:
        if progress.total is not None and not first:
            first.append((time.monotonic() - began, progress.total))

    answer = solver_for(problem, processes=processes).solve(problem, Limits(steps), tell=tell)
    cpu_s, wall_s = _cpu_s() - began_cpu, time.monotonic() - began
    assert answer.plan is not None
    broken = tuple(each.sentence for each in audit(problem, answer.plan))
    assert broken or answer.total == plan_cost(problem, answer.plan).total
    rules = {}
    for yardstick in YARDSTICKS:
        if yardstick.name in size.rules:
            measured = follow(problem, yardstick, place_on_day)
            if not measured.unplaced:
                assert audit(problem, measured.plan) == ()
                rules[yardstick.name] = seen(problem, measured.plan)
    return Row(
        f"{name} s{seed}",
        len(problem.services),
        seen(problem, answer.plan),
        answer.gap,
        answer.total is not None and answer.total == answer.bound,
        cpu_s,
        wall_s,
        first[0] if first else None,
        rules,
        broken,
    )


def _cpu_s() -> float:
    """Of this process and of those it has begun and ended."""
    spent = os.times()
    return spent.user + spent.system + spent.children_user + spent.children_system


HEAD = "| garage (services) | plan | gap % | CPU s, s (first plan) | best rule | next day | saving vs best / next |"


def line(row: Row) -> str:
    """One line of the table."""
    gap = "proven" if row.is_proven else "none" if row.gap is None else f"{100 * row.gap:.1f}"
    first = "-" if row.first is None else f"{row.first[0]:.1f}, +{100 * (row.first[1] / row.ours.cents - 1):.1f} %"
    if row.broken:
        what = f"breaks {len(row.broken)} rules: {row.broken[0]}"
        return f"| {row.name} ({row.services}) | {what} | | {row.cpu_s:.1f}, {row.wall_s:.1f} | | | |"
    best = min(row.rules, key=lambda name: row.rules[name].cents, default="")
    now = row.rules.get("next, likely")
    saving = " / ".join(
        "-" if other is None else f"{100 * (1 - row.ours.cents / other.cents):.0f}"
        for other in (row.rules.get(best), now)
    )
    best_words = f"{best}: {row.rules[best]}" if best else "none possible"
    spent = f"{row.cpu_s:.1f}, {row.wall_s:.1f} ({first})"
    return (
        f"| {row.name} ({row.services}) | {row.ours} | {gap} | {spent} | {best_words} | "
        f"{now or 'not possible'} | {saving} % |"
    )


def summary(rows: list[Row]) -> list[str]:
    """The means over all garages whose plan keeps every rule."""
    found = [f"plans that keep every rule: {sum(not row.broken for row in rows)} of {len(rows)}"]
    rows = [row for row in rows if not row.broken]
    if not rows:
        return found
    best = [row.ours.cents / min(rule.cents for rule in row.rules.values()) for row in rows if row.rules]
    after = [row.ours.cents / row.rules["next, likely"].cents for row in rows if "next, likely" in row.rules]
    for words, shares in (("best rule", best), ("next day", after)):
        if shares:
            mean = math.exp(statistics.mean(map(math.log, shares)))
            found.append(
                f"against the {words}: {100 * (1 - mean):.1f} % less (geometric mean of {len(shares)}), "
                f"{100 * (1 - max(shares)):.1f} to {100 * (1 - min(shares)):.1f} %"
            )
    pairs = [(row.ours, min(row.rules.values(), key=lambda rule: rule.cents)) for row in rows if row.rules]
    calm = sum(ours.cents < rule.cents and ours.overdue <= rule.overdue for ours, rule in pairs)
    found.append(f"cheaper and not more overdue than the best rule: {calm} of {len(pairs)}")
    nexts = [(row.ours, row.rules["next, likely"]) for row in rows if "next, likely" in row.rules]
    if nexts:
        fewer = 1 - sum(ours.visits for ours, _ in nexts) / sum(rule.visits for _, rule in nexts)
        sooner = 1 - sum(ours.overdue for ours, _ in nexts) / sum(rule.overdue for _, rule in nexts)
        found.append(
            f"against the next day, summed: {100 * fewer:.0f} % fewer visits, {100 * sooner:.0f} % less overdue"
        )
    gaps = [row.gap or 0.0 for row in rows]
    found.append(f"proven: {sum(row.is_proven for row in rows)} of {len(rows)}; largest gap {100 * max(gaps):.1f} %")
    return found


def main() -> None:
    """Runs the sizes named and prints the table."""
    parser = argparse.ArgumentParser(description="Bay days against human rules.")
    parser.add_argument("sizes", nargs="*", choices=[[], *SIZES], default=[])
    parser.add_argument("--thirty", action="store_true")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--weight", type=int, default=4)
    parser.add_argument("--steps", type=float)
    parser.add_argument("--processes", type=int)
    given = parser.parse_args()
    print("Price in euros; visits/shop days; hours out of use; expected number overdue when done.")
    print(HEAD)
    print("|---|---|---|---|---|---|---|")
    rows = []
    sizes = given.sizes or (list(SIZES)[:3] if given.thirty else list(SIZES))
    for name in sizes:
        for seed in range(1, (10 if given.thirty else given.seeds) + 1):
            size = SIZES[name]
            rows.append(measure(name, size, seed, given.weight, given.steps or size.steps, given.processes))
            print(line(rows[-1]), flush=True)
    print("\n".join(summary(rows)))


if __name__ == "__main__":
    main()
