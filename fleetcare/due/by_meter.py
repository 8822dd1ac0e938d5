"""A limit on a meter, distance or hours: what was used of it, what is left, and the question that asks for its date."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

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


class Crossing(NamedTuple):
    """A limit was reached between two points of a track, when `share` of what was gained between them was gained.

    begin, end: ordinals of the points; of one day if nothing is known but that it was passed by then.
    """

    begin: float
    share: float
    end: float


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
    passed: Crossing | None
    alone: Stage | None = None
    stages: tuple[Stage, ...] = ()

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
    before: Sequence[UsedSpan] = (),
    unsure: float = 0.0,
) -> AskedLimit:
    """Puts the question when a limit counted from the true amount `since` on that day is reached.

    before: what of it was used by then on another vehicle. unsure: squared coefficient of variation of the limit
    itself, where it is no printed figure.

    On a strict line a severe duty counts from the start of the interval if it was met since, or if it is a regular part
    of the mix ahead; else from the first booked trip under it.
    """
    track = pace.track
    ends = track.spans_since(since.value, usual)
    if before:
        index = ends[0][0] if ends else len(track.amounts) - 1
        ends = [*((index, span) for span in before), *ends]
    spans = tuple(span for _, span in ends)
    regular = frozenset(duty for duty in limit.severe if mix.split.share(duty) >= priors.severe_share)
    severe = limit.severe_in(spans) | regular
    stands = track.has_stood(priors.no_use_days)
    before_work = max(0.0, since.value - track.last_amount)

    def stage(in_force: frozenset[str], from_day: float) -> Stage:
        per_km = limit.wear_per_km({duty for duty, _ in mix.split.shares}, severe_in_force=in_force)
        mean, by_mix = mix.wear_moments(per_km)
        uncertainty = by_mix + unsure
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
    passed = _passed(limit, track, ends, severe, since_ordinal) if used >= 1.0 else None
    first = stages[0]
    is_alone = len(stages) == 1 and not first.trips and first.start_variance == 0.0
    alone = first if is_alone else None
    return AskedLimit(
        limit, pace, since, spans, severe, used, first.per_unit, place, passed, alone, stages=tuple(stages)
    )


def answered_limit(asked: AskedLimit, answer: Answer, cause: Cause, *, today: int) -> LimitOutlook:
    """Where the limit stands, once its question is answered."""
    track = asked.pace.track
    if asked.passed is not None:
        early, likely, late = _crossing_days(asked.pace, asked.passed)
    else:
        last = track.clock.at(track.last_ordinal)
        # While the clock stands its inverse answers with the first such moment, which may lie before the last point.
        early, likely, late = (
            max(track.clock.ordinal_at(last + days), float(track.last_ordinal)) for days in answer.days
        )
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
    track: Track,
    ends: Sequence[tuple[int, UsedSpan]],
    severe: frozenset[str],
    since_ordinal: int,
) -> Crossing:
    """Where the wear reached 1."""
    before = 0.0
    for position, (index, _) in enumerate(ends):
        so_far = limit.wear([span for _, span in ends[: position + 1]], severe_in_force=severe)
        if so_far >= 1.0:
            end = int(track.ordinals[index])
            begin = min(end, max(since_ordinal, int(track.ordinals[index - 1]) if index else since_ordinal))
            return Crossing(float(begin), (1.0 - before) / (so_far - before), float(end))
        before = so_far
    return Crossing(float(track.last_ordinal), 0.0, float(track.last_ordinal))


def _crossing_days(pace: TrackPace, crossing: Crossing) -> tuple[float, float, float]:
    """Early, likely and late ordinal of a crossing.

    The likely course runs straight in operational time; early and late are 10 and 90 % of a bridge between the two
    points (variance in days c psi (s-s1)(s2-s)/(s2-s1)) and lie between them.
    """
    clock = pace.track.clock
    begin, share, end = crossing
    s1, s2 = clock.at(begin), clock.at(end)
    if s2 - s1 <= 0:
        return begin, begin + share * (end - begin), end
    s = s1 + share * (s2 - s1)
    half = Z_LATE * math.sqrt(pace.dispersion * pace.psi * max(0.0, (s - s1) * (s2 - s)) / (s2 - s1))
    days = (clock.ordinal_at(passed) for passed in (max(s1, s - half), s, min(s2, s + half)))
    early, likely, late = (min(max(day, begin), end) for day in days)
    return early, likely, late
