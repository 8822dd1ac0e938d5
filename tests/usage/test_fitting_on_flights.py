"""A fit is worth it on real use: learned from one half of some 600 aircraft of 2013, it foretells the other half.

Aircraft run twenty times as far as the private cars of the shipped numbers, and more alike; whoever does not fit has
windows that are wrong for a year. The way from readings to numbers is the program's own, one odometer a tail number.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache

import numpy as np

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.learning import Lesson, in_fixed_order, learn
from fleetcare.fleet.vehicle import ODOMETER, Meter, Vehicle, VehicleKind
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.usage.learned import LEARNED
from fleetcare.usage.priors import Priors
from tests.worlds.aircraft import HORIZONS, READINGS, Flown
from tests.worlds.cells import Visible
from tests.worlds.methods import Ours
from tests.worlds.scores import Scored

ENTERED = datetime(2013, 7, 1, tzinfo=UTC)
CLOSING = (14, 30)
"""Two months ahead a window may close after the data do, and then counts as held; coverage is taken from these."""


@cache
def flown() -> Flown:
    return Flown.of()


def garage(seen: Visible) -> list[VehicleFacts]:
    """The aircraft learned from, with twelve readings each."""
    fleet = []
    for row, mark in enumerate(in_fixed_order(f"N{row:04}" for row in range(seen.ordinals.shape[1]))):
        vehicle = Vehicle(
            mark=mark,
            name=mark,
            kind=VehicleKind.BUS,
            called="aircraft",
            unit=DistanceUnit.KM,
            meters=(Meter(ODOMETER, MeterUnit.KM, 7),),
            max_km_per_day=20_000.0,
        )
        readings = tuple(
            Reading(mark, ODOMETER, date.fromordinal(int(day)), Decimal(int(km)), MeterUnit.KM, ENTERED)
            for day, km in zip(seen.ordinals[:, row], seen.km[:, row], strict=True)
        )
        fleet.append(VehicleFacts(vehicle, readings))
    return fleet


@cache
def lesson() -> Lesson:
    learned_from, _ = flown().cells[max(READINGS), HORIZONS[0]]
    return learn(garage(learned_from.visible), Priors(), date(2013, 6, 30))


@cache
def scores(priors: Priors) -> dict[tuple[int, int], Scored]:
    return flown().scores(Ours(priors))


def fitted() -> Priors:
    numbers = lesson().numbers
    assert numbers is not None
    return replace(Priors(), **{name: getattr(numbers, name) for name in LEARNED})


def crps(found: dict[tuple[int, int], Scored], readings: tuple[int, ...] = READINGS) -> float:
    return float(np.mean([found[n, h].crps_by_horizon for n in readings for h in HORIZONS]))


def coverage(found: dict[tuple[int, int], Scored], readings: tuple[int, ...] = READINGS) -> float:
    return float(np.mean([found[n, h].coverage for n in readings for h in CLOSING]))


def test_the_program_finds_numbers_that_are_better_for_aircraft_it_did_not_see() -> None:
    basis = lesson().basis
    assert basis is not None
    assert basis.vehicles > 250
    assert basis.times_as_likely > 2


def test_windows_of_the_other_half_hold_as_often_as_they_say() -> None:
    # 299 aircraft: a share is known to sqrt(.16/299) = .023; twice that to either side of what was meant.
    assert abs(coverage(scores(fitted())) - 0.80) < 0.05


def test_without_the_fit_they_do_not_and_their_dates_are_off_by_far_more() -> None:
    # The few readings are where the numbers matter; by twelve the vehicle speaks for itself.
    few = (1, 2, 3)
    assert coverage(scores(Priors()), few) < 0.6
    assert crps(scores(fitted()), few) < 0.5 * crps(scores(Priors()), few)
    assert crps(scores(fitted()), (12,)) < crps(scores(Priors()), (12,))
