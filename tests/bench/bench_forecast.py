"""How near the forecast comes to its limits: `python -m tests.bench.bench_forecast [ROWS] [--json]`.

What is compared runs in turn, round after round, in one process on one core; what is shown are medians of CPU time and
their ratios. The arithmetic floor is what the nine evaluations of a plain fixed point cost as bare calls of numpy (two
exp, log1p, sqrt, two divisions, eight multiplications and eight additions each) on arrays that stay in the cache; the
floor of an update is made in the same way. The memory pass reads ten doubles a row once.
"""

from __future__ import annotations

import json
import math
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq
from scipy.special import betainc, betaincinv, ndtr

from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import PORTION, PaceState, assimilate, assimilate_all, start
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import AheadOf, start_pace, with_increments

ROUNDS = 5
READINGS = 12
SAMPLE = 300
SEED = 4
PRIORS = Priors()

Times = dict[str, list[float]]


def cpu_s(work: Callable[[], object]) -> float:
    """CPU time of one call."""
    began = time.process_time()
    work()
    return time.process_time() - began


def in_turn(works: dict[str, Callable[[], object]], rounds: int = ROUNDS) -> dict[str, float]:
    """Median CPU seconds of each, run side by side; a first round warms up."""
    took: Times = {name: [] for name in works}
    for number in range(rounds + 1):
        for name, work in works.items():
            seconds = cpu_s(work)
            if number:
                took[name].append(seconds)
    return {name: statistics.median(times) for name, times in took.items()}


def increments(rows: int) -> tuple[np.ndarray, np.ndarray]:
    """(READINGS, rows) km and days: monthly readings of vehicles drawn from the shipped numbers."""
    rng = np.random.default_rng(SEED)
    days = rng.uniform(20.0, 40.0, (READINGS, rows))
    rate = np.exp(rng.normal(PRIORS.m0, PRIORS.s0, rows) + rng.normal(0.0, PRIORS.sig, (READINGS, rows)))
    return days * rate * rng.gamma(days / PRIORS.psi, PRIORS.psi / days), days


def fresh(rows: int) -> PaceState:
    return start(PRIORS, m0=np.full(rows, PRIORS.m0), s0=np.full(rows, PRIORS.s0))


