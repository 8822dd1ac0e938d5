"""What the dates of one vehicle's lines are made of, in plain numbers: no sentence, no object of the book left in it.

A vehicle has such inputs if nothing but time and its own pace stand between today and its dates. Then its dates follow
from these numbers and the numbers of the forecast alone, whatever day it is, and a whole fleet is worked out by columns
(`columns`). Everything else (trips to come, lay-ups, an unmeasured start, a limit that is passed) wants the long way.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import date

import numpy as np
import numpy.typing as npt

from fleetcare.due.by_meter import Crossing
from fleetcare.due.counted_from import Origin
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.limit import LimitOutlook
from fleetcare.due.line_case import LineCase, Situation
from fleetcare.due.outlook import Cause, DueWindow, LineOutlook, NoDate
from fleetcare.due.pace import TrackPace, span_words
from fleetcare.fleet.component import LineKey

Floats = npt.NDArray[np.float64]

State = DueWindow | NoDate


@dataclass(frozen=True, slots=True)
class TrackInputs:
    """One meter: m0, s0 are nan unless its people named a yearly distance.

    spans: (n, 5) as `span_words`, oldest first. state: the eight numbers of the pace filter after the last span.
    """

    is_hours: bool
    m0: float
    s0: float
    last_ordinal: int
    spans: Floats
    state: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class LimitInputs:
    """A limit on the meter `track`: everyday amount to go at its last point, shift and spread of its law.

    passed: where, if it was reached by reading.
    """

    track: int
    amount: float
    shift: float
    spread: float
    cause: Cause
    passed: Crossing | None


@dataclass(frozen=True, slots=True)
class LineInputs:
    """One line. dated: early, likely and late ordinal of its limits that are bare dates (inf: none), and their cause.

    worn: whether use wears it at all. reason: why it has no window whatever the pace; None if it has limits.
    state: what the long way made of it.
    """

    key: LineKey
    dated: tuple[float, float, float]
    dated_cause: Cause | None
    limits: tuple[LimitInputs, ...]
    worn: bool
    reason: NoDate | None
    state: State


@dataclass(frozen=True, slots=True)
class VehicleInputs:
    """The inputs of one vehicle, lines in order of their keys; without any if they do not suffice (`whole`)."""

    whole: bool
    tracks: tuple[TrackInputs, ...]
    lines: tuple[LineInputs, ...]


def vehicle_inputs(
    situation: Situation, cases: Sequence[LineCase], lines: Sequence[LineOutlook], today: date
) -> VehicleInputs:
    """The inputs of a vehicle that was worked out the long way. cases, lines: of the same lines, in the same order."""
    paces = [pace for pace in (situation.distance, situation.hours) if pace is not None]
    tracks = tuple(_track_inputs(pace) for pace in paces if not pace.track.from_bookings)
    place = {pace.row: index for index, pace in enumerate(paces)}
    found = []
    if not _depends_on_more(situation.facts, paces, today):
        found = [_line_inputs(situation, case, line, place, today) for case, line in zip(cases, lines, strict=True)]
        whole = [line for line in found if line is not None]
        if len(whole) == len(cases):
            return VehicleInputs(True, tracks, tuple(sorted(whole, key=lambda line: line.key)))
    return VehicleInputs(False, tracks, ())


def _line_inputs(
    situation: Situation, case: LineCase, line: LineOutlook, place: Mapping[int, int], today: date
) -> LineInputs | None:
    """None if its dates depend on more: on the day it is asked, or on a limit that is bent or passed."""
    if situation.is_gone:
        return LineInputs(line.key, _NEVER, None, (), False, NoDate.OUT_OF_FLEET, NoDate.OUT_OF_FLEET)
    if case.since.origin is not Origin.WORK and case.since.on >= today:
        return None
    limits = []
    for asked in case.asked:
        stage = asked.limit.alone
        if stage is None:
            return None
        amount, shift, spread = stage.ahead(stage.left)
        passed = asked.limit.passed
        limits.append(LimitInputs(place[asked.limit.pace.row], amount, shift, spread, asked.cause, passed))
    dated, cause = _dated(case.dated)
    return LineInputs(
        key=line.key,
        dated=dated,
        dated_cause=cause,
        limits=tuple(limits),
        worn=any(asked.limit.per_unit > 0 for asked in case.asked),
        reason=line.no_date if not case.asked and not case.dated else None,
        state=line.window if line.window is not None else line.no_date or NoDate.BEYOND,
    )


_NEVER = (math.inf, math.inf, math.inf)


def _depends_on_more(facts: VehicleFacts, paces: Sequence[TrackPace], today: date) -> bool:
    """True if its dates depend on today, on bookings, on spells of rest, or on a change of hands."""
    vehicle = facts.vehicle
    if vehicle.laid_up or any(pace.track.from_bookings or pace.track.trips_ahead() for pace in paces):
        return True
    if vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on > today:
        return True
    if any(pace.track.new_hands for pace in paces):
        return True
    days = (
        *(reading.on for reading in facts.readings),
        *(record.on for record in facts.work),
        *(event.on for event in facts.events),
        *(booking.days.last for booking in facts.bookings),
    )
    return any(day > today for day in days)


def _track_inputs(pace: TrackPace) -> TrackInputs:
    track = pace.track
    return TrackInputs(
        is_hours=track.is_hours,
        m0=track.m0 if track.is_named else math.nan,
        s0=track.s0 if track.is_named else math.nan,
        last_ordinal=track.last_ordinal,
        spans=span_words(track),
        state=astuple(pace.pace),
    )


def _dated(dated: Sequence[LimitOutlook]) -> tuple[tuple[float, float, float], Cause | None]:
    """Bare dates taken together: each of the three days is the earliest that any of them names."""
    if not dated:
        return _NEVER, None
    first = min(dated, key=lambda limit: limit.likely)
    return (min(limit.early for limit in dated), first.likely, min(limit.late for limit in dated)), first.cause
