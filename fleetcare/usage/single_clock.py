"""The clock of one vehicle in plain floats: the same figures as `RunningDays`, without loading numpy."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from fleetcare.quantities import DateSpan

NO_SEASON = (1.0,) * 12
"""Every month alike: a day is a day."""
FIRST_YEAR = 1880
LAST_YEAR = 2210
"""The calendar kept here: from the first of January of FIRST_YEAR up to that of LAST_YEAR, as in `RunningDays`."""


@dataclass(frozen=True, slots=True)
class SeasonKnots:
    """Cumulative operational days without lay-up at the first of every month; linear between them.

    ordinals, cumulated: rising, of equal length. speeds: operational days a day from each of them on, one fewer.
    """

    ordinals: tuple[float, ...]
    cumulated: tuple[float, ...]
    speeds: tuple[float, ...]


@lru_cache(maxsize=8)
def season_knots(season: tuple[float, ...]) -> SeasonKnots:
    """Knots for twelve monthly factors, normalised so that a year of 365 days has 365 operational days."""
    lengths = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    scale = 365.0 / sum(factor * days for factor, days in zip(season, lengths, strict=True))
    factors = [factor * scale for factor in season]
    firsts = [date(year, month, 1).toordinal() for year in range(FIRST_YEAR, LAST_YEAR) for month in range(1, 13)]
    firsts.append(date(LAST_YEAR, 1, 1).toordinal())
    speeds = factors * (LAST_YEAR - FIRST_YEAR)
    cumulated, passed = [0.0], 0.0
    for at, speed in enumerate(speeds):
        passed += (firsts[at + 1] - firsts[at]) * speed
        cumulated.append(passed)
    return SeasonKnots(tuple(map(float, firsts)), tuple(cumulated), tuple(speeds))


@dataclass(frozen=True, slots=True)
class SingleClock:
    """Operational days of one vehicle. Days are proleptic ordinals (`date.toordinal()`), fractions allowed.

    spells: season days at which it is laid up and let out again, apart and in order.
    """

    season: SeasonKnots
    spells: tuple[tuple[float, float], ...] = ()

    @classmethod
    def of(cls, season: tuple[float, ...], laid_up: Iterable[DateSpan] = ()) -> SingleClock:
        """The clock for twelve monthly factors, standing still during the spells given; they may overlap."""
        knots = season_knots(season)
        spells: list[tuple[int, int]] = []
        for span in sorted(laid_up):
            first, end = span.first.toordinal(), span.end.toordinal()
            if spells and first <= spells[-1][1]:
                spells[-1] = (spells[-1][0], max(end, spells[-1][1]))
            else:
                spells.append((first, end))
        return cls(knots, tuple((_season_day(knots, first), _season_day(knots, end)) for first, end in spells))

    def at(self, ordinal: float) -> float:
        """Operational days passed by the start of this day, counted from the start of the calendar."""
        passed = _season_day(self.season, ordinal)
        for start, end in reversed(self.spells):
            if passed > start:
                passed -= min(passed, end) - start
        return passed

    def ordinal_at(self, operational: float) -> float:
        """The inverse of `at`; the first such moment if the vehicle stood still then, inf past the calendar."""
        season = operational
        for start, end in self.spells:
            if season > start:
                season += end - start
        knots = self.season
        cumulated = knots.cumulated
        if season >= cumulated[-1]:
            return knots.ordinals[-1] if season == cumulated[-1] else float("inf")
        if season < 0.0:
            return knots.ordinals[0]
        place = bisect_right(cumulated, season) - 1
        return knots.ordinals[place] + (season - cumulated[place]) / knots.speeds[place]


def _season_day(knots: SeasonKnots, ordinal: float) -> float:
    """Season days by the start of that day; those at the ends of the calendar outside of it."""
    ordinals = knots.ordinals
    if ordinal >= ordinals[-1]:
        return knots.cumulated[-1]
    if ordinal <= ordinals[0]:
        return 0.0
    place = bisect_right(ordinals, ordinal) - 1
    return knots.cumulated[place] + (ordinal - ordinals[place]) * knots.speeds[place]
