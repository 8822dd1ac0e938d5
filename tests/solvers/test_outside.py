"""Published optima come out, and groupings with the published penalty form are the best of all set partitions."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from fleetcare.bayplan.audit import audit
from fleetcare.bayplan.port import Limits, Outcome
from fleetcare.bayplan.problem import BayProblem, BayService, Depot, Hand, PlanVehicle, SetUp, Shift, Stage
from fleetcare.solvers.exact import ExactSolver
from tests.solvers.outside import facility_location, job_shop

LIMITS = Limits(steps=400)

# Published optima: tests/solvers/benchmarks/README.md.
FACILITIES = {"p1": 2014, "p2": 4251, "p3": 6051, "p4": 7168, "p5": 4551, "p6": 2269, "p7": 4366, "p8": 7926}
JOB_SHOPS = {"ft06": 55, "la01": 666, "la02": 655, "la03": 597, "la04": 590, "la05": 593}


@pytest.mark.parametrize(
    ("name", "optimum"),
    [pytest.param(*each, marks=[pytest.mark.slow] if each[0] in {"p7", "p8"} else []) for each in FACILITIES.items()],
)
def test_facility_location_comes_to_its_published_optimum(name: str, optimum: int) -> None:
    problem = facility_location(f"sscflp-{name}")
    answer = ExactSolver().solve(problem, LIMITS)
    assert (answer.outcome, answer.total) == (Outcome.PROVEN, optimum)
    assert answer.plan is not None
    assert audit(problem, answer.plan) == ()


@pytest.mark.parametrize(("name", "makespan"), JOB_SHOPS.items())
def test_a_job_shop_fits_its_published_makespan_and_no_minute_less(name: str, makespan: int) -> None:
    problem = job_shop(f"jobshop-{name}", makespan)
    answer = ExactSolver().solve(problem, LIMITS)
    assert answer.outcome is Outcome.PROVEN
    assert answer.plan is not None
    assert audit(problem, answer.plan) == ()
    assert ExactSolver().solve(job_shop(f"jobshop-{name}", makespan - 1), LIMITS).outcome is Outcome.IMPOSSIBLE


DAYS = 60


def penalties(rng: random.Random) -> list[tuple[int, ...]]:
    """Of each activity what shifting it to each day costs: h(dt) = C(x* + dt) - C(x*) - dt phi*, with
    C(x) = cp + cc (x / alpha)^beta, phi* the long-run cost per day of doing it each x* days.

    Source: the form of Wildeman, Dekker and Smit, European Journal of Operational Research 99, 1997, 530 to 551.
    """
    found = []
    for _ in range(8):
        cp, cc = rng.uniform(2000, 9000), rng.uniform(3000, 9000)
        alpha, beta = rng.uniform(60, 200), rng.uniform(1.7, 3.0)
        # C(x)/x is least where beta cc (x/alpha)^beta - C(x) = 0.
        best = alpha * (cp / (cc * (beta - 1))) ** (1 / beta)
        spent = cp + cc * (best / alpha) ** beta
        due = rng.randrange(DAYS)
        costs = []
        for day in range(DAYS):
            shift = max(day - due, -best)
            costs.append(round(cp + cc * ((best + shift) / alpha) ** beta - spent - shift * spent / best))
        found.append(tuple(costs))
    return found


def partitions(items: list[int]) -> Iterator[list[list[int]]]:
    if not items:
        yield []
        return
    for smaller in partitions(items[1:]):
        yield [items[:1], *smaller]
        for at, part in enumerate(smaller):
            yield [*smaller[:at], [items[0], *part], *smaller[at + 1 :]]


@pytest.mark.parametrize("seed", range(30))
def test_groups_are_the_best_of_all_4140_set_partitions(seed: int) -> None:
    """Eight activities share one set-up a day. The days of a group are chosen for it, so two groups may share a day;
    then they are one group, which is another of the partitions."""
    rng = random.Random(f"partitions {seed}")
    costs, setup = penalties(rng), rng.randint(500, 6000)
    best_of: dict[tuple[int, ...], int] = {}

    def group_cost(group: list[int]) -> int:
        key = tuple(group)
        if key not in best_of:
            best_of[key] = setup + min(sum(costs[one][day] for one in group) for day in range(DAYS))
        return best_of[key]

    best = min(sum(map(group_cost, split)) for split in partitions(list(range(8))))
    problem = BayProblem(
        name="grouping",
        days=DAYS,
        max_visit_min=1000,
        setups=(SetUp("stop", 0, setup),),
        depots=(Depot("yard", 1, 0),),
        people=(Hand("ines", "yard"),),
        shifts=tuple(Shift(f"day {day}", "yard", day, 480, 960, ("ines",)) for day in range(DAYS)),
        vehicles=(PlanVehicle("v", "yard", 0, 0, 0),),
        services=tuple(
            BayService(f"s{at}", "v", (Stage(1),), setups=("stop",), cost_by_day=each) for at, each in enumerate(costs)
        ),
    )
    answer = ExactSolver().solve(problem, LIMITS)
    assert (answer.outcome, answer.total) == (Outcome.PROVEN, best)
