"""Garages whose vehicles run by the pace law itself, day by day: what the forecast believes is true in them."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from fleetcare.due.facts import VehicleFacts
from fleetcare.fleet.vehicle import ODOMETER, Meter
from fleetcare.quantities import DAYS_PER_YEAR, DistanceUnit, MeterUnit
from fleetcare.usage.priors import Priors
from tests.due.facts import FLAT, reading, vehicle

FIRST_DAY = date(2020, 1, 3)


def garage_by_the_law(seed: int, vehicles: int, days: int, priors: Priors = FLAT) -> tuple[VehicleFacts, ...]:
    """Vehicles without services, read every 27 to 33 days over so many days; see `runs_by_the_law`."""
    return runs_by_the_law(seed, vehicles, days, priors)[0]


def runs_by_the_law(
    seed: int, vehicles: int, days: int, priors: Priors = FLAT
) -> tuple[tuple[VehicleFacts, ...], npt.NDArray[np.float64]]:
    """The vehicles, and their true dials at the start of every day, (days + 1, vehicles). The season must be flat.

    A day's distance is gamma with mean exp(level + wander) and squared coefficient of variation psi, so that the sum
    over D days at one rate has psi/D. The level is a random walk, the wander an autoregression with the correlation
    exp(-1/tau) from day to day: the law of `pace_filter` in steps of a day.
    """
    chance = np.random.default_rng(seed)
    level = priors.m0 + priors.s0 * chance.standard_normal(vehicles)
    wander = priors.sig * chance.standard_normal(vehicles)
    stays = math.exp(-1.0 / priors.tau)
    dial = np.zeros((days + 1, vehicles))
    for day in range(days):
        dial[day + 1] = dial[day] + np.exp(level + wander) * chance.gamma(1.0 / priors.psi, priors.psi, vehicles)
        level = level + math.sqrt(priors.q / DAYS_PER_YEAR) * chance.standard_normal(vehicles)
        wander = stays * wander + priors.sig * math.sqrt(1.0 - stays**2) * chance.standard_normal(vehicles)
    fleet = []
    for number in range(vehicles):
        mark = f"V{number:03}"
        own = replace(
            vehicle(services=(), meters=(Meter(ODOMETER, MeterUnit.KM),)),
            mark=mark,
            name=f"Wagon {number}",
            unit=DistanceUnit.KM,
            components=(),
        )
        readings, day = [], 0
        while day <= days:
            on, shown = FIRST_DAY + timedelta(days=day), int(dial[day, number])
            readings.append(replace(reading(on, shown, unit=MeterUnit.KM), mark=mark))
            day += int(chance.integers(27, 34))
        fleet.append(VehicleFacts(own, tuple(readings)))
    return tuple(fleet), dial
