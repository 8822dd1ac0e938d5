"""A whole fleet by columns: the inputs of its lines as arrays, and the dates that follow from them in one go.

Packed, the inputs of one vehicle are a run of 64-bit floats: a head, then its meters, their spans, its limits and its
lines, each a fixed number of words. So the packed inputs of any number of vehicles, laid end to end, are read without a
loop over vehicles. Days are proleptic ordinals.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fleetcare.due.limit import LAST_DAY
from fleetcare.due.line_inputs import LimitInputs, LineInputs, State, VehicleInputs
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.due.pace import PASSED_OVER, KnownPace
from fleetcare.usage.distance_law import LEVELS, Z_LATE, DistanceLaw
from fleetcare.usage.pace_filter import PaceState, assimilate, start
from fleetcare.usage.priors import Priors
from fleetcare.usage.running_days import SeasonDays, season_days
from fleetcare.usage.single_pace import Pace

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FORM = 1.0
"""Of the words below; packed inputs of another form are made anew."""
HEAD, TRACK, SPAN, LIMIT, LINE = 6, 13, 5, 9, 10
"""Words of each part. Head: form, number of the fit, counts of meters, spans, limits, lines."""

_BACK = PaceState.__slots__.index("back")
_CAUSES = tuple(Cause)
_REASONS = tuple(NoDate)
_NO_WINDOW = 100.0
"""Codes from here on are reasons why there is no window, below it causes."""


def packed(inputs: VehicleInputs, fit: int) -> bytes:
    """The inputs of one vehicle as bytes. fit: number of the fit under which its states were worked out, 0 for none."""
    spans = [track.spans for track in inputs.tracks]
    limits = [_limit_words(place, limit) for place, line in enumerate(inputs.lines) for limit in line.limits]
    head = (FORM, fit, len(inputs.tracks), sum(map(len, spans)), len(limits), len(inputs.lines))
    tracks = [
        (track.is_hours, track.m0, track.s0, track.last_ordinal, len(track.spans), *track.state)
        for track in inputs.tracks
    ]
    lines = [_line_words(line) for line in inputs.lines]
    parts = [np.array(part, dtype=np.float64).ravel() for part in (head, tracks, *spans, limits, lines)]
    return np.concatenate(parts).tobytes()


def _limit_words(place: int, limit: LimitInputs) -> tuple[float, ...]:
    passed = limit.passed or (math.nan, math.nan, math.nan)
    cause = _CAUSES.index(limit.cause)
    return (place, limit.track, limit.amount, limit.shift, limit.spread, cause, *passed)


def _line_words(line: LineInputs) -> tuple[float, ...]:
    cause = -1.0 if line.dated_cause is None else float(_CAUSES.index(line.dated_cause))
    reason = -1.0 if line.reason is None else float(_REASONS.index(line.reason))
    return (*line.dated, cause, 1.0 if line.worn else 0.0, reason, *state_words(line.state))


def state_words(state: State) -> tuple[float, float, float, float]:
    """A window as its three ordinals and a code for its cause, or nought three times and a code for its reason."""
    if isinstance(state, DueWindow):
        days = (state.early.toordinal(), state.likely.toordinal(), state.late.toordinal())
        return (*days, float(_CAUSES.index(state.cause)))
    return (0.0, 0.0, 0.0, _NO_WINDOW + _REASONS.index(state))


def state_of_words(words: Sequence[float]) -> State:
    """The window or reason that `state_words` wrote down."""
    early, likely, late, code = (int(word) for word in words)
    if code >= _NO_WINDOW:
        return _REASONS[code - int(_NO_WINDOW)]
    return DueWindow(date.fromordinal(early), date.fromordinal(likely), date.fromordinal(late), _CAUSES[code])


def known_paces(numbers: bytes, fit: int) -> tuple[KnownPace, ...]:
    """How far the paces of one vehicle's meters were worked out under that fit; none if it was another."""
    words = np.frombuffer(numbers, dtype=np.float64)
    if len(words) < HEAD or words[0] != FORM or words[1] != fit:
        return ()
    count = int(words[2])
    tracks = words[HEAD : HEAD + count * TRACK].reshape(count, TRACK)
    found, at = [], HEAD + count * TRACK
    for is_hours, m0, s0, _, spans, *state in tracks.tolist():
        end = at + int(spans) * SPAN
        found.append(KnownPace(is_hours > 0, m0, s0, words[at:end].reshape(-1, SPAN), Pace(*state)))
        at = end
    return tuple(found)


class _Runs(NamedTuple):
    """Where the rows of one part stand: first word of each row, and the vehicle it belongs to."""

    at: Ints
    owner: Ints


