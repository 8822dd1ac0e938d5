"""A world asked everything: training cars and test cars, and every method's scores in every cell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from fleetcare.usage.priors import Priors
from tests.worlds import world_a, world_b
from tests.worlds.cells import HORIZONS, READINGS, Cell, Visible, cell_of, seen_in
from tests.worlds.methods import (
    GammaProcess,
    Method,
    Ours,
    bare,
    fitted_numbers,
    last_two_days,
    lifetime_days,
    with_learned_window,
    without_season,
    year_average_days,
)
from tests.worlds.scores import Floats, Scored, scored
from tests.worlds.world import World

Place = tuple[int, int]
"""(readings in sight, horizon in days)."""

BARE = "12-month average, date only"
AVERAGE = "12-month average + learned window"
LAST_TWO = "last two readings + learned window"
LIFETIME = "lifetime average + learned window"
GAMMA = "gamma process"
SHIPPED = "ours, shipped numbers"
FITTED = "ours, fleet-fitted"
NO_SEASON = "ours, fleet-fitted, no season"
ONE_FOR_ALL = "ours, fleet-fitted, one dispersion for all"
SHIPPED_BORN = "ours, shipped numbers + in-service date"
FITTED_BORN = "ours, fleet-fitted + in-service date"

MAKERS: Mapping[str, Callable[[int, int], World]] = {"A": world_a.make_world, "B": world_b.make_world}
TRAIN_SEED, TEST_SEED = 11, 12


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """Cells of a world's training cars and of its test cars, which are others; numbers: learned from the former."""

    name: str
    train_seen: Visible
    test_world: World
    test_seen: Visible
    numbers: Priors
    cells: Mapping[Place, tuple[Cell, Cell]]

    @classmethod
    def of(cls, name: str, vehicles: int, *, seeds: tuple[int, int] = (TRAIN_SEED, TEST_SEED)) -> Asked:
        """World `A` or `B` with so many cars to learn from and as many others to be judged on."""
        train, test = (MAKERS[name](vehicles, seed) for seed in seeds)
        train_seen, test_seen = seen_in(train), seen_in(test)
        cells = {
            (n, h): (cell_of(train, train_seen, n, h), cell_of(test, test_seen, n, h))
            for n in READINGS
            for h in HORIZONS
        }
        return cls(name, train_seen, test, test_seen, fitted_numbers(train_seen, Priors()), cells)

    @cache  # noqa: B019 - a world is kept as long as it is asked
    def gamma_process(self) -> GammaProcess:
        """The gamma process fitted to the training cars, once."""
        return GammaProcess.fitted(self.train_seen)

    def methods(self) -> dict[str, Method]:
        """All that are compared, by name."""
        fitted = Ours(self.numbers)
        return {
            BARE: bare(year_average_days),
            AVERAGE: with_learned_window(year_average_days),
            LAST_TWO: with_learned_window(last_two_days),
            LIFETIME: with_learned_window(lifetime_days),
            GAMMA: lambda train, test: self.gamma_process()(train, test),
            SHIPPED: Ours(),
            FITTED: fitted,
            NO_SEASON: without_season(fitted),
            ONE_FOR_ALL: one_dispersion(fitted),
            SHIPPED_BORN: Ours(in_service=True),
            FITTED_BORN: Ours(self.numbers, in_service=True),
        }


def one_dispersion(ours: Ours) -> Ours:
    """The same with the fleet's dispersion for every vehicle."""
    return replace(ours, priors=replace(ours.priors, nu=1e9))


@dataclass(frozen=True, slots=True)
class Result:
    """Scores of one method in every cell."""

    by_place: Mapping[Place, Scored]

    @classmethod
    def of(cls, method: Method, cells: Mapping[Place, tuple[Cell, Cell]]) -> Result:
        """Asks the method everything."""
        return cls({place: scored(method(train, test), test.truth, test.h) for place, (train, test) in cells.items()})

    def per_vehicle(self, readings: Iterable[int] = READINGS, horizons: Iterable[int] = HORIZONS) -> Floats:
        """(k,) score over horizon of each vehicle, mean over these cells."""
        chosen = [self.by_place[n, h] for n in readings for h in horizons]
        return np.asarray(np.mean([each.crps / each.horizon for each in chosen], axis=0))

    def coverage(self, readings: Iterable[int] = READINGS, horizons: Iterable[int] = HORIZONS) -> float:
        """Mean share of windows that held."""
        return float(np.mean([self.by_place[n, h].coverage for n in readings for h in horizons]))

    def cell_coverages(self) -> Floats:
        """Share of windows that held, cell by cell."""
        return np.array([each.coverage for each in self.by_place.values()])

    def error_by_horizon(self) -> float:
        """Median absolute error over the horizon, mean over cells."""
        return float(np.mean([each.median_error / each.horizon for each in self.by_place.values()]))

    def misses(self) -> tuple[float, float]:
        """Mean share of services that fell due before the early date, and after the late one."""
        every = self.by_place.values()
        return float(np.mean([each.early.mean() for each in every])), float(
            np.mean([each.late.mean() for each in every])
        )

    def by_regularity(self, seen: Visible, readings: tuple[int, ...] = (6, 12, 24), parts: int = 5) -> Floats:
        """(parts,) coverage of vehicles from the most to the least regular, by the spread of past daily rates in sight.

        Mean over cells with so many readings in sight; every number of readings has its own ranking.
        """
        found = []
        for n in readings:
            visible = seen.newest(n)
            rates = np.diff(visible.km, axis=0) / np.diff(visible.ordinals, axis=0)
            mean = np.maximum(rates.mean(axis=0), 1e-9)
            order = np.argsort(rates.std(axis=0) / mean, kind="stable")
            for h in HORIZONS:
                held = self.by_place[n, h].covered
                found.append([held[part].mean() for part in np.array_split(order, parts)])
        return np.asarray(np.mean(found, axis=0))
