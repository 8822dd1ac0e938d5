"""The readings of one meter of a vehicle, walked: which are right, and the distance they make."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

import numpy as np

from fleetcare.due.facts import VehicleFacts, trips_of
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.meter.checking import (
    HOURS_PER_DAY,
    CheckedMeter,
    DialSegment,
    MeterFinding,
    Misfit,
    check_meter,
    dial_value,
)
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import DAYS_PER_YEAR, MeterUnit, km_from
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_judged import DialReading, Judged, Verdict, Walk
from fleetcare.usage.reading_walk import walk_readings
from fleetcare.usage.single_clock import SingleClock

_ONE = Decimal(1)
COUNTED = (ReadingState.USED, ReadingState.HELD)
"""States between which the walk decides; readings in another state were settled by a person."""


class PaceStart(NamedTuple):
    """Mean and spread of the log rate before any reading, and whether its people named them."""

    m0: float
    s0: float
    is_named: bool


def pace_start(vehicle: Vehicle, priors: Priors, *, is_hours: bool = False) -> PaceStart:
    """What is believed of the pace of a vehicle before its first reading, km or hours an operational day."""
    if vehicle.yearly_km and vehicle.yearly_km > 0:
        start = PaceStart(math.log(vehicle.yearly_km / DAYS_PER_YEAR), priors.own_rate_s0, True)
    else:
        start = PaceStart(priors.m0, priors.s0, False)
    return start._replace(m0=start.m0 - math.log(priors.mean_speed_km_per_h)) if is_hours else start


@dataclass(frozen=True, slots=True)
class MeterWalk:
    """Readings of one meter in the order walked: by day, as given; and the walk along them."""

    meter: Meter
    readings: tuple[Reading, ...]
    walk: Walk

    @property
    def km_per_unit(self) -> float:
        """Km in one unit of the dial; 1 for hours."""
        return km_per_unit(self.meter)

    def judged(self, reading: Reading) -> Judged:
        """What is thought of one of the readings."""
        return self.walk.judged[self.readings.index(reading)]

    def used(self) -> list[tuple[Reading, float, float]]:
        """(reading, true distance, true less dial) of those the walk uses, in the meter's own unit, by day."""
        walk = self.walk
        return [
            (self.readings[place], true, offset)
            for place, true, offset in zip(walk.used, walk.true, walk.offsets, strict=True)
        ]


def km_per_unit(meter: Meter) -> float:
    """Km in one unit of the dial; 1 for hours."""
    return 1.0 if meter.unit.distance is None else km_from(1.0, meter.unit.distance)


def readings_of(facts: VehicleFacts, meter: Meter, *, as_of: date | None = None) -> tuple[Reading, ...]:
    """The readings of a meter between which the walk decides, by day, as given, and by what they show."""
    end = as_of or date.max
    is_hours = meter.unit is MeterUnit.HOURS
    mine = [
        r
        for r in facts.readings
        if r.meter == meter.key and r.state in COUNTED and r.on <= end and (r.unit is MeterUnit.HOURS) == is_hours
    ]
    # Two that were given at one moment are told apart by what they show, never by the order in which they came in.
    return tuple(sorted(mine, key=lambda r: (r.on, r.entered_at, dial_value(r.value, r.unit, meter), r.unit)))


def walk_of(facts: VehicleFacts, meter: Meter, priors: Priors, *, as_of: date | None = None) -> MeterWalk:
    """The walk along the readings of one meter of a vehicle; later ones than as_of are left out."""
    readings = readings_of(facts, meter, as_of=as_of)
    vehicle, per = facts.vehicle, km_per_unit(meter)
    is_hours = meter.unit is MeterUnit.HOURS
    start = pace_start(vehicle, priors, is_hours=is_hours)
    in_service = None
    if vehicle.in_service_on is not None:
        in_service = vehicle.in_service_on.toordinal(), float(meter.delivery_value)
    walk = walk_readings(
        [
            DialReading(
                ordinal=r.on.toordinal(),
                value=dial_value(r.value, r.unit, meter),
                vouched=bool(r.vouched_by),
                per_typed=1.0 if r.unit is meter.unit else dial_value(_ONE, r.unit, meter),
            )
            for r in readings
        ],
        clock=SingleClock.of(priors.season, vehicle.laid_up),
        priors=priors,
        km_per_unit=per,
        is_hours=is_hours,
        m0=start.m0,
        s0=start.s0,
        in_service=in_service,
        trips=() if is_hours else [(trip.ordinal, trip.km / per) for trip in trips_of(facts)],
        changes=[(c.on.toordinal(), float(c.old_end), float(c.new_start)) for c in meter.changes],
        max_per_day=HOURS_PER_DAY if is_hours else vehicle.max_km_per_day / per,
        digits=meter.digits,
        rolls_over=meter.rolls_over,
    )
    return MeterWalk(meter, readings, walk)


def read_meter(facts: VehicleFacts, meter: Meter, priors: Priors, *, as_of: date) -> CheckedMeter:
    """The used readings of a meter as a distance that never falls.

    Where they fit each other and none is held there is nothing to decide; else the walk says which are right, and where
    a meter that nobody said was changed goes on from another figure.
    """
    vehicle = facts.vehicle
    checked = check_meter(facts.readings, meter, as_of=as_of, max_km_per_day=vehicle.max_km_per_day)
    held = any(
        r.meter == meter.key and r.on <= as_of and (r.state is ReadingState.HELD or r.vouched_by)
        for r in facts.readings
    )
    if not checked.findings and not held:
        return checked
    walked = walk_of(facts, meter, priors, as_of=as_of)
    points = [point for point in walked.used() if point[0].state is ReadingState.USED]
    days = {reading.on for reading, _, _ in points}
    findings = [finding for finding in checked.findings if finding.kind is Misfit.WRONG_KIND]
    findings += [
        MeterFinding(reading, _misfit(judged))
        for reading, judged in zip(walked.readings, walked.walk.judged, strict=True)
        if reading.state is ReadingState.USED and judged.verdict is Verdict.HELD and reading.on not in days
    ]
    return CheckedMeter(
        meter=meter,
        readings=tuple(reading for reading, _, _ in points),
        ordinals=np.array([reading.on.toordinal() for reading, _, _ in points], dtype=np.int64),
        distances=np.array([true for _, true, _ in points]) * walked.km_per_unit,
        splits=tuple(reading.split for reading, _, _ in points),
        segments=_segments(meter, points),
        findings=tuple(findings),
    )


def _misfit(judged: Judged) -> Misfit:
    return Misfit.RUNS_BACKWARDS if judged.gain < 0 else Misfit.TOO_FAST


def _segments(meter: Meter, points: list[tuple[Reading, float, float]]) -> tuple[DialSegment, ...]:
    """Segments in day order, the first from the beginning of time; known changes begin on their day."""
    changes = [change.on for change in meter.changes]
    segments = [DialSegment(0, points[0][2] if points else 0.0)]
    before: date | None = None
    for reading, _, offset in points:
        if before is not None and abs(offset - segments[-1].offset) > 1e-6:
            crossed = [on for on in changes if before < on <= reading.on]
            first = crossed[0] if crossed else reading.on
            segments.append(DialSegment(first.toordinal(), offset))
        before = reading.on
    for change in meter.changes:
        if before is not None and change.on > before:
            stood = max(float(change.old_end) + segments[-1].offset, points[-1][1])
            segments.append(DialSegment(change.on.toordinal(), stood - float(change.new_start)))
    return tuple(segments)
