"""From the readings of one meter to a distance that never falls: changes, rollovers and misfits sorted out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Meter, MeterChange
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit, km_from, km_to
from fleetcare.wording import meter_words

HOURS_PER_DAY = 24.0
ROUNDING = 1.0
"""Dial units by which a value given in the other unit may seem to fall, because dials show whole units."""

_KM_PER = {unit: 1.0 if unit.distance is None else km_from(1.0, unit.distance) for unit in MeterUnit}


class Misfit(StrEnum):
    """Why a reading that counts as used does not fit the others."""

    WRONG_KIND = "hours given for a distance, or distance for hours"
    RUNS_BACKWARDS = "lower than a reading before it, or higher than one after it"
    TOO_FAST = "further from the reading before it than one can drive"


@dataclass(frozen=True, slots=True)
class MeterFinding:
    """One reading that is left out, and why."""

    reading: Reading
    kind: Misfit

    def __str__(self) -> str:
        shown = meter_words(self.reading.value, self.reading.unit)
        return f"the reading of {self.reading.on.isoformat()}, {shown}, is left out: {self.kind.value}"


@dataclass(frozen=True, slots=True)
class DialSegment:
    """From this day on, true = dial + offset, both in the meter's own unit. A change or a rollover begins a new one."""

    first_ordinal: int
    offset: float


@dataclass(frozen=True, slots=True)
class CheckedMeter:
    """Readings of one meter that fit together. Whoever holds one knows that distance never falls.

    readings: the n used, in day order, one a day. ordinals: (n,) int days, rising. distances: (n,) float, km or hours,
    never falling; true distance runs on over changes and rollovers. splits: n entries, the duties of the span that ends
    at each reading (the first is the span before the first reading), None where nobody said.
    """

    meter: Meter
    readings: tuple[Reading, ...]
    ordinals: npt.NDArray[np.int64]
    distances: npt.NDArray[np.float64]
    splits: tuple[DutySplit | None, ...]
    segments: tuple[DialSegment, ...]
    findings: tuple[MeterFinding, ...] = ()

    @property
    def last(self) -> Reading | None:
        """The newest used reading."""
        return self.readings[-1] if self.readings else None

    def segment_on(self, ordinal: int) -> DialSegment:
        """The segment in force at the end of that day."""
        return next((s for s in reversed(self.segments) if s.first_ordinal <= ordinal), self.segments[0])


def check_meter(
    readings: Iterable[Reading], meter: Meter, *, as_of: date | None = None, max_km_per_day: float = 1600.0
) -> CheckedMeter:
    """The readings of this meter that fit together, and findings for those that do not.

    Only readings in state `used` are looked at; of several on one day the last accepted one counts. Readings of other
    meters are passed over. Of readings that contradict each other the longest run that fits is kept, so that one wild
    reading hides no good one. as_of: later readings are left out. max_km_per_day: more than that a day does not fit
    (hour meters: 24 hours a day).
    """
    end = as_of or date.max
    mine = [r for r in readings if r.meter == meter.key and r.state is ReadingState.USED and r.on <= end]
    is_hours = meter.unit is MeterUnit.HOURS
    findings = [MeterFinding(r, Misfit.WRONG_KIND) for r in mine if (r.unit is MeterUnit.HOURS) != is_hours]
    sound = sorted(
        (r for r in mine if (r.unit is MeterUnit.HOURS) == is_hours), key=lambda r: (r.on, r.entered_at, r.id or 0)
    )
    by_day = {r.on: r for r in sound}
    daily = list(by_day.values())

    dials = [dial_value(r.value, r.unit, meter) for r in daily]
    ordinals = [r.on.toordinal() for r in daily]
    segments = _segments(meter, ordinals, dials)
    true = np.array(
        [dial + _offset(segments, meter, day, dial) for day, dial in zip(ordinals, dials, strict=True)], dtype=float
    )
    days = np.array(ordinals, dtype=np.int64)
    cap = HOURS_PER_DAY if is_hours else max_km_per_day / _km_per(meter)
    kept = _longest_run(days, true, cap)
    keep = set(kept)
    for index, reading in enumerate(daily):
        if index not in keep:
            fast = _is_too_fast(index, kept, days, true, cap)
            findings.append(MeterFinding(reading, Misfit.TOO_FAST if fast else Misfit.RUNS_BACKWARDS))
    rising = np.maximum.accumulate(true[kept]) if kept else true[:0]
    return CheckedMeter(
        meter=meter,
        readings=tuple(daily[i] for i in kept),
        ordinals=days[kept] if kept else days[:0],
        distances=rising * _km_per(meter),
        splits=tuple(daily[i].split for i in kept),
        segments=segments,
        findings=tuple(findings),
    )


def dial_value(value: Decimal, unit: MeterUnit, meter: Meter) -> float:
    """A value as given, in the meter's own unit. Exact if the units are the same."""
    if unit is meter.unit or unit.distance is None or meter.unit.distance is None:
        return float(value)
    return km_to(km_from(value, unit.distance), meter.unit.distance)