def bare_calls(
    rows: int, *, exps: int, logs: int, log1ps: int, roots: int, divisions: int, plain: int
) -> Callable[[], None]:
    """So many bare calls of numpy for each portion of rows, into arrays that stay in the cache."""
    a = np.random.default_rng(0).uniform(0.1, 3.0, PORTION)
    b, out = a[::-1].copy(), np.empty(PORTION)
    calls: list[tuple[Callable[..., object], bool, int]] = [
        (np.exp, False, exps),
        (np.log, False, logs),
        (np.log1p, False, log1ps),
        (np.sqrt, False, roots),
        (np.divide, True, divisions),
        (np.multiply, True, plain // 2),
        (np.add, True, plain - plain // 2),
    ]

    def work() -> None:
        for _ in range(max(1, rows // PORTION)):
            for call, is_of_two, times in calls:
                for _ in range(times):
                    if is_of_two:
                        call(a, b, out=out)
                    else:
                        call(a, out=out)

    return work


def quantiles(rows: int) -> dict[str, float]:
    """Three quantiles a row, against the floor, one pass over memory and loops over scipy; seconds for all rows."""
    km, days = increments(rows)
    state = assimilate_all(fresh(rows), km, days, PRIORS)
    law = DistanceLaw.of(state, PRIORS)
    distance = np.exp(law.mu) * np.random.default_rng(SEED + 1).uniform(20.0, 700.0, rows)
    ten = np.random.default_rng(0).random((10, rows))

    def by_brentq() -> None:
        """scipy's root finder on the law of one row after another, in plain floats."""
        for row in range(SAMPLE):
            one = AheadOf.of(start_pace(PRIORS), PRIORS)
            one.mu, one.x = float(law.mu[row]), float(law.x[row])
            for z in LEVELS:
                brentq(lambda y, one=one, z=z, r=float(distance[row]): one.z_at(math.exp(y), r) - z, -6.9, 13.8)

    def by_ppf() -> None:
        """The beta-prime law's quantiles by scipy's inverse incomplete beta function, one row after another."""
        for row in range(SAMPLE):
            for z in LEVELS:
                betaincinv(2.7 + row % 9, 7.2, float(ndtr(z)))

    some = rows // 50

    def by_betainc() -> None:
        """What solving the beta-prime law takes at the least: 15 evaluations a row, all rows at once."""
        share = distance[:some] / (distance[:some] + 5200.0)
        for _ in range(15):
            betainc(14.0, 7.2, share)

    took = in_turn(
        {
            "days_to": lambda: law.days_to(distance),
            "floor": bare_calls(rows, exps=18, logs=0, log1ps=9, roots=9, divisions=18, plain=144),
            "of and days_to": lambda: DistanceLaw.of(state, PRIORS).days_to(distance),
            "memory pass": lambda: ten.sum(axis=1),
        }
    )
    loops = in_turn({"brentq": by_brentq, "ppf": by_ppf}, rounds=3)
    betainc_s = in_turn({"betainc": by_betainc})["betainc"] * rows / some
    return took | {name: seconds * rows / SAMPLE for name, seconds in loops.items()} | {"betainc": betainc_s}


def updates(rows: int) -> dict[str, float]:
    """Twelve readings a row, against their floor; seconds for all rows."""
    km, days = increments(rows)
    first = fresh(rows)
    state = assimilate_all(first, km, days, PRIORS)
    return in_turn(
        {
            "twelve readings": lambda: assimilate_all(first, km, days, PRIORS),
            "floor of twelve": bare_calls(rows, exps=36, logs=12, log1ps=0, roots=12, divisions=96, plain=516),
            "one more reading": lambda: assimilate(state, km[0], days[0], PRIORS),
        },
        rounds=3,
    )


def alone() -> dict[str, float]:
    """One vehicle in plain floats; seconds for one."""
    km, days = increments(1)
    pairs = list(zip(km[:, 0].tolist(), days[:, 0].tolist(), strict=True))
    first = start_pace(PRIORS)
    pace = with_increments(first, pairs, PRIORS)
    times = 2000

    def repeat(work: Callable[[], object]) -> Callable[[], None]:
        def all_of_them() -> None:
            for _ in range(times):
                work()

        return all_of_them

    x = 1.234

    def bare() -> None:
        """What 12 updates and 7 evaluations need of the mathematical library, and nothing else."""
        for _ in range(12):
            math.exp(x), math.exp(x), math.expm1(x), math.log(x), math.sqrt(x)
        for _ in range(7):
            math.exp(x), math.exp(x), math.log(x), math.sqrt(x)

    took = in_turn(
        {
            "12 readings, 3 quantiles": repeat(
                lambda: AheadOf.of(with_increments(first, pairs, PRIORS), PRIORS).days_to(8000.0)
            ),
            "one reading": repeat(lambda: with_increments(pace, pairs[:1], PRIORS)),
            "3 quantiles": repeat(lambda: AheadOf.of(pace, PRIORS).days_to(8000.0)),
            "bare calls of math": repeat(bare),
        }
    )
    return {name: seconds / times for name, seconds in took.items()}


def small(rows: int, times: int) -> float:
    """CPU seconds for three quantiles of so many rows."""
    km, days = increments(rows)
    law = DistanceLaw.of(assimilate_all(fresh(rows), km, days, PRIORS), PRIORS)
    distance = np.exp(law.mu) * 200.0

    def work() -> None:
        for _ in range(times):
            law.days_to(distance)

    return in_turn({"": work})[""] / times


def table(rows: int) -> list[dict[str, object]]:
    """Every figure: what, its time, and what it is compared with."""
    found: list[dict[str, object]] = []

    def add(goal: str, what: str, seconds: float, ratio: float | None = None, against: str = "") -> None:
        shown = {} if ratio is None else {"ratio": round(ratio, 3), "against": against}
        found.append({"goal": goal, "what": what, "microseconds": round(seconds * 1e6, 3), **shown})

    q = quantiles(rows)
    add("G10 F7", f"three quantiles, {rows} rows", q["days_to"], q["days_to"] / q["floor"], "the arithmetic floor")
    add("F7", "the same, a row", q["days_to"] / rows)
    add("F7", "the law made from the state as well", q["of and days_to"], q["of and days_to"] / q["floor"], "the floor")
    add("G10", "one pass over ten doubles a row", q["memory pass"], q["days_to"] / q["memory pass"], "this")
    add("G10", f"brentq, {SAMPLE} rows taken for all", q["brentq"], q["brentq"] / q["days_to"], "three quantiles")
    add("G10", f"inverse beta, {SAMPLE} rows taken for all", q["ppf"], q["ppf"] / q["days_to"], "three quantiles")
    add("G10", "15 incomplete beta functions a row", q["betainc"], q["betainc"] / q["days_to"], "three quantiles")
    u = updates(rows)
    add(
        "F9",
        f"twelve readings, {rows} rows",
        u["twelve readings"],
        u["twelve readings"] / u["floor of twelve"],
        "its floor",
    )
    add("F9", "one reading of twelve, a row", u["twelve readings"] / rows / READINGS)
    add("F9", "one more reading, a row", u["one more reading"] / rows)
    one = alone()
    add("F8", "one vehicle, 12 readings and 3 quantiles, no numpy", one["12 readings, 3 quantiles"],
        one["12 readings, 3 quantiles"] / one["bare calls of math"], "the calls of math alone")  # fmt: skip
    add("F9", "one reading of one vehicle, no numpy", one["one reading"])
    add("F8", "3 quantiles of one vehicle, no numpy", one["3 quantiles"])
    add("F8", "three quantiles, 1000 rows", small(1000, 50))
    add("F8", "three quantiles, 100000 rows", small(100_000, 2))
    return found


def main() -> None:
    """Prints the table, as words or, with --json, as one line of JSON."""
    words = [word for word in sys.argv[1:] if word != "--json"]
    found = table(int(words[0]) if words else 1_000_000)
    if "--json" in sys.argv:
        print(json.dumps(found))
        return
    for row in found:
        compared = f"{row['ratio']:10} x {row['against']}" if "ratio" in row else ""
        print(f"{row['goal']:8}{row['what']:55}{row['microseconds']:16,.2f} us{compared}")


if __name__ == "__main__":
    main()
