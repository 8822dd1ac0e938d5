"""The pace of every meter at once: one run of the filter over all tracks, and what follows from it for each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleetcare.due.track import Track
from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.pace_filter import PaceState, assimilate_all, dispersion, start
from fleetcare.usage.priors import Priors

Floats = npt.NDArray[np.float64]

PACE_DAYS = 91.0
"""Operational days over which a pace is told: a quarter, over which the wander mostly averages out."""


@dataclass(frozen=True, slots=True)
class Amount:
    """True distance (km) or hours on some day, with its variance; `measured` if read off the dial that day."""

    value: float
    variance: float = 0.0
    measured: bool = False


@dataclass(frozen=True, slots=True)
class TrackPace:
    """The pace of one track. law has one row, without anything a line adds to it. dispersion: c of the vehicle."""

    track: Track
    row: int
    law: DistanceLaw
    dispersion: float
    psi: float

    @property
    def everyday_per_day(self) -> float:
        """Km or hours an operational day on the likely course over the next quarter, without declared trips."""
        return float(self.law.quantile(np.array([PACE_DAYS]), 0.0)[0]) / PACE_DAYS

    def gain(self, running_days: float, z: float = 0.0) -> float:
        """What everyday use adds over so many operational days after the last point."""
        return float(self.law.quantile(np.array([running_days]), z)[0])

    def reckoned(self, ordinal: float) -> float:
        """True distance or hours on that day on the likely course, trips by then included; from the last point on."""
        trips = sum(trip.km for trip in self.track.trips_ahead() if trip.ordinal <= ordinal)
        return self.track.last_amount + self.gain(self.track.running_since_last(ordinal)) + trips

    def amount_on(self, ordinal: int) -> Amount:
        """True distance or hours at the start of that day, between the points, before the first or after the last.

        Between two points the likely course runs straight in operational time with the variance of a bridge,
        c psi rate^2 (s-s1)(s2-s)/(s2-s1). After the last the law itself; before the first the pace, half of it unsure.
        """
        track = self.track
        days = track.ordinals
        if ordinal >= track.last_ordinal:
            running = track.running_since_last(ordinal)
            gained = self.reckoned(ordinal) - track.last_amount
            if running <= 0:
                return Amount(track.last_amount + gained)
            _, spread = self.law.moments(np.array([running]))
            return Amount(track.last_amount + gained, gained**2 * float(np.expm1(min(float(spread[0]), 2.0))))
        if ordinal < int(days[0]):
            here, first = track.clock.at(np.array([ordinal, days[0]], dtype=float))
            back = float(first - here) * self.everyday_per_day
            value = max(0.0, float(track.amounts[0]) - back)
            return Amount(value, (0.5 * (float(track.amounts[0]) - value)) ** 2)
        index = int(np.searchsorted(days, ordinal, side="right"))
        s1, s, s2 = (float(v) for v in track.clock.at(np.array([days[index - 1], ordinal, days[index]], dtype=float)))
        gained = float(track.amounts[index] - track.amounts[index - 1])
        if s2 - s1 <= 0:
            share = (ordinal - int(days[index - 1])) / int(days[index] - days[index - 1])
            return Amount(float(track.amounts[index - 1]) + share * gained)
        rate = gained / (s2 - s1)
        variance = self.dispersion * self.psi * rate**2 * (s - s1) * (s2 - s) / (s2 - s1)
        return Amount(float(track.amounts[index - 1]) + rate * (s - s1), variance)


@dataclass(frozen=True, slots=True)
class Paces:
    """All tracks after one run of the filter; state has one row per track."""

    state: PaceState
    of: tuple[TrackPace, ...]


def paces_of(tracks: Sequence[Track], priors: Priors) -> Paces:
    """What each track says of its pace; (k,) arrays over tracks, as many rounds as the longest has spans.

    Spans stand at the end of their column, so that every track ends with its newest span.
    """
    count = len(tracks)
    rounds = max((len(track.everyday) for track in tracks), default=0)
    gained = np.zeros((rounds, count))
    running = np.zeros((rounds, count))
    for column, track in enumerate(tracks):
        spans = len(track.everyday)
        if spans:
            gained[rounds - spans :, column] = track.everyday
            running[rounds - spans :, column] = track.running
    state = start(priors, m0=np.array([t.m0 for t in tracks]), s0=np.array([t.s0 for t in tracks]))
    state = assimilate_all(state, gained, running, priors)
    c = dispersion(state, priors)
    return Paces(
        state,
        tuple(
            TrackPace(track, row, DistanceLaw.of(state.rows(np.array([row])), priors), float(c[row]), priors.psi)
            for row, track in enumerate(tracks)
        ),
    )