def dial_from_true(checked: CheckedMeter, distance: float, on: date) -> Decimal:
    """What the dial shows that day at a true distance (km or hours): whole units of its own dial, less full turns."""
    meter = checked.meter
    dial = Decimal(repr(distance / _km_per(meter) - checked.segment_on(on.toordinal()).offset))
    # A dial turns its last digit only when the unit is full.
    whole = max(Decimal(0), (dial + Decimal("0.000001")).to_integral_value(rounding="ROUND_FLOOR"))
    return whole % 10**meter.digits if meter.rolls_over else whole


def true_from_dial(checked: CheckedMeter, value: Decimal, unit: MeterUnit, on: date, *, near: float | None) -> float:
    """The true distance (km or hours) at which the dial showed this value that day.

    near: about where it must have been (km or hours), to tell apart the turns of a dial that rolls over and the two
    dials of a day of change; None takes what stands at the end of that day.
    """
    meter = checked.meter
    dial = dial_value(value, unit, meter)
    ordinal = on.toordinal()
    at_end = dial + checked.segment_on(ordinal).offset
    if near is None:
        return at_end * _km_per(meter)
    target = near / _km_per(meter)
    choices = [at_end]
    if any(change.on == on for change in meter.changes):
        choices.append(dial + checked.segment_on(ordinal - 1).offset)
    if meter.rolls_over:
        turn = float(10**meter.digits)
        choices += [choice + turn for choice in choices] + [choice - turn for choice in choices]
    return min(choices, key=lambda choice: abs(choice - target)) * _km_per(meter)


def _km_per(meter: Meter) -> float:
    return _KM_PER[meter.unit]


def _segments(meter: Meter, ordinals: Sequence[int], dials: Sequence[float]) -> tuple[DialSegment, ...]:
    """Segments in day order, the first from the beginning of time."""
    turn = float(10**meter.digits)
    segments = [DialSegment(0, 0.0)]
    changes = sorted(meter.changes, key=lambda change: change.on)
    position = 0
    last: float | None = None
    for change in (*changes, None):
        limit = change.on.toordinal() if change else None
        while position < len(dials) and (limit is None or _is_before(change, ordinals[position], dials[position])):
            dial = dials[position]
            if meter.rolls_over and last is not None and _has_rolled(last, dial, dials[position + 1 :], turn):
                segments.append(DialSegment(ordinals[position], segments[-1].offset + turn))
            # A wild reading must not be what the next one is compared with; falls of half a dial are rollovers only.
            last = dial
            position += 1
        if change is not None and limit is not None:
            offset, end = segments[-1].offset, float(change.old_end)
            if meter.rolls_over and last is not None and last - end > turn / 2:
                offset += turn
            segments.append(DialSegment(limit, offset + end - float(change.new_start)))
            last = float(change.new_start)
    return tuple(segments)


def _is_before(change: MeterChange | None, ordinal: int, dial: float) -> bool:
    """True if this reading is of the dial before the change; on the day itself the nearer of the two figures tells."""
    if change is None:
        return True
    day = change.on.toordinal()
    if ordinal != day:
        return ordinal < day
    return abs(dial - float(change.old_end)) < abs(dial - float(change.new_start))


def _offset(segments: tuple[DialSegment, ...], meter: Meter, ordinal: int, dial: float) -> float:
    in_force = [s for s in segments if s.first_ordinal <= ordinal]
    for change in meter.changes:
        if change.on.toordinal() == ordinal and _is_before(change, ordinal, dial):
            return next(s.offset for s in reversed(segments) if s.first_ordinal < ordinal)
    return in_force[-1].offset


def _has_rolled(last: float, dial: float, later: Sequence[float], turn: float) -> bool:
    """A fall of more than half the dial is a rollover, unless the very next reading is high again (a slip)."""
    if last - dial <= turn / 2:
        return False
    return not later or later[0] - dial <= turn / 2


def _longest_run(days: npt.NDArray[np.int64], true: npt.NDArray[np.float64], cap: float) -> list[int]:
    """Indices of the longest run in which distance never falls and never rises faster than `cap` a day.

    Of runs alike in length the one with the earliest readings: what was accepted first stands.
    """
    count = len(true)
    if count < 2:
        return list(range(count))
    rise = np.diff(true)
    if bool(np.all((rise >= -ROUNDING) & (rise <= cap * np.diff(days) + ROUNDING))):
        return list(range(count))
    length = np.ones(count, dtype=np.int64)
    before = np.full(count, -1, dtype=np.int64)
    for i in range(1, count):
        gain = true[i] - true[:i]
        fits = (gain >= -ROUNDING) & (gain <= cap * (days[i] - days[:i]) + ROUNDING)
        if fits.any():
            best = int(np.argmax(np.where(fits, length[:i], 0)))
            length[i], before[i] = length[best] + 1, best
    at = int(np.argmax(length))
    run = []
    while at >= 0:
        run.append(at)
        at = int(before[at])
    return run[::-1]


def _is_too_fast(
    index: int, kept: Sequence[int], days: npt.NDArray[np.int64], true: npt.NDArray[np.float64], cap: float
) -> bool:
    """True if it lies above the kept reading before it by more than can be driven, and not below it."""
    earlier = [k for k in kept if k < index]
    if not earlier:
        return False
    gain = true[index] - true[earlier[-1]]
    return bool(gain > cap * (days[index] - days[earlier[-1]]) + ROUNDING)
