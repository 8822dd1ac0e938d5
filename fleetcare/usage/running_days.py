"""Operational days: calendar days weighted by the season, standing still while a vehicle is laid up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from fleetcare.quantities import DateSpan

Floats = npt.NDArray[np.float64]

FIRST_YEAR = 1880
LAST_YEAR = 2210


@dataclass(frozen=True, slots=True)
class SeasonDays:
    """Cumulative operational days without lay-up, as knots at the first of every month; linear between them.

    ordinals, cumulated: (months,) float64, both rising (cumulated may stand still in a month of factor nought).
    """

    ordinals: Floats
    cumulated: Floats

    @classmethod
    def of(cls, season: tuple[float, ...]) -> SeasonDays:
        """Knots for twelve monthly factors, normalised so that a year of 365 days has 365 operational days."""
        firsts = [date(y, m, 1).toordinal() for y in range(FIRST_YEAR, LAST_YEAR) for m in range(1, 13)]
        firsts.append(date(LAST_YEAR, 1, 1).toordinal())
        ordinals = np.array(firsts, dtype=float)
        factors = np.array(season, dtype=float)
        plain_year = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], dtype=float)
        factors = factors * (365.0 / float(factors @ plain_year))
        growth = np.diff(ordinals) * np.tile(factors, LAST_YEAR - FIRST_YEAR)
        return cls(ordinals, np.concatenate(([0.0], np.cumsum(growth))))


@lru_cache(maxsize=8)
def season_days(season: tuple[float, ...]) -> SeasonDays:
    """`SeasonDays.of`, made once for each set of factors."""
    return SeasonDays.of(season)


@dataclass(frozen=True, slots=True)
class RunningDays:
    """The clock of one vehicle. Days are proleptic ordinals (`date.toordinal()`), fractions allowed.

    starts, ends: (spells,) season days at which it is laid up and let out again, apart and in order.
    """

    season: SeasonDays
    starts: Floats
    ends: Floats

    @classmethod
    def of(cls, season: SeasonDays, laid_up: Iterable[DateSpan] = ()) -> RunningDays:
        """The clock of a vehicle that stands still during the spells given; they may overlap."""
        spells: list[tuple[int, int]] = []
        for span in sorted(laid_up):
            first, end = span.first.toordinal(), span.end.toordinal()
            if spells and first <= spells[-1][1]:
                spells[-1] = (spells[-1][0], max(end, spells[-1][1]))
            else:
                spells.append((first, end))
        if not spells:
            return cls(season, np.empty(0), np.empty(0))
        edges = np.interp(np.array(spells, dtype=float), season.ordinals, season.cumulated)
        return cls(season, edges[:, 0], edges[:, 1])

    def at(self, ordinals: npt.ArrayLike) -> Floats:
        """Operational days passed by the start of these days; same shape."""
        season = np.interp(np.asarray(ordinals, dtype=float), self.season.ordinals, self.season.cumulated)
        for start, end in zip(self.starts[::-1], self.ends[::-1], strict=True):
            season = season - np.clip(season - start, 0.0, end - start)
        return np.asarray(season)

    def ordinals_at(self, operational: npt.ArrayLike) -> Floats:
        """The inverse: when so many operational days have passed; the first such moment if it stood still then.

        inf for more than are left before the end of the calendar kept here (year 2210). Same shape as given.
        """
        season = np.asarray(operational, dtype=float)
        for start, end in zip(self.starts, self.ends, strict=True):
            season = np.where(season > start, season + (end - start), season)
        last = self.season.cumulated[-1]
        found = np.interp(season, self.season.cumulated, self.season.ordinals)
        return np.asarray(np.where(season > last, np.inf, found))

    def is_laid_up_for_good(self, ordinal: float) -> bool:
        """True if no operational day is left after this day within the calendar kept here."""
        end = self.season.ordinals[-1]
        left = self.at(np.array([end, ordinal]))
        return bool(left[0] - left[1] < 1e-9)