@dataclass(slots=True)
class FleetColumns:
    """The inputs of many vehicles. words: all of them end to end; the rest says where each part stands.

    vehicle_of_line, vehicle_of_track: (lines,), (tracks,). first_line: (vehicles + 1,). limits are grouped by line, in
    order; line_of_limit, track_of_limit: (limits,).
    """

    words: Floats
    starts: Ints
    tracks: Floats
    track_at: Ints
    spans: Floats
    limits: Floats
    line_of_limit: Ints
    track_of_limit: Ints
    lines: Floats
    line_at: Ints
    vehicle_of_line: Ints
    vehicle_of_track: Ints
    first_line: Ints

    @classmethod
    def of(cls, numbers: Sequence[bytes]) -> FleetColumns:
        """The columns of these packed inputs, one per vehicle."""
        lengths = np.fromiter(map(len, numbers), dtype=np.int64, count=len(numbers)) // 8
        words = np.frombuffer(b"".join(numbers), dtype=np.float64).copy()
        starts = np.concatenate(([0], np.cumsum(lengths)))[:-1].astype(np.int64)
        counts = words[starts[:, None] + np.arange(2, HEAD)].astype(np.int64)
        n_tracks, n_spans, n_limits, n_lines = counts.T
        at = starts + HEAD
        track = _runs(at, n_tracks, TRACK)
        at = at + n_tracks * TRACK
        span = _runs(at, n_spans, SPAN)
        at = at + n_spans * SPAN
        limit = _runs(at, n_limits, LIMIT)
        at = at + n_limits * LIMIT
        line = _runs(at, n_lines, LINE)
        limits = _rows(words, limit.at, LIMIT)
        first_line = np.concatenate(([0], np.cumsum(n_lines)))
        first_track = np.concatenate(([0], np.cumsum(n_tracks)))
        return cls(
            words=words,
            starts=starts,
            tracks=_rows(words, track.at, TRACK),
            track_at=track.at,
            spans=_rows(words, span.at, SPAN),
            limits=limits,
            line_of_limit=first_line[limit.owner] + limits[:, 0].astype(np.int64),
            track_of_limit=first_track[limit.owner] + limits[:, 1].astype(np.int64),
            lines=_rows(words, line.at, LINE),
            line_at=line.at,
            vehicle_of_line=line.owner,
            vehicle_of_track=track.owner,
            first_line=first_line,
        )

    @property
    def fits(self) -> Ints:
        """(vehicles,) number of the fit under which the states of each were worked out."""
        return np.asarray(self.words[self.starts + 1].astype(np.int64))

    @property
    def stored(self) -> Floats:
        """(lines, 4) what was last worked out for each line, as `state_words`."""
        return self.lines[:, 6:]

    def states(self, priors: Priors) -> Floats:
        """(tracks, 8) the numbers of the pace filter after all spans, worked out anew."""
        hours = self.tracks[:, 0] > 0
        usual = np.where(hours, priors.m0 - math.log(priors.mean_speed_km_per_h), priors.m0)
        m0 = np.where(np.isnan(self.tracks[:, 1]), usual, self.tracks[:, 1])
        s0 = np.where(np.isnan(self.tracks[:, 2]), priors.s0, self.tracks[:, 2])
        counts = self.tracks[:, 4].astype(np.int64)
        # The longest histories first, so that those with a round to go are always the rows in front.
        order = np.argsort(-counts, kind="stable")
        first = (np.cumsum(counts) - counts)[order]
        counts = counts[order]
        season = season_days(priors.season)
        running = np.diff(np.interp(self.spans[:, :2], season.ordinals, season.cumulated), axis=1)[:, 0]
        gained = self.spans[:, 2]
        passed_over = self.spans[:, 4] >= PASSED_OVER
        state = np.stack(_eight(start(priors, m0=m0[order], s0=s0[order])))
        for round_ in range(int(counts[0]) if len(counts) else 0):
            left = int(np.searchsorted(-counts, -round_, side="left"))
            rows = first[:left] + round_
            stood = passed_over[rows]
            span = running[rows]
            after = assimilate(PaceState(*state[:, :left]), gained[rows], np.where(stood, 0.0, span), priors)
            state[:, :left] = _eight(after)
            # A spell of rest that is passed over makes a pace older, and leaves it otherwise as it was.
            state[_BACK, :left] += np.where(stood & (after.n > 0), span, 0.0)
        found = np.empty((len(order), 8))
        found[order] = state.T
        return found

    def windows(self, priors: Priors, states: Floats) -> Floats:
        """(lines, 4) early, likely, late and cause of every line, as `state_words`. states: of the same numbers."""
        early, likely, late, cause = (self.lines[:, column].copy() for column in range(4))
        if len(self.limits):
            reached = self._reached(priors, states)
            lines, firsts = np.unique(self.line_of_limit, return_index=True)
            by_meter = np.minimum.reduceat(reached, firsts, axis=1)
            is_first = reached[1] <= np.repeat(by_meter[1], np.diff(np.append(firsts, len(self.limits))))
            place = np.where(is_first, np.arange(len(self.limits)), len(self.limits))
            which = self.limits[np.minimum.reduceat(place, firsts), 5]
            # A bare date wins a tie, as it is named first.
            cause[lines] = np.where(by_meter[1] < likely[lines], which, cause[lines])
            for days, found in zip((early, likely, late), by_meter, strict=True):
                days[lines] = np.minimum(days[lines], found)
        end = float(LAST_DAY.toordinal())
        without = ~(likely < end)
        in_days = [_day(np.minimum(early, likely)), _day(likely), _day(np.maximum(np.minimum(late, end), likely))]
        beyond = np.where(
            np.isinf(likely) & (self.lines[:, 4] == 0.0), _REASONS.index(NoDate.NO_USE), _REASONS.index(NoDate.BEYOND)
        )
        reason = np.where(self.lines[:, 5] >= 0, self.lines[:, 5], beyond)
        found = np.column_stack([*in_days, cause])
        found[without, :3] = 0.0
        found[without, 3] = _NO_WINDOW + reason[without]
        return found

    def put(self, fit: int, states: Floats, windows: Floats) -> list[bytes]:
        """The packed inputs again, one per vehicle, with these states and windows in them."""
        self.words[self.starts + 1] = fit
        self.words[self.track_at[:, None] + np.arange(5, TRACK)] = states
        self.words[self.line_at[:, None] + np.arange(6, LINE)] = windows
        ends = np.append(self.starts[1:], len(self.words))
        return [self.words[begin:end].tobytes() for begin, end in zip(self.starts.tolist(), ends.tolist(), strict=True)]

    def _reached(self, priors: Priors, states: Floats) -> Floats:
        """(3, limits) early, likely and late ordinal of every limit on a meter."""
        season = season_days(priors.season)
        rows = states[self.track_of_limit]
        law = DistanceLaw.of(
            PaceState(*rows.T.copy()), priors, shift=self.limits[:, 3].copy(), spread=self.limits[:, 4].copy()
        )
        days = law.days_to(self.limits[:, 2].copy(), LEVELS)
        last = self.tracks[self.track_of_limit, 3]
        passed = np.interp(last, season.ordinals, season.cumulated) + days
        ordinals = np.interp(passed, season.cumulated, season.ordinals)
        found = np.maximum(np.where(passed > season.cumulated[-1], np.inf, ordinals), last)
        crossed = ~np.isnan(self.limits[:, 6])
        if crossed.any():
            begin, share, end = self.limits[crossed, 6:].T
            found[:, crossed] = _crossing_days(begin, share, end, law.c[crossed] * priors.psi, season)
        return np.asarray(found)


