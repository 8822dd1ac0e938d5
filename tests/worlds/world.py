"""A world of cars: what each really drives day by day, and what its people see of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FIRST_DAY = date(2015, 1, 1)
DAYS = 2950
"""Some eight years: 24 readings a month apart, a year over which the last reading is spread, and 1,800 days ahead."""
LAST_READ_FROM, LAST_READ_TO = 780, 1145
"""Days of the panel between which the last reading of a vehicle falls: a whole year, so that every season is met."""
LIFE_STEPS = 290
"""Steps of 30 days that are drawn before the panel: 23.8 years, the oldest car."""
STEP_DAYS = 30


@dataclass(frozen=True, slots=True)
class World:
    """Cars by row.

    first: ordinal of the panel's first day. daily_km: (vehicles, days) float32, what was driven on each day.
    dial_at_first: (vehicles,) km on the dial at the start of the first day, all of them driven since `in_service`
    (vehicles,), an ordinal before the panel. through: (vehicles, days + 1) km driven in the panel by a day's start.
    """

    name: str
    first: int
    daily_km: npt.NDArray[np.float32]
    in_service: Ints
    dial_at_first: Floats
    through: Floats

    @classmethod
    def of(cls, name: str, daily_km: npt.NDArray[np.float32], in_service: Ints, dial_at_first: Floats) -> World:
        """A world whose panel begins on `FIRST_DAY`."""
        through = np.zeros((daily_km.shape[0], daily_km.shape[1] + 1))
        np.cumsum(daily_km, axis=1, dtype=np.float64, out=through[:, 1:])
        return cls(name, FIRST_DAY.toordinal(), daily_km, in_service, dial_at_first, through)

    @property
    def vehicles(self) -> int:
        """How many cars there are."""
        return int(self.daily_km.shape[0])

    def dial(self, rows: npt.ArrayLike, ordinals: npt.ArrayLike) -> Ints:
        """Whole km on the dial at the start of these days, rounded down as a dial does; rows and days broadcast."""
        which = np.asarray(rows)
        place = np.asarray(ordinals) - self.first
        return np.asarray(np.floor(self.dial_at_first[which] + self.through[which, place]), dtype=np.int64)

    def read_on(self, count: int, *, seed: int = 0, every: int = 30, jitter: int = 6) -> Ints:
        """Ordinals of reading, (vehicles, count), oldest first: about `every` days apart, up to `jitter` more or less.

        The last one falls on a random day of a whole year, another for each vehicle.
        """
        rng = np.random.default_rng([seed, 77])
        last = self.first + rng.integers(LAST_READ_FROM, LAST_READ_TO, self.vehicles)
        gaps = rng.integers(every - jitter, every + jitter + 1, (self.vehicles, max(0, count - 1)))
        back = np.concatenate((np.cumsum(gaps[:, ::-1], axis=1)[:, ::-1], np.zeros((self.vehicles, 1), int)), axis=1)
        return np.asarray(last[:, None] - back, dtype=np.int64)

    def readings(self, vehicle: int, count: int = 24, *, seed: int = 0) -> tuple[Ints, Ints]:
        """What the people of one car wrote down: ordinals and whole km, (count,) each, oldest first."""
        days = self.read_on(count, seed=seed)[vehicle]
        return days, self.dial(vehicle, days)

    def days_until(self, ordinals: Ints, km: Floats) -> Floats:
        """Days after the start of that day until so many km more were really driven; (vehicles,) each, inf if unknown.

        Within a day it is taken to run evenly.
        """
        rows = np.arange(self.vehicles)
        target = self.through[rows, ordinals - self.first] + np.maximum(km, 0.0)
        # The last day by whose start the target was not yet reached.
        place = np.array([np.searchsorted(row, t, side="left") for row, t in zip(self.through, target, strict=True)])
        place = np.clip(place, 1, self.through.shape[1] - 1)
        before, after = self.through[rows, place - 1], self.through[rows, place]
        part = (target - before) / np.where(after > before, after - before, 1.0)
        found = place - 1 + np.clip(part, 0.0, 1.0) - (ordinals - self.first)
        return np.where(target > self.through[:, -1], np.inf, np.maximum(found, 0.0))

    def km_a_year(self, ordinal: int) -> Floats:
        """Odometer over age on that day, km a year of 365.25 days, as a survey of vehicles asks for it; (vehicles,)."""
        km = self.dial_at_first + self.through[:, ordinal - self.first]
        return np.asarray(km / (ordinal - self.in_service) * 365.25)


def spread_evenly(rng: np.random.Generator, count: int) -> Floats:
    """Chances between 0 and 1 in random order, one from each of `count` equal parts: a sample without its luck."""
    return np.asarray((rng.permutation(count) + rng.random(count)) / count)


def ages_in_days(rng: np.random.Generator, count: int) -> Ints:
    """Ages of cars on the panel's first day: a gamma law of mean 8.5 years, between 3 months and 23 years.

    From memory: cars in use in the survey of 2017 are some ten years old on average; here the panel goes on for eight
    years and its last readings fall two to three years in.
    """
    years = np.clip(rng.gamma(2.2, 8.5 / 2.2, count), 0.25, 23.0)
    return np.asarray(np.round(years * 365.25), dtype=np.int64)


def spells(rng: np.random.Generator, shape: tuple[int, int], chance: float) -> Ints:
    """Number of the spell each step belongs to, for spells that end with this chance at each step; same shape."""
    return np.asarray(np.cumsum(rng.random(shape) < chance, axis=1), dtype=np.int64)


def life_share(ages: Ints) -> Floats:
    """(vehicles, LIFE_STEPS): share of each step before the panel in which the car was in service already."""
    steps_before = np.arange(LIFE_STEPS, 0, -1)
    return np.clip(ages[:, None] / STEP_DAYS - (steps_before - 1)[None, :], 0.0, 1.0)
