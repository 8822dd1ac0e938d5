"""The days to look back from, and what was visible on them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from fleetcare.due.facts import VehicleFacts
from fleetcare.fleet.vehicle import Meter
from fleetcare.meter.reading import Reading, ReadingState
from fleetcare.quantities import MeterUnit


@dataclass(frozen=True, slots=True)
class ReadingDay:
    """A day on which dials of one vehicle were read. meters: their keys."""

    on: date
    meters: frozenset[str]


@dataclass(frozen=True, slots=True)
class PastDay:
    """One vehicle on one past day with the facts visible then, and no others. meters: keys of the dials read on it."""

    on: date
    meters: frozenset[str]
    facts: VehicleFacts


def reading_days(facts: VehicleFacts, *, today: date) -> tuple[ReadingDay, ...]:
    """The days to look back from: for each dial the first day of each month on which it was read, up to today.

    A later reading never moves an earlier one of these days.
    """
    days: dict[date, set[str]] = {}
    for meter in (facts.vehicle.odometer, facts.vehicle.hour_meter):
        if meter is None:
            continue
        months: set[tuple[int, int]] = set()
        for on in sorted({r.on for r in facts.readings if r.on <= today and _is_used(r, meter)}):
            if (on.year, on.month) not in months:
                months.add((on.year, on.month))
                days.setdefault(on, set()).add(meter.key)
    return tuple(ReadingDay(on, frozenset(keys)) for on, keys in sorted(days.items()))


def seen_from(facts: VehicleFacts, day: ReadingDay) -> PastDay:
    """That day with the facts of its time."""
    return PastDay(day.on, day.meters, as_known_on(facts, day.on))


def as_known_on(facts: VehicleFacts, on: date) -> VehicleFacts:
    """The facts without readings, work and events after that day. Bookings and lay-ups stay: they are declared ahead.

    When something was entered plays no part, only the day it belongs to: a garage that brings in old readings wants
    them judged as if they had been entered in time. A reading that was settled since counts as settled.
    """
    return replace(
        facts,
        readings=tuple(r for r in facts.readings if r.on <= on),
        work=tuple(w for w in facts.work if w.on <= on),
        events=tuple(e for e in facts.events if e.on <= on),
        found=tuple(f for f in facts.found if f.on <= on),
    )


def _is_used(reading: Reading, meter: Meter) -> bool:
    is_hours = reading.unit is MeterUnit.HOURS
    fits = is_hours == (meter.unit is MeterUnit.HOURS)
    return reading.meter == meter.key and reading.state is ReadingState.USED and fits
