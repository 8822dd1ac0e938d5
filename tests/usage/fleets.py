"""Fleets whose use follows the law of the forecast with numbers that are known, day by day."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fleetcare.usage.fitting import Uses
from fleetcare.usage.priors import Priors

Floats = npt.NDArray[np.float64]


def daily_km(priors: Priors, vehicles: int, days: int, *, seed: int) -> Floats:
    """(vehicles, days) km driven on each operational day.

    The path is drawn exactly at whole days: a random walk and an Ornstein-Uhlenbeck course. A day's distance is gamma
    with mean exp(path) and CV^2 = psi, so that D days have psi/D around theirs.
    """
    rng = np.random.default_rng([seed, vehicles, days])
    level = priors.m0 + priors.s0 * rng.standard_normal((vehicles, 1))
    level = level + np.cumsum(np.sqrt(priors.q / 365.25) * rng.standard_normal((vehicles, days)), axis=1)
    fade = np.exp(-1.0 / priors.tau)
    wander = np.empty((vehicles, days))
    wander[:, 0] = priors.sig * rng.standard_normal(vehicles)
    for day in range(1, days):
        step = priors.sig * np.sqrt(1.0 - fade**2) * rng.standard_normal(vehicles)
        wander[:, day] = fade * wander[:, day - 1] + step
    shape = 1.0 / priors.psi
    return np.asarray(np.exp(level + wander) * rng.gamma(shape, 1.0 / shape, (vehicles, days)))


def spans_of(km: Floats, every: int) -> tuple[Floats, Floats]:
    """Km and days of spans of so many days, (vehicles, spans) each."""
    count = km.shape[1] // every
    gained = km[:, : count * every].reshape(len(km), count, every).sum(axis=2)
    return gained, np.full(gained.shape, float(every))


def uses_of(gained: Floats, days: Floats) -> Uses:
    """As the fit takes them; nobody named a yearly distance, nobody changed hands."""
    none = np.zeros(days.shape[1])
    return Uses.of([(km, span, none, float("nan")) for km, span in zip(gained, days, strict=True)])


def fleet(priors: Priors, vehicles: int, *, seed: int, spans: int = 24, every: int = 30) -> Uses:
    """A fleet read every so many days."""
    return uses_of(*spans_of(daily_km(priors, vehicles, spans * every, seed=seed), every))
