"""Questions to the pace law, gathered from all lines of all vehicles and answered in one go over arrays."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import PaceState
from fleetcare.usage.priors import Priors
from fleetcare.usage.trips import days_with_trips

Floats = npt.NDArray[np.float64]


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


@dataclass(frozen=True, slots=True)
class Answer:
    """Operational days after the last point: early, likely, late (inf: never), and the likely course until today.

    wear_ahead: wear added on the likely course from the last point to today. wear_per_day: what an operational day adds
    over the next quarter.
    """

    days: tuple[float, float, float]
    wear_ahead: float
    wear_per_day: float


@dataclass(slots=True)
class Questions:
    """Collects questions; `answers` answers all of them, in the order in which they were asked."""

    state: PaceState
    priors: Priors
    _track_rows: list[int] = field(default_factory=list)
    _left: list[float] = field(default_factory=list)
    _shift: list[float] = field(default_factory=list)
    _spread: list[float] = field(default_factory=list)
    _asked: list[tuple[tuple[Stage, ...], float, int]] = field(default_factory=list)

    def ask(self, track_row: int, stages: tuple[Stage, ...], *, today: float) -> int:
        """Asks when the first of these stages reaches its limit; returns the place of the answer.

        today: operational days from the last point to today.
        """
        self._asked.append((stages, today, len(self._left)))
        for stage in stages:
            gone = 0.0
            for wear in (0.0, *(wear for _, wear in stage.trips)):
                gone += wear
                self._add(track_row, stage, stage.left - gone)
        return len(self._asked) - 1

    def answers(self) -> tuple[Answer, ...]:
        """Early, likely and late for every question."""
        if not self._asked:
            return ()
        law = DistanceLaw.of(
            self.state.rows(np.array(self._track_rows, dtype=np.intp)),
            self.priors,
            shift=np.array(self._shift),
            spread=np.array(self._spread),
        )
        days = law.days_to(np.array(self._left), LEVELS)
        until = np.zeros(len(self._left))
        for stages, today, first in self._asked:
            until[first : first + sum(len(stage.trips) + 1 for stage in stages)] = today
        gained = law.quantile(until, 0.0)
        quarter = law.quantile(np.full(len(self._left), 91.0), 0.0) / 91.0
        return tuple(self._answer(*asked, days, gained, quarter) for asked in self._asked)

    def _add(self, track_row: int, stage: Stage, left: float) -> None:
        amount = left / stage.per_unit if stage.per_unit > 0 else (0.0 if left <= 0 else np.inf)
        self._track_rows.append(track_row)
        self._left.append(amount)
        self._shift.append(-np.log1p(stage.uncertainty) / 2.0)
        own = stage.start_variance / amount**2 if 0 < amount < np.inf else 0.0
        # Capped, so that more to go never makes the late date earlier while the start is unsure.
        self._spread.append(float(np.log1p(stage.uncertainty)) + min(0.5, own))

    @staticmethod
    def _answer(
        stages: tuple[Stage, ...], today: float, first: int, days: Floats, gained: Floats, quarter: Floats
    ) -> Answer:
        found = np.full(len(LEVELS), np.inf)
        ahead, per_day = 0.0, 0.0
        used = stages[0].left
        for stage in stages:
            count = len(stage.trips) + 1
            trip_days = np.array([0.0, *(day for day, _ in stage.trips)])
            reached = days_with_trips(days[:, first : first + count], trip_days)
            found = np.minimum(found, np.maximum(reached, stage.from_day))
            if stage.from_day <= today:
                done = sum(wear for day, wear in stage.trips if day <= today)
                # A later stage may have put more wear on what was driven before: that counts as of its first day.
                ahead = max(ahead, used - stage.left + float(gained[first]) * stage.per_unit + done)
                per_day = max(per_day, float(quarter[first]) * stage.per_unit)
            first += count
        early, likely, late = (float(day) for day in np.maximum.accumulate(found))
        return Answer((early, likely, late), ahead, per_day)
