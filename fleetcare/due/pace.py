"""The pace of every meter: one run of the filter over all tracks, and what follows from it for each.

A few tracks are run in plain floats, many as columns of arrays; both give the same figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fleetcare.due.track import Track
from fleetcare.usage.pace_filter import PaceState, assimilate, start
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import AheadOf, Pace, own_dispersion, rested, start_pace, with_increment

Floats = npt.NDArray[np.float64]

PACE_DAYS = 91.0
"""Operational days over which a pace is told: a quarter, over which the wander mostly averages out."""
NEW_HANDS, PASSED_OVER = 1.0, 2.0
FEW = 40
"""Up to so many tracks plain floats are quicker than arrays."""


@dataclass(frozen=True, slots=True)
class Amount:
    """True distance (km) or hours on some day, with its variance; `measured` if read off the dial that day."""

    value: float
    variance: float = 0.0
    measured: bool = False


@dataclass(frozen=True, slots=True)
class TrackPace:
    """The pace of one track, without anything a line adds to it. dispersion: c of the vehicle."""

    track: Track
    row: int
    pace: Pace
    ahead: AheadOf
    dispersion: float
    psi: float

    @property
    def everyday_per_day(self) -> float:
        """Km or hours an operational day on the likely course over the next quarter, without declared trips."""
        return self.ahead.quantile(PACE_DAYS, 0.0) / PACE_DAYS

    def gain(self, running_days: float, z: float = 0.0) -> float:
        """What everyday use adds over so many operational days after the last point."""
        return self.ahead.quantile(running_days, z)

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
            _, spread = self.ahead.moments(running)
            return Amount(track.last_amount + gained, gained**2 * math.expm1(min(spread, 2.0)))
        if ordinal < int(days[0]):
            back = (track.clock.at(float(days[0])) - track.clock.at(ordinal)) * self.everyday_per_day
            value = max(0.0, float(track.amounts[0]) - back)
            return Amount(value, (0.5 * (float(track.amounts[0]) - value)) ** 2)
        index = int(np.searchsorted(days, ordinal, side="right"))
        s1, s, s2 = (track.clock.at(float(day)) for day in (days[index - 1], ordinal, days[index]))
        gained = float(track.amounts[index] - track.amounts[index - 1])
        if s2 - s1 <= 0:
            share = (ordinal - int(days[index - 1])) / int(days[index] - days[index - 1])
            return Amount(float(track.amounts[index - 1]) + share * gained)
        rate = gained / (s2 - s1)
        variance = self.dispersion * self.psi * rate**2 * (s - s1) * (s2 - s) / (s2 - s1)
        return Amount(float(track.amounts[index - 1]) + rate * (s - s1), variance)


@dataclass(frozen=True, slots=True)
class KnownPace:
    """How far the pace of a meter was worked out before, under the numbers now in force.

    m0, s0: nan unless its people named a yearly distance. spans: (n, 5) as `span_words` had them then.
    """

    is_hours: bool
    m0: float
    s0: float
    spans: Floats
    pace: Pace

    def goes_before(self, track: Track, spans: Floats) -> bool:
        """True if this is the beginning of that track, so that only what came since has to be worked out."""
        count = len(self.spans)
        named = track.m0 == self.m0 and track.s0 == self.s0 if track.is_named else math.isnan(self.m0)
        begins = track.is_hours == self.is_hours and named and 0 < count <= len(spans)
        return begins and bool(np.array_equal(self.spans, spans[:count])) and count not in track.new_hands


@dataclass(frozen=True, slots=True)
class Paces:
    """All tracks after one run of the filter, in the order given."""

    of: tuple[TrackPace, ...]


def paces_of(tracks: Sequence[Track], priors: Priors, known: Sequence[Sequence[KnownPace]] = ()) -> Paces:
    """What each track says of its pace.

    known: for each track what was worked out of the meters of its vehicle before. Where it is the beginning of a track,
    a new reading costs the same however many came before it; a correction in the past is worked out from the start.
    """
    if len(tracks) <= FEW:
        given = known or [()] * len(tracks)
        paces = [_pace_of(track, priors, before) for track, before in zip(tracks, given, strict=True)]
    else:
        paces = _by_columns(tracks, priors)
    return Paces(
        tuple(
            TrackPace(track, row, pace, AheadOf(pace, priors), own_dispersion(pace, priors), priors.psi)
            for row, (track, pace) in enumerate(zip(tracks, paces, strict=True))
        )
    )


def _pace_of(track: Track, priors: Priors, known: Sequence[KnownPace]) -> Pace:
    pace, done = start_pace(priors, m0=track.m0, s0=track.s0), 0
    if known:
        spans = span_words(track)
        before = next((each for each in known if each.goes_before(track, spans)), None)
        if before is not None:
            pace, done = before.pace, len(before.spans)
    gained, running = track.everyday.tolist(), track.running.tolist()
    for index in range(done, len(gained)):
        pace = _in_other_hands(pace, index, track, priors)
        if index in track.passed_over:
            pace = rested(pace, running[index])
        else:
            pace = with_increment(pace, gained[index], running[index], priors)
    return _in_other_hands(pace, len(gained), track, priors)


def _in_other_hands(pace: Pace, index: int, track: Track, priors: Priors) -> Pace:
    """Less is taken from before if the vehicle came into other hands at the beginning of that span."""
    return replace(pace, pmm=pace.pmm + priors.new_hands_s0**2) if index in track.new_hands else pace


def span_words(track: Track) -> Floats:
    """(n, 5) first and last ordinal of every span, its gain, its operational days, and a sign.

    The sign is NEW_HANDS if the vehicle came into other hands at its beginning, PASSED_OVER for a spell of rest that is
    passed over, both together if both, else nought.
    """
    sign = np.zeros(len(track.everyday))
    sign[[index for index in track.new_hands if index < len(sign)]] += NEW_HANDS
    sign[list(track.passed_over)] += PASSED_OVER
    return np.column_stack([track.ordinals[:-1], track.ordinals[1:], track.everyday, track.running, sign])


def _by_columns(tracks: Sequence[Track], priors: Priors) -> list[Pace]:
    """The same over (k,) arrays, as many rounds as the longest track has spans.

    Spans stand at the end of their column, so that every track ends with its newest span.
    """
    count = len(tracks)
    rounds = max(len(track.everyday) for track in tracks)
    gained, running, wider, rest = (np.zeros((rounds + 1, count)) for _ in range(4))
    for column, track in enumerate(tracks):
        first = rounds - len(track.everyday)
        gained[first:rounds, column] = track.everyday
        running[first:rounds, column] = track.running
        for index in track.new_hands:
            wider[first + index, column] = priors.new_hands_s0**2
        for index in track.passed_over:
            rest[first + index, column], running[first + index, column] = running[first + index, column], 0.0
    state = start(priors, m0=np.array([t.m0 for t in tracks]), s0=np.array([t.s0 for t in tracks]))
    for gain, span, more, stood in zip(gained, running, wider, rest, strict=True):
        if more.any():
            state = replace(state, pmm=state.pmm + more)
        state = assimilate(state, gain, span, priors)
        if stood.any():
            state = replace(state, back=state.back + np.where(state.n > 0, stood, 0.0))
    return paces_from(state)


def paces_from(state: PaceState) -> list[Pace]:
    """The rows of a state, one by one."""
    return [Pace(*row) for row in np.column_stack([getattr(state, name) for name in state.__slots__]).tolist()]
