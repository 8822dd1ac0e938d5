"""World A: weekdays, weekends and holidays, with season, jobs that change and winters nobody speaks of.

A car's day is the sum of a commute, errands, weekend trips and the drive of a holiday. Jobs and households change by
jumps. Some cars stand every winter without anybody saying so. All are held to two published figures: the spread of
yearly distance over cars (US National Household Travel Survey 2017, vehicle file: mean 16,981 km, coefficient of
variation 0.517, skewness of the logarithm -1.26) and the season (FHWA Traffic Volume Trends 2004). How the distance
divides over commute, errands and trips, and how often lives change, is invented.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import numpy.typing as npt
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
    spells,
    spread_evenly,
)

POWER = 2.95
"""Base rates follow a Weibull law with this exponent, ..."""
SELDOM, SELDOM_SHARE = 0.05, 0.15
"""... and so many cars are used seldom, at this share of it. Both chosen to meet the survey's spread and skewness."""
KM_PER_DAY = 50.7
"""Mean base rate of the others. Chosen to meet the survey's mean, lay-ups taken off."""
MONTHS = (0.985, 0.999, 1.065, 1.022, 1.013, 0.984, 0.858, 0.913, 0.993, 1.010, 1.070, 1.173)
"""What is left of the published season after holidays and lay-ups; chosen so that all cars together show it."""

COMMUTERS, JOB_CHANGES, NO_JOB = 0.60, 0.15, 0.10
"""Share of cars that commute; changes of job a year; share of spells without one."""
HOUSEHOLD_CHANGES = 0.10
LAID_UP = 0.10
"""Share of cars that stand every winter."""
STANDS_A_YEAR, STAND_DAYS = 0.2, 12.0


def make_world(vehicles: int = 1500, seed: int = 20240607) -> World:
    """A world of so many cars; the same for the same seed."""
    rng = np.random.default_rng([seed, 1])
    base = KM_PER_DAY / special.gamma(1 + 1 / POWER) * (-np.log(spread_evenly(rng, vehicles))) ** (1 / POWER)
    base *= np.where(spread_evenly(rng, vehicles) < SELDOM, SELDOM_SHARE, 1.0)
    ages = ages_in_days(rng, vehicles)
    commuting = np.where(rng.random(vehicles) < COMMUTERS, rng.beta(3.0, 4.5, vehicles), 0.0)
    steps = LIFE_STEPS + DAYS // STEP_DAYS + 2
    job = _jobs(rng, vehicles, steps)
    household = _households(rng, vehicles, steps)
    laid_up = rng.random(vehicles) < LAID_UP

    before = base[:, None] * (commuting[:, None] * job + (1 - commuting[:, None]) * household)[:, :LIFE_STEPS]
    before = before * STEP_DAYS * life_share(ages) * rng.gamma(12.0, 1 / 12.0, (vehicles, LIFE_STEPS))
    stands = np.where(laid_up, 1.0 - 133 / 365.25, 1.0) * (1.0 - STANDS_A_YEAR * (STAND_DAYS + 5) / 365.25)
    dial = before.sum(axis=1) * stands

    offset = rng.integers(0, STEP_DAYS, vehicles)
    step_of = LIFE_STEPS + (np.arange(DAYS)[None, :] + offset[:, None]) // STEP_DAYS
    rows = np.arange(vehicles)[:, None]
    at_work = (base * commuting)[:, None] * job[rows, step_of]
    at_home = (base * (1 - commuting))[:, None] * household[rows, step_of]
    leave, driving = _leave(rng, vehicles)
    daily = _commute(rng, at_work, leave)
    daily += _errands(rng, 0.60 * at_home)
    daily += _weekends(rng, 0.34 * at_home)
    daily += 0.06 * at_home * driving
    daily *= np.array(MONTHS)[_month_of_day() - 1]
    daily[_stands(rng, vehicles, laid_up)] = 0.0
    return World.of("A", daily.astype(np.float32), FIRST_DAY.toordinal() - ages, dial)


def _jobs(rng: np.random.Generator, vehicles: int, steps: int) -> Floats:
    """(vehicles, steps) factor on the commute, mean 1: another for each job, nought without one."""
    which = spells(rng, (vehicles, steps), JOB_CHANGES * STEP_DAYS / 365.25)
    lots = int(which.max()) + 1
    factor = rng.gamma(5.0, 1 / 5.0, (vehicles, lots)) / (1 - NO_JOB) * (rng.random((vehicles, lots)) >= NO_JOB)
    return np.asarray(factor[np.arange(vehicles)[:, None], which])


