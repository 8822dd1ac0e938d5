"""The ways to place a vehicle's set-ups in frames of one shape, and to choose the days it works on."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

from fleetcare.solvers.grid import Ints, Shape, VehicleGrid, interior_days, subsets

MOST_LAYOUTS = 60_000
"""Of one shape; beyond this the search says that it is not exact."""


@dataclass(frozen=True, slots=True)
class Layouts:
    """The ways to place the vehicle's set-ups in a shape and to choose its days. setups: (layouts, set-ups) positions,
    -1 for none; works: (layouts, local days); classes: for each service which of `allowed` a layout falls into; load:
    (layouts, positions) minutes of arrival and set-ups; patterns: positions of each service's patterns."""

    setups: Ints
    works: Ints
    classes: tuple[Ints, ...]
    allowed: tuple[np.ndarray, ...]
    load: Ints
    patterns: tuple[list[list[int]], ...]


def layouts_of(vehicle: VehicleGrid, shape: Shape, setup_minutes: list[int]) -> tuple[Layouts, bool]:
    """The layouts of a shape; false if there are too many and only those at both ends were taken.

    setup_minutes: of each of the vehicle's set-ups.
    """
    is_whole = True
    places = shape.shifts.shape[1]
    here = [
        shape_modes.shape[1] > 0 for shape_modes in shape.modes
    ]  # a set-up that no service here wants is never made
    wanted = [
        any(here[i] and name in one.service.setups for i, one in enumerate(vehicle.services)) for name in vehicle.setups
    ]
    options = [tuple(range(-1, places)) if is_wanted else (-1,) for is_wanted in wanted]
    chosen_days = subsets(interior_days(shape))
    number = int(np.prod([len(each) for each in options])) * len(chosen_days)
    if number > MOST_LAYOUTS:
        is_whole = False
        options = [each if len(each) == 1 else (-1, shape.arrive, shape.last) for each in options]
    setups, works = [], []
    end_days = {shape.days[shape.arrive], shape.days[shape.last]}
    all_days = max(shape.days) + 1
    for layout in product(*options):
        for days in chosen_days:
            setups.append(layout)
            works.append([int(day in end_days or day in days) for day in range(all_days)])
    setups_at = np.array(setups, dtype=np.int64).reshape(len(setups), len(vehicle.setups))
    works_at = np.array(works, dtype=np.int64)
    day_of = np.array(shape.days, dtype=np.int64)
    classes, alloweds = [], []
    for i, one in enumerate(vehicle.services):
        patterns = shape.positions[i]
        allowed = np.ones((len(setups), len(patterns)), dtype=bool)
        for stage in range(patterns.shape[1]):
            allowed &= works_at[:, day_of[patterns[:, stage]]].astype(bool)
        for name in one.service.setups:
            column = vehicle.setups.index(name)
            allowed &= setups_at[:, column][:, None] == patterns[:, 0][None, :]
        kinds, kind_of = np.unique(allowed, axis=0, return_inverse=True)
        classes.append(kind_of.reshape(-1).astype(np.int64))
        alloweds.append(kinds)
    load = np.zeros((len(setups), places), dtype=np.int64)
    load[:, shape.arrive] += vehicle.vehicle.arrive_min
    for column, minutes in enumerate(setup_minutes):
        placed = np.flatnonzero(setups_at[:, column] >= 0)
        load[placed, setups_at[placed, column]] += minutes
    patterns_at = tuple(each.tolist() for each in shape.positions)
    return Layouts(setups_at, works_at, tuple(classes), tuple(alloweds), load, patterns_at), is_whole
