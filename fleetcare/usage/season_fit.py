"""How a fleet learns its own season: its paces by month, drawn to the shipped factors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

ENOUGH_VEHICLES = 50
"""Below, a factor rests on too few spans: what one family does in May is no season."""
ENOUGH_DAYS = 365
"""A vehicle takes part if its readings cover a year; the mean pace of half a year is no yardstick for its months."""
SHIPPED_WEIGHT = 40.0
"""The shipped factor of a month counts like so many spans of a month that lie wholly in it. Measured on simulated cars:
it finds a season that is there and none where there is none."""
MONTH_DAYS = 30.0
MOST_OF_MEAN = 4.0
"""A span counts with at most so many times the vehicle's mean pace, so that a typing error makes no season."""
ROUNDS = 6
"""A vehicle's mean pace depends on the season, and the season on it; by then nothing moves by a thousandth."""

PLAIN_YEAR = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=float)


@dataclass(frozen=True, slots=True)
class Months:
    """Spans of many vehicles, in any order.

    vehicle: (n,) whose span it is, 0 ... k-1. km: (n,) everyday distance. days: (n, 12) calendar days of the span in
    each month, January first, without lay-ups.
    """

    vehicle: Ints
    km: Floats
    days: Floats


def estimate_months(months: Months, shipped: tuple[float, ...]) -> tuple[float, ...] | None:
    """Twelve factors that give 365 operational days in a plain year; None if there is not enough to go by.

    Method: ridge regression (Hoerl and Kennard, 1970) of each span's pace, relative to the vehicle's own mean, on its
    share of days in each month; the penalty draws to the shipped factors. Spans count by their length up to a month.
    """
    total = months.days.sum(axis=1)
    vehicles = int(months.vehicle.max()) + 1 if len(months.vehicle) else 0
    covered = np.bincount(months.vehicle, total, vehicles)
    driven = np.bincount(months.vehicle, months.km, vehicles)
    enough = (covered >= ENOUGH_DAYS) & (driven > 0)
    if int(enough.sum()) < ENOUGH_VEHICLES:
        return None
    used = enough[months.vehicle] & (total > 0)
    whose, km, days, total = months.vehicle[used], months.km[used], months.days[used], total[used]
    share = days / total[:, None]
    weight = np.minimum(1.0, total / MONTH_DAYS)
    start = _normalised(np.array(shipped, dtype=float))
    season = start
    counted = km
    for _ in range(ROUNDS):
        running = days @ season
        mean = np.bincount(whose, counted, vehicles) / np.maximum(np.bincount(whose, running, vehicles), 1e-9)
        counted = np.minimum(km, MOST_OF_MEAN * mean[whose] * running)
        pace = counted / (total * mean[whose])
        left = (share * weight[:, None]).T @ share + SHIPPED_WEIGHT * np.eye(12)
        right = (share * weight[:, None]).T @ pace + SHIPPED_WEIGHT * start
        season = _normalised(np.maximum(np.linalg.solve(left, right), 0.0))
    return tuple(float(factor) for factor in season)


def _normalised(season: Floats) -> Floats:
    return np.asarray(season * (365.0 / float(season @ PLAIN_YEAR)))
