"""A vehicle asked about by itself, on one line: its readings in, the due dates of its services out.

No garage, no interval book: each service names the odometer value, the distance left or the day it is due. Plain floats
throughout, so that a single vehicle is answered before numpy would be loaded.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise
from typing import NamedTuple

from fleetcare.quantities import KM_PER_MILE, DateSpan, MeterUnit
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_likelihood import TRIP_PART
from fleetcare.usage.reading_walk import DialReading, Verdict, Walk, walk_readings
from fleetcare.usage.single_clock import NO_SEASON, SingleClock
from fleetcare.usage.single_pace import LEVELS, AheadOf, Pace, rested, start_pace, with_increment
from fleetcare.usage.standing import spells_passed_over

LAST_DAY = date(2200, 12, 31).toordinal()
"""A later day counts as never."""

Dates = tuple[date | None, date | None, date | None]
"""Early, likely, late (10, 50 and 90 %); None is never."""
NEVER: Dates = (None, None, None)


@dataclass(frozen=True, slots=True)
class ServiceLine:
    """A service: due at `due_at` on the dial, after `remaining` more from `as_of` on, or on the day `not_after`.

    In the meter's unit; days are ordinals. `remaining` stands in where the dial is not known, if both are given.
    """

    name: str
    due_at: float | None = None
    remaining: float | None = None
    not_after: int | None = None


@dataclass(frozen=True, slots=True)
class VehicleLine:
    """What is known of one vehicle. Amounts in the meter's unit, days as ordinals.

    as_of: the day of the question. readings: by day, none after `as_of`. in_service: the day the vehicle went into
    service with nothing on the dial. trips: (day, distance) booked or declared. laid_up: known spells without use.
    max_per_day, digits, rolls_over: as in `walk_readings`.
    """

    name: str
    unit: MeterUnit
    as_of: int
    services: tuple[ServiceLine, ...]
    readings: tuple[DialReading, ...] = ()
    in_service: int | None = None
    trips: tuple[tuple[int, float], ...] = ()
    laid_up: tuple[DateSpan, ...] = ()
    max_per_day: float | None = None
    digits: int | None = None
    rolls_over: bool = False


@dataclass(frozen=True, slots=True)
class VehicleDates:
    """The answer: dates by service, in the order asked, and the places of the readings held to be wrong."""

    name: str
    services: tuple[tuple[str, Dates], ...]
    suspect: tuple[int, ...]


def vehicle_dates(vehicle: VehicleLine, priors: Priors) -> VehicleDates:
    """Early, likely and late day of each service, never before `as_of` unless the calendar limit is.

    A value on the dial is counted from the last reading used; without one from the in-service date, with nothing on the
    dial; without that it gives no date. What is `remaining` is counted from `as_of`.
    """
    clock = SingleClock.of(priors.season, vehicle.laid_up)
    trips = tuple(sorted(vehicle.trips))
    is_hours = vehicle.unit is MeterUnit.HOURS
    m0 = priors.m0 - math.log(priors.mean_speed_km_per_h) if is_hours else priors.m0
    km = KM_PER_MILE if vehicle.unit is MeterUnit.MI else 1.0
    walk = walk_readings(
        vehicle.readings,
        clock=clock,
        priors=priors,
        km_per_unit=km,
        is_hours=is_hours,
        m0=m0,
        in_service=None if vehicle.in_service is None else (vehicle.in_service, 0.0),
        trips=trips,
        max_per_day=vehicle.max_per_day,
        digits=vehicle.digits,
        rolls_over=vehicle.rolls_over,
    )
    start = start_pace(priors, m0=m0)
    pace_then = _pace_after(vehicle, walk, start, clock, priors, km)
    known = _last_known(vehicle, walk, start, pace_then)
    on_dial: _Ahead | None = None
    from_today: _Ahead | None = None
    found: list[tuple[str, Dates]] = []
    for service in vehicle.services:
        days: Sequence[float] = (math.inf,) * len(LEVELS)
        if service.due_at is not None and known is not None:
            if on_dial is None:
                on_dial = _Ahead.of(known.ordinal, known.pace, clock, priors, trips, km)
            days = on_dial.ordinals((service.due_at - known.dial) * km)
        elif service.remaining is not None:
            if from_today is None:
                pace = pace_then
                if walk.used and pace.n > 0:
                    # What happened between the last reading and today is behind us, whatever it was.
                    gap = clock.at(vehicle.as_of) - clock.at(vehicle.readings[walk.used[-1]].ordinal)
                    pace = replace(pace, back=pace.back + max(0.0, gap))
                from_today = _Ahead.of(vehicle.as_of, pace, clock, priors, trips, km)
            days = from_today.ordinals(service.remaining * km)
        found.append((service.name, _dates(days, vehicle.as_of, service.not_after)))
    held = tuple(judged.place for judged in walk.judged if judged.verdict is Verdict.HELD)
    return VehicleDates(vehicle.name, tuple(found), held)


class _Known(NamedTuple):
    """Where the dial stood last: on which day, at what figure, and the pace there."""

    ordinal: int
    dial: float
    pace: Pace


def _last_known(vehicle: VehicleLine, walk: Walk, start: Pace, pace: Pace) -> _Known | None:
    if walk.used:
        return _Known(vehicle.readings[walk.used[-1]].ordinal, walk.true[-1] - walk.offset, pace)
    if vehicle.in_service is not None and vehicle.in_service <= vehicle.as_of:
        return _Known(vehicle.in_service, 0.0, start)
    return None


def _pace_after(vehicle: VehicleLine, walk: Walk, start: Pace, clock: SingleClock, priors: Priors, km: float) -> Pace:
    """The pace after the last used reading, spells of rest that are over passed over.

    The walk judges a reading while such a spell may still go on; only afterwards it is known to be over. A dial that
    was changed or rolled over on the way keeps the pace of the walk.
    """
    if len(walk.used) < 3 or any(walk.offsets):
        return walk.pace
    days = [vehicle.readings[place].ordinal for place in walk.used]
    dials = [true * km for true in walk.true]
    if vehicle.in_service is not None and days[0] - vehicle.in_service >= priors.anchor_min_days:
        days.insert(0, vehicle.in_service)
        dials.insert(0, 0.0)
    passed = [clock.at(day) for day in days]
    running = [after - before for before, after in pairwise(passed)]
    gained = []
    for (first, last), (low, high) in zip(pairwise(days), pairwise(dials), strict=True):
        declared = sum(far for on, far in vehicle.trips if first < on <= last) * km
        gained.append(high - low - min(declared, TRIP_PART * (high - low)))
    at_hand = SingleClock.of(NO_SEASON, vehicle.laid_up)
    over = spells_passed_over(gained, [at_hand.at(last) - at_hand.at(first) for first, last in pairwise(days)])
    if not over:
        return walk.pace
    pace = start
    for place, (gain, span) in enumerate(zip(gained, running, strict=True)):
        pace = rested(pace, span) if place in over else with_increment(pace, gain, span, priors)
    return pace


class _Ahead(NamedTuple):
    """The way ahead from one day: the law from there, and the trips after it, (day, km) oldest first."""

    law: AheadOf
    clock: SingleClock
    operational: float
    trips: tuple[tuple[int, float], ...]

    @classmethod
    def of(
        cls,
        ordinal: int,
        pace: Pace,
        clock: SingleClock,
        priors: Priors,
        trips: tuple[tuple[int, float], ...],
        km: float,
    ) -> _Ahead:
        """From this day on, at this pace; trips in the meter's unit, of which one is `km` km."""
        ahead = tuple((on, far * km) for on, far in trips if on > ordinal) if trips else ()
        return cls(AheadOf(pace, priors), clock, clock.at(ordinal), ahead)

    def ordinals(self, distance: float) -> list[float]:
        """Days, as ordinals with fractions, by which so many km are reached, at each level; inf is never.

        With booked trips: everyday use covers what the first k of them leave, but not before the last of these k is
        done; the earliest such day over all k. Another trip never makes it later.
        """
        found = self._everyday(distance)
        for on, far in self.trips:
            if on >= found[-1]:
                break
            distance -= far
            found = [min(one, max(day, on)) for one, day in zip(found, self._everyday(distance), strict=True)]
        return found

    def _everyday(self, distance: float) -> list[float]:
        ordinal_at, begin = self.clock.ordinal_at, self.operational
        return [ordinal_at(begin + days) for days in self.law.days_to(distance)]


def _dates(days: Sequence[float], as_of: int, not_after: int | None) -> Dates:
    """Whole days, none before `as_of`, cut by the calendar limit; limits are combined level by level."""
    early, likely, late = (_date(day, as_of, not_after) for day in days)
    return early, likely, late


def _date(day: float, as_of: int, not_after: int | None) -> date | None:
    whole = max(as_of, math.floor(day + 0.5)) if day < LAST_DAY + 1 else None
    if not_after is not None and (whole is None or not_after < whole):
        whole = not_after
    return None if whole is None or whole > LAST_DAY else date.fromordinal(whole)