def _crossing_days(begin: Floats, share: Floats, end: Floats, noise: Floats, season: SeasonDays) -> Floats:
    """(3, k) days of limits that were reached between two points, as `by_meter` finds them. noise: c psi, in days."""
    s1, s2 = (np.interp(day, season.ordinals, season.cumulated) for day in (begin, end))
    width = s2 - s1
    s = s1 + share * width
    half = Z_LATE * np.sqrt(noise * np.maximum(0.0, (s - s1) * (s2 - s)) / np.where(width > 0, width, 1.0))
    days = np.interp([np.maximum(s1, s - half), s, np.minimum(s2, s + half)], season.cumulated, season.ordinals)
    stood = np.stack([begin, begin + share * (end - begin), end])
    return np.where(width > 0, np.clip(days, begin, end), stood)


def _runs(first: Ints, counts: Ints, width: int) -> _Runs:
    """The rows of one part of every vehicle: `counts` rows of `width` words each, from the word `first` on."""
    owner = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    return _Runs(first[owner] + within * width, owner)


def _rows(words: Floats, at: Ints, width: int) -> Floats:
    return np.asarray(words[at[:, None] + np.arange(width)])


def _eight(state: PaceState) -> tuple[Floats, ...]:
    return tuple(getattr(state, name) for name in PaceState.__slots__)


def _day(ordinals: Floats) -> Floats:
    return np.asarray(np.maximum(1.0, np.floor(ordinals + 0.5)))
