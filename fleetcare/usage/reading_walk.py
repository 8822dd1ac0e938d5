"""The walk along the readings of one meter: which of them are right, and where the meter stands after them.

A reading is judged by what came before it, and by what comes after it if it is not plainly right: one that was held at
first may be released, and one that slipped through may be found wrong, by the next one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from fleetcare.meter.slips import Explanation
from fleetcare.usage.priors import Priors
from fleetcare.usage.reading_branches import Course, Dial
from fleetcare.usage.reading_judged import DialReading, Judged, Verdict, Walk
from fleetcare.usage.reading_likelihood import PriorChances
from fleetcare.usage.reading_walker import Walker
from fleetcare.usage.single_clock import SingleClock
from fleetcare.usage.single_pace import start_pace

__all__ = ["DialReading", "Explanation", "Judged", "Verdict", "Walk", "walk_readings"]

DIAL_DIGITS = 6
"""Digits of a dial of which nobody says how many it has, where it is known to roll over."""


def walk_readings(
    readings: Sequence[DialReading],
    *,
    clock: SingleClock,
    priors: Priors,
    km_per_unit: float = 1.0,
    is_hours: bool = False,
    m0: float | None = None,
    s0: float | None = None,
    in_service: tuple[int, float] | None = None,
    trips: Sequence[tuple[int, float]] = (),
    changes: Sequence[tuple[int, float, float]] = (),
    max_per_day: float | None = None,
    digits: int | None = None,
    rolls_over: bool = False,
) -> Walk:
    """The readings of one meter, judged.

    readings: by day; of several on one day the last one that fits counts. in_service: (ordinal, what the dial showed).
    trips: (ordinal, distance) declared, in the meter's unit. changes: (ordinal, what the old meter showed last, what
    the new one showed first). max_per_day: more than that cannot be, in the meter's unit; 1,600 km or 24 hours if None.
    digits: of the dial, None if nobody says. rolls_over: it begins anew at nought after them.

    m0, s0: as in `start_pace`. Pace is in km (hours) an operational day whatever the unit. A figure that is negative,
    no number, or of more digits than any dial is held.
    """
    km = 1.0 if is_hours else km_per_unit
    end = 10.0 ** (DIAL_DIGITS if digits is None else digits) * km
    dial = Dial(
        priors=priors,
        chances=PriorChances.of(priors, km=km, is_hours=is_hours),
        clock=clock,
        km=km,
        end=math.inf if digits is None and not rolls_over else end,
        rolls_over=rolls_over,
        is_hours=is_hours,
        most_a_day=(24.0 if is_hours else 1600.0) if max_per_day is None else max_per_day * km,
        changes=tuple((on, old * km, new * km) for on, old, new in changes),
        anchor=None if in_service is None else (in_service[0], clock.at(in_service[0]), in_service[1] * km),
        trips=tuple((on, far * km) for on, far in trips),
    )
    walker = Walker(readings, dial, Course(1.0, start_pace(priors, m0=m0, s0=s0)))
    order = sorted(range(len(readings)), key=lambda place: readings[place].ordinal)
    at = 0
    while at < len(order):
        end_of_day = at + 1
        day = readings[order[at]].ordinal
        while end_of_day < len(order) and readings[order[end_of_day]].ordinal == day:
            end_of_day += 1
        if end_of_day == at + 1:
            walker.take(order[at])
        else:
            walker.take_day(order[at:end_of_day])
        at = end_of_day
    return walker.finish()
