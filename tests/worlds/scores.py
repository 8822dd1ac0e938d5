"""How good a forecast of days was: pinball, coverage, misses, and what the luck of the sample may do to each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

Floats = npt.NDArray[np.float64]

CHANCES = np.arange(1, 20) / 20.0
"""Nineteen levels, 5 to 95 %."""
ZS: tuple[float, ...] = tuple(float(z) for z in special.ndtri(CHANCES))
EARLY, LIKELY, LATE = 1, 9, 17
"""Places of 10, 50 and 90 % among them."""
CAP_DAYS = 1800.0
"""Days beyond it count as it: nobody plans a service five years ahead, and the world ends there."""


@dataclass(frozen=True, slots=True)
class Scored:
    """Scores of one method in one cell, by vehicle; all (k,).

    crps: mean pinball loss over the nineteen levels, twice, in days: 20/19 of the continuous ranked probability score
    on that grid (Gneiting and Raftery, "Strictly proper scoring rules", 2007, section 4.2; from memory). error: likely
    less true, days. early, late: it fell due before the early, after the late date.
    """

    horizon: float
    crps: Floats
    error: Floats
    early: npt.NDArray[np.bool_]
    late: npt.NDArray[np.bool_]

    @property
    def crps_by_horizon(self) -> float:
        """Mean score over the horizon."""
        return float(self.crps.mean() / self.horizon)

    @property
    def covered(self) -> npt.NDArray[np.bool_]:
        """It fell due within the window, ends included."""
        return ~(self.early | self.late)

    @property
    def coverage(self) -> float:
        """Share of windows that held."""
        return float(self.covered.mean())

    @property
    def median_error(self) -> float:
        """Median absolute error of the likely date, days."""
        return float(np.median(np.abs(self.error)))


def scored(quantiles: Floats, truth: Floats, horizon: float, *, cap: float = CAP_DAYS) -> Scored:
    """Scores of quantiles (19, k) in days against true days (k,), either cut at `cap`; inf counts as the cap."""
    if quantiles.shape != (len(CHANCES), len(truth)):
        raise ValueError(f"quantiles are {quantiles.shape}, wanted {(len(CHANCES), len(truth))}")
    if np.isnan(quantiles).any() or np.isnan(truth).any():
        raise ValueError("a forecast or a truth is no number")
    given, true = np.minimum(quantiles, cap), np.minimum(truth, cap)
    off = true - given
    pinball = np.maximum(CHANCES[:, None] * off, (CHANCES[:, None] - 1.0) * off)
    return Scored(horizon, 2.0 * pinball.mean(axis=0), given[LIKELY] - true, true < given[EARLY], true > given[LATE])


def of_date(days: Floats) -> Floats:
    """A bare date as quantiles: all alike; its score is the absolute error."""
    return np.broadcast_to(days, (len(CHANCES), len(days))).astype(float)


def error_of_mean(values: npt.NDArray[np.generic]) -> float:
    """Standard error of a mean over vehicles."""
    return float(np.std(np.asarray(values, float), ddof=1) / np.sqrt(len(values)))


@dataclass(frozen=True, slots=True)
class Ratio:
    """A ratio of two mean scores with the middle 95 % of what resampling gives."""

    value: float
    low: float
    high: float


def paired_ratio(ours: Floats, theirs: Floats, *, seed: int = 5, rounds: int = 1000) -> Ratio:
    """Mean of `ours` over mean of `theirs`, same vehicles in the same order, with a paired bootstrap over vehicles."""
    weights = np.random.default_rng(seed).multinomial(len(ours), np.full(len(ours), 1 / len(ours)), rounds)
    ratios = (weights @ ours) / (weights @ theirs)
    low, high = np.quantile(ratios, (0.025, 0.975))
    return Ratio(float(ours.mean() / theirs.mean()), float(low), float(high))
