"""Visits of one vehicle on their way to columns: frames of one shape laid out, and the worth of each choice in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fleetcare.solvers.columns import Column
from fleetcare.solvers.grid import DepotGrid, Floats, Ints, Shape, VehicleGrid
from fleetcare.solvers.layouts import Layouts


@dataclass(slots=True)
class States:
    """Frames of one shape laid out: base (frames, layouts) values without services, services (frames, patterns) values,
    best (frames, layouts) the least of each service or nothing."""

    vehicle: VehicleGrid
    grid: DepotGrid
    setup_cents: list[int]
    setup_minutes: list[int]
    at: int
    looked: Ints
    base: Floats
    services: list[Floats]
    best: list[Floats]
    layouts: Layouts

    @property
    def shape(self) -> Shape:
        """The shape of visit that these are frames of."""
        return self.vehicle.shapes[self.at]

    @property
    def bound(self) -> Floats:
        """The least value each can come to, (frames, layouts)."""
        total = self.base.copy()
        for each in self.best:
            total += each
        return total

    @property
    def lowest(self) -> float:
        """The least of `bound`."""
        return float(self.bound.min())

    def only(self, f: int) -> States:
        """The same for one frame."""
        keep = slice(f, f + 1)
        return States(
            self.vehicle,
            self.grid,
            self.setup_cents,
            self.setup_minutes,
            self.at,
            self.looked[keep],
            self.base[keep],
            [each[keep] for each in self.services],
            [each[keep] for each in self.best],
            self.layouts,
        )

    def overfull(self, f: int, v: int, chosen: dict[int, int]) -> int | None:
        """The first position where the work does not fit; None if all fits."""
        load = self.layouts.load[v].tolist()
        for i, k in chosen.items():
            for minutes, place in zip(self.vehicle.services[i].minutes, self.layouts.patterns[i][k], strict=True):
                load[place] += minutes
        lengths = self.grid.length[self.shape.shifts[self.looked[f]]].tolist()
        return next((at for at, (used, length) in enumerate(zip(load, lengths, strict=True)) if used > length), None)


@dataclass(slots=True)
class Wide:
    """Visits of one shape before they are columns: frame (place in `looked`), layout and value of each, and for each
    service the pattern chosen, -1 for none."""

    states: States
    frames: Ints
    layouts: Ints
    value: Floats
    chosen: NDArray[np.int16]

    @classmethod
    def of(cls, states: States, picked: Sequence[tuple[int, int, Mapping[int, int]]]) -> Wide:
        """From frame, layout, and the pattern of each service that is done."""
        chosen = np.full((len(picked), len(states.services)), -1, dtype=np.int16)
        for at, (_, _, patterns) in enumerate(picked):
            for i, k in patterns.items():
                chosen[at, i] = k
        frames = np.array([f for f, _, _ in picked], dtype=np.int64)
        layouts = np.array([v for _, v, _ in picked], dtype=np.int64)
        value = states.base[frames, layouts]
        for i, each in enumerate(states.services):
            done = np.flatnonzero(chosen[:, i] >= 0)
            value[done] += each[frames[done], chosen[done, i]]
        return cls(states, frames, layouts, value, chosen)

    def taken(self, places: Ints) -> Wide:
        """Those at these places alone."""
        return Wide(self.states, self.frames[places], self.layouts[places], self.value[places], self.chosen[places])


def columns_of(wide: Wide) -> list[tuple[float, Column]]:
    """The visits as columns with their values, but for those in which something has no use: a set-up that no service
    needs, a day without work, a shift at the end that nothing is done in."""
    wide = wide.taken(_of_use(wide))
    states, shape = wide.states, wide.states.shape
    vehicle, grid = states.vehicle, states.grid
    at = states.looked[wide.frames]
    frames = shape.shifts[at]
    cents = shape.base[at].copy()
    modes: list[list[tuple[int, int]]] = [[] for _ in at]
    for i, one in enumerate(vehicle.services):
        done = np.flatnonzero(wide.chosen[:, i] >= 0)
        mode = shape.modes[i][at[done], wide.chosen[done, i]]
        cents[done] += one.cents[mode]
        for place, each in zip(done.tolist(), mode.tolist(), strict=True):
            modes[place].append((one.number, each))
    setups: list[list[tuple[int, int]]] = [[] for _ in at]
    for name_at, positions in enumerate(states.layouts.setups[wide.layouts].T):
        made = np.flatnonzero(positions >= 0)
        shift = frames[made, positions[made]]
        cents[made] += states.setup_cents[name_at] + states.setup_minutes[name_at] * grid.premium[shift]
        for place, q in zip(made.tolist(), shift.tolist(), strict=True):
            setups[place].append((name_at, q))
    return [
        (value, Column(vehicle.number, arrive, last, tuple(services), tuple(set_up), price))
        for value, arrive, last, services, set_up, price in zip(
            wide.value.tolist(),
            frames[:, shape.arrive].tolist(),
            frames[:, shape.last].tolist(),
            modes,
            setups,
            cents.tolist(),
            strict=True,
        )
    ]


def _of_use(wide: Wide) -> Ints:
    """Places of those in which everything has a use."""
    states, shape, layouts = wide.states, wide.states.shape, wide.states.layouts
    grid, many = states.grid, len(wide.value)
    worked = np.zeros((many, shape.shifts.shape[1]), dtype=bool)
    worked[:, shape.arrive] = True
    needed = np.zeros((many, len(states.vehicle.setups)), dtype=bool)
    for i, one in enumerate(states.vehicle.services):
        done = wide.chosen[:, i] >= 0
        patterns = shape.positions[i]
        for stage in range(patterns.shape[1]):
            worked[done, patterns[wide.chosen[done, i], stage]] = True
        for name in one.service.setups:
            needed[done, states.vehicle.setups.index(name)] = True
    good = (wide.chosen >= 0).any(axis=1)
    good &= ((layouts.setups[wide.layouts] < 0) | needed).all(axis=1)
    frames = shape.shifts[states.looked[wide.frames]]
    ends, last = grid.ends[frames], frames[:, [shape.last]]
    is_later = (ends > grid.ends[last]) | ((ends == grid.ends[last]) & (frames > last))
    good &= worked[:, shape.last] & ~(worked & is_later).any(axis=1)
    day = np.array(shape.days)
    for local in range(layouts.works.shape[1]):
        good &= ~layouts.works[wide.layouts, local].astype(bool) | worked[:, day == local].any(axis=1)
    return np.flatnonzero(good)


def order_of(column: Column) -> tuple[int, int, int, tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]]:
    """What columns of one value are put in order by, so that a run can be repeated."""
    return column.vehicle, column.arrive, column.last, column.modes, column.setups
