"""A limit on a meter, distance or hours: what was used of it, what is left, and the question that asks for its date."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetcare.due.asking import Answer, Questions, Stage
from fleetcare.due.limit import LimitOutlook, wear_course
from fleetcare.due.outlook import Cause
from fleetcare.due.pace import Amount, TrackPace
from fleetcare.due.track import Track
from fleetcare.fleet.duty import DutySplit
from fleetcare.usage.distance_law import Z_LATE
from fleetcare.usage.mix import MixForecast
from fleetcare.usage.priors import Priors
from fleetcare.wear.distance_limit import DistanceLimit, UsedSpan


@dataclass(frozen=True, slots=True)
class AskedLimit:
    """A limit on a meter whose date was asked for. All amounts in km or hours.

    since: true amount it is counted from. spans: what was used since, up to the last point. severe: severe duties in
    force on a strict line. used: wear at the last point, negative after work past it. per_unit: wear an everyday km or
    hour adds. place: of the answer. passed: early, likely, late ordinals if the limit was reached by reading.
    """

    limit: DistanceLimit
    pace: TrackPace
    since: Amount
    spans: tuple[UsedSpan, ...]
    severe: frozenset[str]
    used: float
    per_unit: float
    place: int
    passed: tuple[float, float, float] | None

    @property
    def left(self) -> float:
        """Everyday km or hours left at the last point, at the mix ahead; inf if nothing wears."""
        return (1.0 - self.used) / self.per_unit if self.per_unit > 0 else float("inf")


def ask_limit(
    limit: DistanceLimit,
    pace: TrackPace,
    since: Amount,
    since_ordinal: int,
    mix: MixForecast,
    usual: DutySplit,
    questions: Questions,
    priors: Priors,
    *,
    today: int,
) -> AskedLimit:
    """Puts the question when a limit counted from the true amount `since` on that day is reached.

    On a strict line a severe duty counts from the start of the interval if it was met since, or if it is a regular part
    of the mix ahead; else from the first booked trip under it.
    """
    track = pace.track
    ends = track.spans_since(since.value, usual)
    spans = tuple(span for _, span in ends)
    regular = frozenset(duty for duty in limit.severe if mix.split.share(duty) >= priors.severe_share)
    severe = limit.severe_in(spans) | regular
    stands = track.has_stood(priors.no_use_days)
    before_work = max(0.0, since.value - track.last_amount)

    def stage(in_force: frozenset[str], from_day: float) -> Stage:
        per_km = limit.wear_per_km({duty for duty, _ in mix.split.shares}, severe_in_force=in_force)
        mean, uncertainty = mix.wear_moments(per_km)
        used = limit.wear(spans, severe_in_force=in_force) - before_work * mean
        trips = tuple(
            (
                track.running_since_last(trip.ordinal),
                limit.wear([UsedSpan(trip.km, trip.split)], severe_in_force=in_force),
            )
            for trip in track.trips_ahead()
            if trip.ordinal > since_ordinal
        )
        return Stage(from_day, 1.0 - used, 0.0 if stands else mean, uncertainty, since.variance, trips)

    stages = [stage(severe, 0.0)]
    met: frozenset[str] = severe
    for trip in track.trips_ahead():
        more = limit.severe_in([UsedSpan(trip.km, trip.split)]) - met
        if more:
            met |= more
            stages.append(stage(met, track.running_since_last(trip.ordinal)))
    if track.from_bookings:
        # What was booked before stands for what is not booked yet; bookings to come do not come on top of it.
        stages = [part for whole in stages for part in _apart(whole)]
    place = questions.ask(pace.row, tuple(stages), today=track.running_since_last(today))
    used = 1.0 - stages[0].left
    passed = _passed(limit, pace, ends, severe, since_ordinal) if used >= 1.0 else None
    return AskedLimit(limit, pace, since, spans, severe, used, stages[0].per_unit, place, passed)


def answered_limit(asked: AskedLimit, answer: Answer, cause: Cause, *, today: int) -> LimitOutlook:
    """Where the limit stands, once its question is answered."""
    track = asked.pace.track
    if asked.passed is not None:
        early, likely, late = asked.passed
    else:
        last = float(track.clock.at(float(track.last_ordinal)))
        days = track.clock.ordinals_at(last + np.array(answer.days))
        # While the clock stands its inverse answers with the first such moment, which may lie before the last point.
        early, likely, late = (max(float(day), float(track.last_ordinal)) for day in days)
    q_read = max(0.0, asked.used)
    q_now = max(q_read, asked.used + answer.wear_ahead)
    return LimitOutlook(
        cause=cause,
        early=early,
        likely=likely,
        late=late,
        q_read=q_read,
        q_now=q_now,
        per_day=wear_course(q_now=q_now, likely=likely, today=float(today), pace=answer.wear_per_day),
    )


def _apart(stage: Stage) -> tuple[Stage, Stage]:
    """Everyday use alone, and bookings alone; whichever is there first."""
    alone = Stage(stage.from_day, stage.left, stage.per_unit, stage.uncertainty, stage.start_variance)
    return alone, Stage(stage.from_day, stage.left, 0.0, trips=stage.trips)


def _passed(
    limit: DistanceLimit,
    pace: TrackPace,
    ends: Sequence[tuple[int, UsedSpan]],
    severe: frozenset[str],
    since_ordinal: int,
) -> tuple[float, float, float]:
    """Early, likely and late ordinal on which the wear reached 1, between the two points around it."""
    before = 0.0
    for position, (index, _) in enumerate(ends):
        so_far = limit.wear([span for _, span in ends[: position + 1]], severe_in_force=severe)
        if so_far >= 1.0:
            share = (1.0 - before) / (so_far - before)
            return _crossing(pace, index, share, since_ordinal)
        before = so_far
    last = float(pace.track.last_ordinal)
    return last, last, last


def _crossing(pace: TrackPace, index: int, share: float, since_ordinal: int) -> tuple[float, float, float]:
    """The days on which `share` of what the span gained that ends at point `index` was reached.

    The likely course runs straight in operational time; early and late are 10 and 90 % of a bridge between the two
    points (variance in days c psi (s-s1)(s2-s)/(s2-s1)) and lie between them.
    """
    track: Track = pace.track
    end = int(track.ordinals[index])
    begin = min(end, max(since_ordinal, int(track.ordinals[index - 1]) if index else since_ordinal))
    s1, s2 = (float(v) for v in track.clock.at(np.array([begin, end], dtype=float)))
    if s2 - s1 <= 0:
        return float(begin), begin + share * (end - begin), float(end)
    s = s1 + share * (s2 - s1)
    half = Z_LATE * float(np.sqrt(pace.dispersion * pace.psi * max(0.0, (s - s1) * (s2 - s)) / (s2 - s1)))
    days = track.clock.ordinals_at(np.array([max(s1, s - half), s, min(s2, s + half)]))
    early, likely, late = (min(max(float(day), float(begin)), float(end)) for day in days)
    return early, likely, late
