"""Questions to the pace law, gathered from all lines of all vehicles and answered in one go over arrays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass, field
from itertools import accumulate
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fleetcare.due.pace import TrackPace
from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import PaceState
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import AheadOf
from fleetcare.usage.trips import days_with_trips

Floats = npt.NDArray[np.float64]

QUARTER = 91.0
"""Operational days over which the wear a day is told."""
FEW = 120
"""Up to so many rows plain floats are quicker than arrays."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One way to the limit, open from `from_day` operational days on.

    left: wear still to come at the last point; 1 less what was used (more than 1 after work since). per_unit: wear an
    everyday km or hour adds, its squared coefficient of variation `uncertainty`. start_variance: variance of the true
    amount the line counts from. trips: (operational day, wear) each, oldest first.
    """

    from_day: float
    left: float
    per_unit: float
    uncertainty: float = 0.0
    start_variance: float = 0.0
    trips: tuple[tuple[float, float], ...] = ()

    def ahead(self, left: float) -> tuple[float, float, float]:
        """(amount, shift, spread) of the law for so much wear still to come.

        amount: everyday km or hours to go, inf if nothing wears. shift: added to the mean of its log. spread: added to
        the variance of its log.
        """
        amount = left / self.per_unit if self.per_unit > 0 else (0.0 if left <= 0 else math.inf)
        own = self.start_variance / amount**2 if 0 < amount < math.inf else 0.0
        # Capped, so that more to go never makes the late date earlier while the start is unsure.
        unsure = math.log1p(self.uncertainty)
        return amount, -unsure / 2.0, unsure + min(0.5, own)


@dataclass(frozen=True, slots=True)
class Answer:
    """Operational days after the last point: early, likely, late (inf: never), and the likely course until today.

    wear_ahead: wear added on the likely course from the last point to today. wear_per_day: what an operational day adds
    over the next quarter.
    """

    days: tuple[float, float, float]
    wear_ahead: float
    wear_per_day: float


class _Row(NamedTuple):
    """One way to one limit: track, everyday amount, shift and spread of the law, operational days until today."""

    track_row: int
    amount: float
    shift: float
    spread: float
    today: float


@dataclass(slots=True)
class Questions:
    """Collects questions; `answers` answers all of them, in the order in which they were asked."""

    paces: Sequence[TrackPace]
    priors: Priors
    _rows: list[_Row] = field(default_factory=list)
    _asked: list[tuple[tuple[Stage, ...], float, int]] = field(default_factory=list)

    def ask(self, track_row: int, stages: tuple[Stage, ...], *, today: float) -> int:
        """Asks when the first of these stages reaches its limit; returns the place of the answer.

        today: operational days from the last point to today.
        """
        self._asked.append((stages, today, len(self._rows)))
        for stage in stages:
            gone = 0.0
            for wear in (0.0, *(wear for _, wear in stage.trips)):
                gone += wear
                self._rows.append(_Row(track_row, *stage.ahead(stage.left - gone), today))
        return len(self._asked) - 1

    def answers(self) -> tuple[Answer, ...]:
        """Early, likely and late for every question."""
        days, gained, quarter = self._few() if len(self._rows) <= FEW else self._by_columns()
        return tuple(self._answer(*asked, days, gained, quarter) for asked in self._asked)

    def _few(self) -> tuple[Floats, Floats, Floats]:
        days = np.empty((len(LEVELS), len(self._rows)))
        gained, quarter = np.empty(len(self._rows)), np.empty(len(self._rows))
        for place, (track_row, amount, shift, spread, today) in enumerate(self._rows):
            law = AheadOf(self.paces[track_row].pace, self.priors, shift, spread)
            days[:, place] = law.days_to(amount)
            gained[place] = law.quantile(today, 0.0)
            quarter[place] = law.quantile(QUARTER, 0.0) / QUARTER
        return days, gained, quarter

    def _by_columns(self) -> tuple[Floats, Floats, Floats]:
        rows = np.array(self._rows)
        state = PaceState(*np.array([astuple(pace.pace) for pace in self.paces]).T)
        law = DistanceLaw.of(
            state.rows(rows[:, 0].astype(np.intp)), self.priors, shift=rows[:, 2].copy(), spread=rows[:, 3].copy()
        )
        gained = law.quantile(rows[:, 4].copy(), 0.0)
        quarter = law.quantile(np.full(len(rows), QUARTER), 0.0) / QUARTER
        return law.days_to(rows[:, 1].copy(), LEVELS), gained, quarter

    @staticmethod
    def _answer(
        stages: tuple[Stage, ...], today: float, first: int, days: Floats, gained: Floats, quarter: Floats
    ) -> Answer:
        ahead, per_day = 0.0, 0.0
        used = stages[0].left
        reached = [math.inf] * len(LEVELS)
        for stage in stages:
            here = days[:, first].tolist()
            if stage.trips:
                trip_days = np.array([0.0, *(day for day, _ in stage.trips)])
                here = days_with_trips(days[:, first : first + len(trip_days)], trip_days).tolist()
            reached = [min(so_far, max(day, stage.from_day)) for so_far, day in zip(reached, here, strict=True)]
            if stage.from_day <= today:
                done = sum(wear for day, wear in stage.trips if day <= today)
                # A later stage may have put more wear on what was driven before: that counts as of its first day.
                ahead = max(ahead, used - stage.left + float(gained[first]) * stage.per_unit + done)
                per_day = max(per_day, float(quarter[first]) * stage.per_unit)
            first += len(stage.trips) + 1
        early, likely, late = accumulate(reached, max)
        return Answer((early, likely, late), ahead, per_day)
