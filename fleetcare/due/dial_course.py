"""Where a dial came from and where it is heading: what was read, and the quiet, likely and busy course ahead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.meter_walk import km_per_unit
from fleetcare.due.pace import TrackPace, paces_of
from fleetcare.due.track import Track, distance_track, hours_track
from fleetcare.fleet.duty import DutySplit
from fleetcare.quantities import DistanceUnit, MeterUnit, km_from, km_to
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import Z_EARLY, Z_LATE, Z_LIKELY

STEP_DAYS = 10
"""The courses are told so many days apart: they bend with the seasons only."""


@dataclass(frozen=True, slots=True)
class DialPoint:
    """A used reading. split: how what was gained since the one before divides over duties; None for the first, and for
    hours."""

    on: date
    value: float
    split: DutySplit | None


@dataclass(frozen=True, slots=True)
class CourseDay:
    """What the dial shows at the start of that day: less than `quiet` and more than `busy` with 1 chance in 10 each."""

    on: date
    quiet: float
    likely: float
    busy: float


@dataclass(frozen=True, slots=True)
class DialCourse:
    """One meter, all values in its own unit, none lower than the one before it.

    points: oldest first; the first may lie before the days asked for, so that the line can be drawn from their edge.
    ahead: from the last reading (or the first day asked for, if that is later) on; empty if the vehicle is out of the
    fleet. counted_on: the dial was changed or began anew in this time; then the values are what was driven in all, not
    what it shows.
    """

    unit: MeterUnit
    points: tuple[DialPoint, ...]
    ahead: tuple[CourseDay, ...]
    counted_on: bool = False


def dial_course(facts: VehicleFacts, priors: Priors, *, today: date, since: date, until: date) -> DialCourse | None:
    """The course of the odometer (without one of the hour meter) from `since` to `until`; None without a reading.

    Readings after today are left out. Ahead are the levels of the due windows: 10, 50 and 90 %, booked trips included.
    A dial that will begin anew is counted on.
    """
    track = distance_track(facts, priors, today)
    if track is None or track.checked is None:
        track = hours_track(facts, priors, today)
    if track is None or track.checked is None:
        return None
    pace = paces_of([track], priors).of[0]
    checked = track.checked
    first = next((place for place, on in enumerate(checked.ordinals) if on >= since.toordinal()), len(checked.readings))
    shown = max(0, first - 1)
    newest = checked.segments[-1]
    changed = checked.segment_on(int(checked.ordinals[shown])) != newest
    offset = 0.0 if changed else newest.offset
    per_unit = 1.0 if track.is_hours else km_per_unit(checked.meter)
    anchor = len(track.ordinals) - len(checked.ordinals)
    points = tuple(
        DialPoint(
            date.fromordinal(int(checked.ordinals[place])),
            float(checked.distances[place]) / per_unit - offset,
            track.splits[place + anchor] if place + anchor > 0 and not track.is_hours else None,
        )
        for place in range(shown, len(checked.readings))
    )
    gone_on = facts.vehicle.out_of_fleet_on
    gone = gone_on is not None and gone_on <= today
    return DialCourse(
        unit=checked.meter.unit,
        points=points,
        ahead=() if gone else _ahead(pace, since, until, per_unit=per_unit, offset=offset),
        counted_on=changed,
    )


def _ahead(pace: TrackPace, since: date, until: date, *, per_unit: float, offset: float) -> tuple[CourseDay, ...]:
    track = pace.track
    begin, end = max(track.last_ordinal, since.toordinal()), until.toordinal()
    # A booked trip is a step, so both of its sides are told.
    steps = {day for trip in track.trips_ahead() for day in (trip.ordinal - 1, trip.ordinal)}
    days = sorted({*range(begin, end, STEP_DAYS), *(day for day in steps if begin < day < end), end})
    found: list[CourseDay] = []
    least = [float("-inf")] * 3
    for day in days:
        amounts = (_amount(pace, track, day, z) / per_unit - offset for z in (Z_EARLY, Z_LIKELY, Z_LATE))
        # A dial never falls: far out, a wider spread must not pull the quiet course down.
        least = [max(before, amount) for before, amount in zip(least, amounts, strict=True)]
        found.append(CourseDay(date.fromordinal(day), *least))
    return tuple(found)


def _amount(pace: TrackPace, track: Track, day: int, z: float) -> float:
    """True distance (km) or hours at the start of that day at one level."""
    trips = sum(trip.km for trip in track.trips_ahead() if trip.ordinal <= day)
    return track.last_amount + pace.gain(track.running_since_last(day), z) + trips


def course_in(course: DialCourse, unit: DistanceUnit) -> DialCourse:
    """The same course with its distances in another unit; hours stay as they are."""
    own = course.unit.distance
    if own is None or own is unit:
        return course

    def told(value: float) -> float:
        return km_to(km_from(value, own), unit)

    return replace(
        course,
        unit=MeterUnit(unit.value),
        points=tuple(replace(point, value=told(point.value)) for point in course.points),
        ahead=tuple(
            replace(day, quiet=told(day.quiet), likely=told(day.likely), busy=told(day.busy)) for day in course.ahead
        ),
    )
