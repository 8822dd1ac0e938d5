"""On which day a past window's day really came, as far as the readings since then can tell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.due.past_windows import PastWindow, Way
from fleetcare.due.track import Track
from fleetcare.fleet.duty import DutySplit
from fleetcare.wear.distance_limit import UsedSpan

SAME_AMOUNT = 1e-6
"""Km or hours by which two ways to the same true amount may differ, for rounding."""


@dataclass(frozen=True, slots=True)
class RealDay:
    """The day on which it came; ordinals.

    first, last: days of the two readings around it, so the earliest and the latest day possible. on: in between, the
    dial taken as running straight in operational time.
    """

    first: int
    on: float
    last: int


class DialDays:
    """The dials of one vehicle with everything known of them today. tracks: by key of the dial."""

    def __init__(self, tracks: Mapping[str, Track], usual: DutySplit) -> None:
        self._tracks = dict(tracks)
        self._usual = usual
        self._worn: dict[tuple[object, ...], RealDay | None] = {}

    def known_until(self, window: PastWindow) -> int:
        """The day of the last used reading of every dial that the window rests on."""
        keys = {window.meter, *(way.meter for way in window.ways)}
        return min(self._tracks[key].last_ordinal for key in keys)

    def still_stands(self, window: PastWindow) -> bool:
        """The reading of the day on which the window was given is still used, and still means the same distance."""
        track = self._tracks.get(window.meter)
        if track is None or any(way.meter not in self._tracks for way in window.ways):
            return False
        place = int(np.searchsorted(track.ordinals, window.given_on))
        return (
            place < len(track.ordinals)
            and int(track.ordinals[place]) == window.given_on
            and abs(float(track.amounts[place]) - window.stood_at) <= SAME_AMOUNT
        )

    def real_day(self, window: PastWindow) -> RealDay | None:
        """When the milestone was passed, or the first of the service's limits was reached; None if not by a reading.

        The limits are those of the day on which the window was given: work and events since then change nothing, for
        the dial runs past the limit all the same. Duties are those that were really met.
        """
        if window.milestone is not None:
            return _day_of(self._tracks[window.meter], window.milestone)
        found = [day for way in window.ways if (day := self._worn_out(way)) is not None]
        if window.due_on is not None and window.due_on <= self.known_until(window):
            found.append(RealDay(window.due_on, float(window.due_on), window.due_on))
        return min(found, key=lambda day: day.on, default=None)

    def _worn_out(self, way: Way) -> RealDay | None:
        """Many windows of one interval have the same real day; it is looked for once."""
        limit = way.limit
        lives = tuple(sorted(limit.lives_km.items()))
        known_as = (way.meter, way.since, limit.reference_km, limit.other_km, lives, limit.severe)
        if known_as not in self._worn:
            self._worn[known_as] = self._search(way)
        return self._worn[known_as]

    def _search(self, way: Way) -> RealDay | None:
        """The wear only rises, so the span in which it reaches 1 is found by halving."""
        track = self._tracks[way.meter]
        ends = track.spans_since(way.since, self._usual)
        spans = [span for _, span in ends]
        if way.limit.wear(spans) < 1.0:
            return None
        below, reached = 0, len(spans)
        while reached - below > 1:
            middle = (below + reached) // 2
            if way.limit.wear(spans[:middle]) >= 1.0:
                reached = middle
            else:
                below = middle
        place, span = ends[reached - 1]
        return _day_of(track, float(track.amounts[place]) - span.km * (1.0 - _share(way, spans[:reached])))


def _share(way: Way, spans: Sequence[UsedSpan]) -> float:
    """The part of the last span after which the wear reached 1. A severe use in it counts from its beginning."""
    before = way.limit.wear(spans[:-1], severe_in_force=way.limit.severe_in(spans))
    after = way.limit.wear(spans)
    return min(1.0, max(0.0, (1.0 - before) / (after - before))) if after > before else 0.0


def _day_of(track: Track, amount: float) -> RealDay | None:
    """The day on which that true amount was reached, between the two points around it."""
    place = int(np.searchsorted(track.amounts, amount - SAME_AMOUNT))
    if place >= len(track.amounts):
        return None
    last = int(track.ordinals[place])
    if place == 0:
        return RealDay(last, float(last), last)
    first = int(track.ordinals[place - 1])
    gained = float(track.amounts[place] - track.amounts[place - 1])
    share = min(1.0, max(0.0, (amount - float(track.amounts[place - 1])) / gained)) if gained > 0 else 1.0
    s1, s2 = track.clock.at(first), track.clock.at(last)
    on = track.clock.ordinal_at(s1 + share * (s2 - s1)) if s2 > s1 else first + share * (last - first)
    return RealDay(first, min(max(on, float(first)), float(last)), last)
