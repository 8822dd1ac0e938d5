"""One depot of a bay problem as numbers: shifts in order, ways to lay each service into shifts, and visit frames.

A mode is one way to lay a service into shifts, a tuple of one shift a stage. A frame is where a visit arrives and where
it ends: first and last shift, with every shift between. Frames of equal build (same number of shifts, same days) share
a shape, so that they can be reckoned together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from fleetcare.bayplan.day_costs import day_costs, move_cents, out_of_use_cents
from fleetcare.bayplan.problem import BayProblem, BayService, Depot, PlanVehicle, Shift
from fleetcare.bayplan.standing import NOTHING_STANDS, Standing

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shape:
    """Frames of one build. shifts: (frames, positions) of shift indexes; arrive, last: the positions of the first and
    the last shift; days: local day number of each position; base: (frames,) fixed price of each; modes: for each
    service of the vehicle a matrix (frames, patterns) of mode indexes, one past the last where there is none;
    positions: for each service the positions (patterns, stages) of each pattern."""

    shifts: Ints
    arrive: int
    last: int
    days: tuple[int, ...]
    base: Ints
    modes: tuple[Ints, ...]
    positions: tuple[Ints, ...]


@dataclass(frozen=True, slots=True)
class ServiceModes:
    """Every way to lay one service into shifts. shifts: (modes, stages); cents: price by day and moves, and
    premiums."""

    service: BayService
    number: int
    shifts: Ints
    cents: Ints
    minutes: tuple[int, ...]


@dataclass(slots=True)
class VehicleGrid:
    """A vehicle of the depot: what it needs and when it can come."""

    vehicle: PlanVehicle
    number: int
    services: tuple[ServiceModes, ...]
    setups: tuple[str, ...]
    shapes: tuple[Shape, ...] = ()


@dataclass(slots=True)
class DepotGrid:
    """One depot. Arrays over its shifts in order of time; vehicles and services in order of their names."""

    problem: BayProblem
    depot: Depot
    shifts: tuple[Shift, ...]
    day: Ints
    starts: Ints
    ends: Ints
    length: Ints
    hands: Ints
    premium: Ints
    vehicles: tuple[VehicleGrid, ...]
    service_names: tuple[str, ...]
    days: tuple[int, ...]
    opening: dict[int, int] = field(default_factory=dict)

    @property
    def services(self) -> tuple[ServiceModes, ...]:
        """Services of all vehicles, by number."""
        return tuple(sorted((one for each in self.vehicles for one in each.services), key=lambda one: one.number))


def depot_grid(problem: BayProblem, depot: Depot, standing: Standing = NOTHING_STANDS) -> DepotGrid:
    """The depot as numbers. Shifts without people, and all of a depot without bays, are left out. Days on which
    something stands already are open and cost nothing more."""
    shifts = tuple(
        sorted(
            (one for one in problem.shifts if one.depot == depot.name and one.people and depot.bays > 0),
            key=lambda one: (one.starts_at, one.ends_at, one.name),
        )
    )
    grid = DepotGrid(
        problem=problem,
        depot=depot,
        shifts=shifts,
        day=_ints([one.day for one in shifts]),
        starts=_ints([one.starts_at for one in shifts]),
        ends=_ints([one.ends_at for one in shifts]),
        length=_ints([one.length for one in shifts]),
        hands=_ints([len(one.people) for one in shifts]),
        premium=_ints([one.premium_cents_per_min for one in shifts]),
        vehicles=(),
        service_names=(),
        days=tuple(sorted({one.day for one in shifts})),
    )
    by_name = {one.name: one.day for one in shifts}
    open_now = {by_name[work.shift] for work in standing.work if work.shift in by_name}
    grid.opening = {day: 0 if day in open_now else depot.opening_cents(day) for day in grid.days}
    vehicles = sorted((one for one in problem.vehicles if one.depot == depot.name), key=lambda one: one.name)
    names: list[str] = []
    made = []
    for number, vehicle in enumerate(vehicles):
        own = sorted((one for one in problem.services if one.vehicle == vehicle.name), key=lambda one: one.name)
        usable = _usable(grid, vehicle)
        modes = []
        for service in own:
            modes.append(_modes(grid, vehicle, service, len(names), usable))
            names.append(service.name)
        setups = tuple(sorted({name for one in own for name in one.setups}))
        one_vehicle = VehicleGrid(vehicle, number, tuple(modes), setups)
        one_vehicle.shapes = _shapes(grid, one_vehicle, usable)
        made.append(one_vehicle)
    grid.vehicles = tuple(made)
    grid.service_names = tuple(names)
    return grid


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int64)


def _usable(grid: DepotGrid, vehicle: PlanVehicle) -> NDArray[np.bool_]:
    """Shifts in which the vehicle is not away and that are no longer than a visit may be."""
    free = grid.length <= grid.problem.max_visit_min
    for gone, back in vehicle.away:
        free &= ~((grid.starts < back) & (gone < grid.ends))
    return free


def _hull_is_free(grid: DepotGrid, vehicle: PlanVehicle, first: int, last: int) -> bool:
    begins, ends = int(grid.starts[first]), int(grid.ends[last])
    if ends - begins > grid.problem.max_visit_min:
        return False
    return not any(begins < back and gone < ends for gone, back in vehicle.away)


def _modes(
    grid: DepotGrid, vehicle: PlanVehicle, service: BayService, number: int, usable: NDArray[np.bool_]
) -> ServiceModes:
    """All tuples of shifts that keep skills, days asked for and waits, if nothing else stood in the way."""
    able = [
        [
            q
            for q, shift in enumerate(grid.shifts)
            if usable[q]
            and shift.length >= stage.minutes
            and service.not_before <= shift.day <= service.not_after
            and (not stage.skill or stage.skill in grid.problem.skills_of(shift))
        ]
        for stage in service.stages
    ]
    found: list[tuple[int, ...]] = []

    def lay(chosen: tuple[int, ...], earliest: int, latest: int) -> None:
        """earliest, latest: when the last stage laid may begin."""
        at = len(chosen)
        if at == len(service.stages):
            found.append(chosen)
            return
        wait, minutes = service.waits[at - 1], service.stages[at - 1].minutes
        low, high = earliest + minutes + wait.least, latest + minutes + wait.most
        for q in able[at]:
            begins = max(low, int(grid.starts[q]))
            ends = min(high, int(grid.ends[q]) - service.stages[at].minutes)
            if begins <= ends and _hull_of(grid, vehicle, (*chosen, q)):
                lay((*chosen, q), begins, ends)

    for q in able[0]:
        # The vehicle arrives before any stage, in the same shift at the latest.
        begins = int(grid.starts[q])
        lay((q,), begins, int(grid.ends[q]) - service.stages[0].minutes)
    prices = day_costs(service, grid.problem.days)
    cents = [
        prices[int(grid.day[mode[-1]])]
        + move_cents(service, int(grid.day[mode[0]]))
        + sum(stage.minutes * int(grid.premium[q]) for stage, q in zip(service.stages, mode, strict=True))
        for mode in found
    ]
    shifts = np.array(found, dtype=np.int64).reshape(len(found), len(service.stages))
    return ServiceModes(service, number, shifts, _ints(cents), tuple(stage.minutes for stage in service.stages))


def _hull_of(grid: DepotGrid, vehicle: PlanVehicle, chosen: tuple[int, ...]) -> bool:
    first = min(chosen, key=lambda q: int(grid.starts[q]))
    last = max(chosen, key=lambda q: int(grid.ends[q]))
    return _hull_is_free(grid, vehicle, first, last)


def _shapes(grid: DepotGrid, vehicle: VehicleGrid, usable: NDArray[np.bool_]) -> tuple[Shape, ...]:
    """Every frame the rules allow in which some service can be done, by build."""
    arrive_min = vehicle.vehicle.arrive_min
    ending: list[set[int]] = [set(map(int, one.shifts.ravel())) for one in vehicle.services]
    any_work = set().union(*ending) if ending else set()
    grouped: dict[tuple[int, int, tuple[int, ...]], list[tuple[int, ...]]] = {}
    reach = grid.problem.max_visit_min
    for a in map(int, np.flatnonzero(usable)):
        if grid.length[a] < arrive_min:
            continue
        near = [
            int(q)
            for q in np.flatnonzero(usable & (grid.starts >= grid.starts[a]) & (grid.ends <= grid.starts[a] + reach))
        ]
        for b in near:
            # Whoever arrives in a and works in b blocks [start of a, end of b], whatever lies between.
            if b not in any_work or grid.ends[b] < grid.ends[a] or not _hull_is_free(grid, vehicle.vehicle, a, b):
                continue
            inner = tuple(q for q in near if grid.ends[q] <= grid.ends[b] and (q in any_work or q == a))
            first_day = {day: at for at, day in enumerate(sorted({int(grid.day[q]) for q in inner}))}
            days = tuple(first_day[int(grid.day[q])] for q in inner)
            grouped.setdefault((inner.index(a), inner.index(b), days), []).append(inner)
    return tuple(_shape(grid, vehicle, key, frames) for key, frames in sorted(grouped.items()))


def _shape(
    grid: DepotGrid, vehicle: VehicleGrid, key: tuple[int, int, tuple[int, ...]], frames: list[tuple[int, ...]]
) -> Shape:
    arrive, last, days = key
    shifts = np.array(frames, dtype=np.int64)
    begins, ends = grid.starts[shifts[:, arrive]], grid.ends[shifts[:, last]]
    base = _ints(
        [
            vehicle.vehicle.arrive_cents
            + out_of_use_cents(vehicle.vehicle.out_cents_per_hour, int(end - begin))
            + vehicle.vehicle.arrive_min * int(grid.premium[frame[arrive]])
            for begin, end, frame in zip(begins, ends, frames, strict=True)
        ]
    )
    modes, positions = [], []
    for service in vehicle.services:
        none = len(service.shifts)
        if service.shifts.shape[1] == 1:
            by_shift = np.full(len(grid.shifts), none, dtype=np.int64)
            by_shift[service.shifts[:, 0]] = np.arange(none)
            matrix = by_shift[shifts]
            patterns = np.arange(shifts.shape[1], dtype=np.int64)[:, None]
        else:
            matrix, patterns = _chain_patterns(service, shifts)
        kept = (matrix < none).any(axis=0)
        modes.append(np.ascontiguousarray(matrix[:, kept]))
        positions.append(patterns[kept])
    return Shape(shifts, arrive, last, days, base, tuple(modes), tuple(positions))


def _chain_patterns(service: ServiceModes, shifts: Ints) -> tuple[Ints, Ints]:
    """Which mode of a chain each frame has at each tuple of positions that occurs."""
    none, stages = service.shifts.shape
    by_first: dict[int, list[int]] = {}
    for at, first in enumerate(service.shifts[:, 0].tolist()):
        by_first.setdefault(first, []).append(at)
    table: dict[tuple[int, ...], dict[int, int]] = {}
    modes = service.shifts.tolist()
    for f, frame in enumerate(shifts.tolist()):
        place = {q: at for at, q in enumerate(frame)}
        for q in frame:
            for at in by_first.get(q, ()):
                pattern = tuple(place.get(each, -1) for each in modes[at])
                if -1 not in pattern:
                    table.setdefault(pattern, {})[f] = at
    patterns = sorted(table)
    matrix = np.full((len(shifts), len(patterns)), none, dtype=np.int64)
    for column, pattern in enumerate(patterns):
        for f, at in table[pattern].items():
            matrix[f, column] = at
    return matrix, np.array(patterns, dtype=np.int64).reshape(len(patterns), stages)


def interior_days(shape: Shape) -> tuple[int, ...]:
    """Local days of a shape on which a visit need not work."""
    ends = {shape.days[shape.arrive], shape.days[shape.last]}
    return tuple(sorted(set(shape.days) - ends))


def subsets(items: tuple[int, ...]) -> list[tuple[int, ...]]:
    """All subsets, the empty one first."""
    return [chosen for size in range(len(items) + 1) for chosen in combinations(items, size)]
