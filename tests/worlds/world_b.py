"""World B: phases of life, inverse-Gaussian days, now and then a very long trip, and less with every year of age.

A car passes through hidden phases (quiet, plain, busy) that last some ten months each; a day has a trip or none, its
length inverse-Gaussian; single long trips have a Pareto tail. Use falls with age, there is no season. Held to the same
survey as world A (US National Household Travel Survey 2017, vehicle file: mean 16,981 km a year, coefficient of
variation 0.517, skewness of the logarithm -1.26); phases, trips and trend are invented.
"""

from __future__ import annotations

import numpy as np
from scipy import special

from tests.worlds.world import (
    DAYS,
    FIRST_DAY,
    LIFE_STEPS,
    STEP_DAYS,
    Floats,
    Ints,
    World,
    ages_in_days,
    life_share,
    spread_evenly,
)

LOW, HIGH = 1.97, 2.47
"""Base rates follow a beta law with these exponents. Chosen to meet the survey's spread and skewness."""
KM_PER_DAY = 51.2
"""Mean base rate of a new car. Chosen to meet the survey's mean."""
TREND = -0.035
"""Change of the log rate with a year of age; invented. From memory: older cars are driven less, by a few % a year."""

PHASES = np.array([0.5, 1.0, 1.5])
STAY, CALM = 0.90, 0.25
"""Chance to stay in a phase over 30 days; first and last phase lead to the middle one, that to either alike."""
LONG_TRIPS, SHORTEST_KM, TAIL, LONGEST_KM, KM_A_DAY = 4.0, 150.0, 1.7, 6000.0, 700.0
"""Long trips a year of a car of mean use; Pareto(TAIL) from SHORTEST_KM on, cut at LONGEST_KM; driven per day."""


def make_world(vehicles: int = 1500, seed: int = 20240607) -> World:
    """A world of so many cars; the same for the same seed."""
    rng = np.random.default_rng([seed, 2])
    base = special.betaincinv(LOW, HIGH, spread_evenly(rng, vehicles)) / (LOW / (LOW + HIGH))
    ages = ages_in_days(rng, vehicles)
    steps = LIFE_STEPS + DAYS // STEP_DAYS + 2
    phase = PHASES[_phases(rng, vehicles, steps)] / float(_share_of_phases() @ PHASES)
    age_at_step = (ages[:, None] + (np.arange(steps) - LIFE_STEPS + 0.5)[None, :] * STEP_DAYS) / 365.25
    rate = KM_PER_DAY * base[:, None] * phase * np.exp(TREND * age_at_step)
    long_km = _mean_long_km()
    often = LONG_TRIPS * base[:, None] * phase / 365.25

    before = (rate + often * long_km)[:, :LIFE_STEPS] * STEP_DAYS * life_share(ages)
    before *= rng.gamma(6.0, 1 / 6.0, before.shape)

    offset = rng.integers(0, STEP_DAYS, vehicles)
    step_of = LIFE_STEPS + (np.arange(DAYS)[None, :] + offset[:, None]) // STEP_DAYS
    rows = np.arange(vehicles)[:, None]
    daily = _days_with_trips(rng, rate[rows, step_of])
    _add_long_trips(rng, daily, often[rows, step_of])
    return World.of("B", daily.astype(np.float32), FIRST_DAY.toordinal() - ages, before.sum(axis=1))


def _share_of_phases() -> Floats:
    """How often each phase is met in the long run: half the time the middle one (it is led to from two sides)."""
    return np.array([0.25, 0.5, 0.25])


def _phases(rng: np.random.Generator, vehicles: int, steps: int) -> Ints:
    """(vehicles, steps) number of the phase; a hidden Markov chain in its long-run state."""
    moves = rng.random((steps, vehicles)) >= STAY
    up = rng.random((steps, vehicles)) < 0.5
    phase = np.searchsorted(np.cumsum(_share_of_phases()), rng.random(vehicles), side="right")
    found = np.empty((steps, vehicles), dtype=np.int64)
    for step in range(steps):
        away = np.where(phase == 1, np.where(up[step], 2, 0), 1)
        phase = np.where(moves[step], away, phase)
        found[step] = phase
    return found.T


def _days_with_trips(rng: np.random.Generator, rate: Floats) -> Floats:
    """Days with or without a trip, each car with its own habit; lengths inverse-Gaussian."""
    often = rng.uniform(0.35, 0.95, (rate.shape[0], 1))
    evenness = rng.uniform(0.8, 3.0, (rate.shape[0], 1))
    lengths = rng.wald(1.0, np.broadcast_to(evenness, rate.shape))
    return np.asarray(rate / often * lengths * (rng.random(rate.shape) < often))


def _mean_long_km() -> float:
    """Mean of the Pareto law cut at its longest: (shortest * a - longest * (shortest/longest)^a) / (a - 1)."""
    above = SHORTEST_KM * TAIL - LONGEST_KM * float((SHORTEST_KM / LONGEST_KM) ** TAIL)
    return above / (TAIL - 1)


def _add_long_trips(rng: np.random.Generator, daily: Floats, often: Floats) -> None:
    """Adds long trips in place: on the day they begin and as many after it as the way takes."""
    rows, days = np.nonzero(rng.random(daily.shape) < often)
    left = np.minimum(SHORTEST_KM * (1.0 - rng.random(len(rows))) ** (-1 / TAIL), LONGEST_KM)
    while len(rows):
        np.add.at(daily, (rows, days), np.minimum(left, KM_A_DAY))
        left, days = left - KM_A_DAY, days + 1
        on = (left > 0) & (days < DAYS)
        rows, days, left = rows[on], days[on], left[on]
