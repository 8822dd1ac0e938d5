"""What is asked: of cars with so many readings in sight, when is a service due that seems so many days away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.worlds.world import Floats, Ints, World

READINGS = (1, 2, 3, 6, 12, 24)
HORIZONS = (30, 91, 182, 365)
YEAR = 365
SURVEY_KM_PER_DAY = 16981 / 365.25
"""Mean of the US National Household Travel Survey 2017, vehicle file: all that is known of a car with one reading."""
SURVEY_DAYS = 60.0
"""The survey's mean counts like so many days in sight when the remaining distance is set."""


@dataclass(frozen=True, slots=True)
class Visible:
    """Readings in sight, oldest first. ordinals, km: (n, k). in_service: (k,) ordinal of a dial at nought."""

    ordinals: Ints
    km: Floats
    in_service: Ints

    @property
    def last(self) -> Ints:
        """Ordinals of the last reading; (k,)."""
        return np.asarray(self.ordinals[-1])

    def newest(self, n: int) -> Visible:
        """Only the last n readings."""
        return Visible(self.ordinals[-n:], self.km[-n:], self.in_service)

    def rows(self, index: Ints) -> Visible:
        """Only these vehicles."""
        return Visible(self.ordinals[:, index], self.km[:, index], self.in_service[index])

    def year_sums(self) -> tuple[Floats, Floats]:
        """Days and km from the oldest reading of the last 365 days to the last; from the one before it if it is alone.

        (k,) each; nought for a single reading.
        """
        n = len(self.ordinals)
        first = np.argmax(self.ordinals >= self.last - YEAR, axis=0)
        first = np.maximum(np.minimum(first, n - 2), 0)
        rows = np.arange(self.ordinals.shape[1])
        return (self.last - self.ordinals[first, rows]).astype(float), self.km[-1] - self.km[first, rows]


@dataclass(frozen=True, slots=True)
class Cell:
    """One question to each vehicle. remaining: (k,) km from the last reading. truth: (k,) days it really took."""

    n: int
    h: int
    visible: Visible
    remaining: Floats
    truth: Floats


def remaining_km(visible: Visible, h: int, mean_per_day: float = SURVEY_KM_PER_DAY) -> Floats:
    """Km so that the service seems h days away to who sees these readings and no more; whole km, at least one.

    Rule: h times (km of the last twelve months in sight + 60 days of the mean) / (their days + 60). Neither the future
    nor readings out of sight have a part in it; the 60 days keep a car that stood from being asked for nothing.
    """
    days, km = visible.year_sums()
    return np.maximum(1.0, np.round(h * (km + SURVEY_DAYS * mean_per_day) / (days + SURVEY_DAYS)))


def seen_in(world: World, *, count: int = 24, seed: int = 0) -> Visible:
    """All readings of a world's cars, about a month apart."""
    days = world.read_on(count, seed=seed)
    km = world.dial(np.arange(world.vehicles)[:, None], days)
    return Visible(days.T, km.T.astype(float), world.in_service)


def cell_of(world: World, seen: Visible, n: int, h: int) -> Cell:
    """The question of one cell, with its true answer.

    The service is due when the dial shows the last reading and the remaining km; a dial counts whole km, so the part of
    a km that it did not show yet is taken off.
    """
    visible = seen.newest(n)
    remaining = remaining_km(visible, h)
    rows = np.arange(world.vehicles)
    unseen = world.dial_at_first + world.through[rows, visible.last - world.first] - visible.km[-1]
    return Cell(n, h, visible, remaining, world.days_until(visible.last, remaining - unseen))
