"""Whether the forecast reaches its targets in the two worlds: each target, what was measured, and yes or no."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import PaceState, assimilate_all, start
from fleetcare.usage.priors import Priors
from tests.worlds.grid import BARE, FITTED, FITTED_BORN, SHIPPED, Asked, Result
from tests.worlds.methods import Ours
from tests.worlds.scores import ZS, Floats, Scored

MEANT = 0.80
GOLDEN = Path(__file__).parents[1] / "usage" / "golden.json"


@dataclass(frozen=True, slots=True)
class Verdict:
    """One target: its number, what is asked, what was measured, whether it holds."""

    key: str
    asked: str
    measured: str
    holds: bool


def coverage_verdicts(results: Mapping[str, Mapping[str, Result]], name: str, *, key: str = "F1") -> list[Verdict]:
    """Targets of coverage and misses for one method, over the cells of all worlds together."""
    cells = np.concatenate([each[name].cell_coverages() for each in results.values()])
    early, late = np.mean([each[name].misses() for each in results.values()], axis=0)
    gaps = np.abs(cells - MEANT)
    said = (
        (f"{name}: coverage .78 to .84", f"{cells.mean():.4f}", 0.78 <= cells.mean() <= 0.84),
        (f"{name}: mean gap of the cells at most .025", f"{gaps.mean():.4f}", gaps.mean() <= 0.025),
        (f"{name}: widest gap of a cell at most .06", f"{gaps.max():.4f}", gaps.max() <= 0.06),
        (f"{name}: due before early at most .09", f"{early:.4f}", early <= 0.09),
        (f"{name}: due after late at most .12", f"{late:.4f}", late <= 0.12),
    )
    return [Verdict(key, asked, measured, bool(holds)) for asked, measured, holds in said]


def score_verdicts(results: Mapping[str, Mapping[str, Result]]) -> list[Verdict]:
    """Score over horizon, and against the bare date of a spreadsheet."""
    found = []
    for name in (FITTED, FITTED_BORN):
        scores = {world: float(each[name].per_vehicle().mean()) for world, each in results.items()}
        ratios = {world: scores[world] / float(each[BARE].per_vehicle().mean()) for world, each in results.items()}
        mean = float(np.mean(list(scores.values())))
        parts = ", ".join(f"{world} {score:.3f}" for world, score in scores.items())
        found.append(Verdict("F2", f"{name}: CRPS/h at most .242", f"{mean:.3f} ({parts})", mean <= 0.242))
        parts = ", ".join(f"{world} {ratio:.2f}" for world, ratio in ratios.items())
        holds = max(ratios.values()) <= 0.65
        found.append(Verdict("F2", f"{name}: never above .65 of the bare 12-month average", parts, holds))
    return found


def regularity_verdicts(asked: Mapping[str, Asked], results: Mapping[str, Mapping[str, Result]]) -> list[Verdict]:
    """Coverage from the most regular fifth of the vehicles to the least."""
    found = []
    for name in (SHIPPED, FITTED):
        for world, each in results.items():
            fifths = each[name].by_regularity(asked[world].test_seen)
            words = " ".join(f"{part:.2f}" for part in fifths)
            holds = bool(fifths.min() >= 0.68 and fifths.max() <= 0.90)
            found.append(Verdict("F3", f"{name}, {world}: every fifth within .68 to .90", words, holds))
    return found


def wrong_reading_verdicts(scores: Mapping[str, Mapping[str, Sequence[Scored]]]) -> list[Verdict]:
    """Cars with one grossly wrong reading, fleet-fitted; scores by world and by what was done with the reading."""
    found = []
    for world, each in scores.items():
        judged, clean = (float(np.mean([one.crps_by_horizon for one in each[key]])) for key in ("judged", "clean"))
        said = f"{judged:.4f}; {clean:.4f} had it been right"
        found.append(Verdict("F4", f"one grossly wrong reading, {world}: CRPS/h at most .21", said, judged <= 0.21))
    return found


def solver_verdict(asked: Mapping[str, Asked]) -> Verdict:
    """Days of the fast solver against the root found by halving, on the vehicles of both worlds, 1 to 2,000 days."""
    worst, count = 0.0, 0
    for each in asked.values():
        for n in (1, 3, 12):
            law = Ours(each.numbers).law(each.test_seen.newest(n))
            for horizon in (1.5, 10.0, 91.0, 365.0, 1200.0):
                distance = np.exp(law.mu) * horizon
                roots = roots_by_halving(law, distance, ZS)
                judged = (roots >= 1.0) & (roots <= 2000.0)
                off = np.abs(law.days_to(distance, ZS) - roots)[judged]
                worst, count = max(worst, float(off.max())), count + int(judged.sum())
    return Verdict("F10", "fast solver within .05 day of the root", f"{worst:.1e} day, {count:,} roots", worst <= 0.05)


def roots_by_halving(law: DistanceLaw, distance: Floats, levels: tuple[float, ...]) -> Floats:
    """(levels, k) days with z_at(days, distance) = level, by halving between a hundredth of a day and a million."""
    roots = np.empty((len(levels), len(distance)))
    for row, z in enumerate(levels):
        low, high = np.full(len(distance), np.log(1e-2)), np.full(len(distance), np.log(1e6))
        for _ in range(40):
            middle = (low + high) / 2.0
            reached = law.z_at(np.exp(middle), distance) >= z
            low, high = np.where(reached, low, middle), np.where(reached, middle, high)
        roots[row] = np.exp((low + high) / 2.0)
    return roots


def golden_verdict() -> Verdict:
    """States and days of the worked cases that another implementation reckoned, against the program's."""
    golden = json.loads(GOLDEN.read_text(encoding="utf-8"))
    priors = Priors(**golden["hyper"])
    worst_state, worst_days = 0.0, 0.0
    for case in golden["cases"]:
        days, km = np.diff(np.array(case["t"], float)), np.diff(np.array(case["d"], float))
        state = start(priors, m0=np.array([case.get("m0", priors.m0)]), s0=np.array([case.get("s0", priors.s0)]))
        if days.size:
            state = assimilate_all(state, km[:, None], days[:, None], priors)
        worst_state = max(worst_state, _off(state, case))
        due = DistanceLaw.of(state, priors).days_to(np.array([case["r"]]), LEVELS)[:, 0]
        worst_days = max(worst_days, float(np.abs(due - np.array(case["due"])).max()))
    holds = worst_state <= 1e-6 and worst_days <= 0.05
    measured = f"{worst_state:.1e}, {worst_days:.4f} day, {len(golden['cases'])} cases"
    return Verdict("F11", "worked cases: state to 1e-6 of its size, due to .05 day", measured, holds)


def _off(state: PaceState, case: Mapping[str, float]) -> float:
    """Largest difference of the state, relative where the number is above one."""
    names = ("mu", "x", "pmm", "pmx", "pxx", "ss")
    return max(abs(float(getattr(state, name)[0]) - case[name]) / max(1.0, abs(case[name])) for name in names)