def _households(rng: np.random.Generator, vehicles: int, steps: int) -> Floats:
    """(vehicles, steps) factor on all else, mean 1."""
    which = spells(rng, (vehicles, steps), HOUSEHOLD_CHANGES * STEP_DAYS / 365.25)
    factor = rng.gamma(12.0, 1 / 12.0, (vehicles, int(which.max()) + 1))
    return np.asarray(factor[np.arange(vehicles)[:, None], which])


def _weekday() -> Ints:
    return (np.arange(DAYS) + FIRST_DAY.weekday()) % 7


def _month_of_day() -> Ints:
    return np.array([(FIRST_DAY + timedelta(days=day)).month for day in range(DAYS)], dtype=np.int64)


def _leave(rng: np.random.Generator, vehicles: int) -> tuple[npt.NDArray[np.bool_], Floats]:
    """Days of leave, and how many times the daily rate a holiday's drive takes on a day (mean 1 over the years)."""
    leave = np.zeros((vehicles, DAYS), dtype=bool)
    driving = np.zeros((vehicles, DAYS))
    rows = np.arange(vehicles)
    for year in range(FIRST_DAY.year, FIRST_DAY.year + DAYS // 365 + 1):
        new_year = (date(year, 1, 1) - FIRST_DAY).days
        start = new_year + rng.integers(165, 225, vehicles)
        length = rng.integers(9, 21, vehicles)
        away = rng.random(vehicles) < 0.6
        days = 365.25 / 6 / 0.6 * rng.gamma(3.0, 1 / 3.0, vehicles)
        for k in range(21):
            on = (k < length) & (start + k < DAYS)
            leave[rows[on], start[on] + k] = True
            drives = on & away & ((k < 3) | (k >= length - 3))
            driving[rows[drives], start[drives] + k] += days[drives]
        christmas = (date(year, 12, 23) - FIRST_DAY).days
        leave[:, christmas : christmas + 11] = True
    return leave, driving


def _commute(rng: np.random.Generator, rate: Floats, leave: npt.NDArray[np.bool_]) -> Floats:
    """The way to work and back on most weekdays outside of leave: about 226 a year, within a tenth of each other."""
    goes = (rng.random(rate.shape) < 0.92) & (_weekday() < 5) & ~leave
    return np.asarray(rate * 365.25 / 226 * goes * rng.uniform(0.9, 1.1, rate.shape))


def _errands(rng: np.random.Generator, rate: Floats) -> Floats:
    """Short ways on seven days in ten, exponential lengths."""
    return np.asarray(rate / 0.7 * rng.standard_exponential(rate.shape) * (rng.random(rate.shape) < 0.7))


def _weekends(rng: np.random.Generator, rate: Floats) -> Floats:
    """Trips on some weekends, there on Saturday and back on Sunday; each car has its own liking for it."""
    days = np.flatnonzero(_weekday() == 5)
    liking = rng.uniform(0.15, 0.6, (rate.shape[0], 1))
    shape = (rate.shape[0], len(days))
    length = 7 / liking * rng.gamma(1.5, 1 / 1.5, shape) * (rng.random(shape) < liking)
    trips = np.zeros_like(rate)
    trips[:, days] = rate[:, days] * length / 2
    trips[:, np.minimum(days + 1, DAYS - 1)] += trips[:, days]
    return trips


def _stands(rng: np.random.Generator, vehicles: int, laid_up: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    """(vehicles, DAYS): the car stands; whole winters of the laid-up ones, and days or weeks of any."""
    edges = np.zeros((vehicles, DAYS + 1), dtype=np.int64)
    rows = np.flatnonzero(laid_up)
    for year in range(FIRST_DAY.year - 1, FIRST_DAY.year + DAYS // 365 + 1):
        start = (date(year, 11, 8) - FIRST_DAY).days + rng.integers(-15, 16, len(rows))
        end = (date(year + 1, 3, 20) - FIRST_DAY).days + rng.integers(-15, 16, len(rows))
        np.add.at(edges, (rows, np.clip(start, 0, DAYS)), 1)
        np.add.at(edges, (rows, np.clip(end, 0, DAYS)), -1)
    count = rng.poisson(STANDS_A_YEAR * DAYS / 365.25, vehicles)
    rows = np.repeat(np.arange(vehicles), count)
    start = rng.integers(0, DAYS, len(rows))
    end = start + 5 + np.round(rng.exponential(STAND_DAYS, len(rows))).astype(np.int64)
    np.add.at(edges, (rows, start), 1)
    np.add.at(edges, (rows, np.minimum(end, DAYS)), -1)
    return np.asarray(np.cumsum(edges[:, :-1], axis=1) > 0)
