"""Visits of one vehicle on their way to columns: frames of one shape laid out, and the worth of each choice in them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
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

    def column(self, f: int, v: int, chosen: dict[int, int]) -> tuple[float, Column] | None:
        """The visit as a column with its value; None if something in the layout has no use."""
        vehicle, grid, shape = self.vehicle, self.grid, self.shape
        frame = shape.shifts[self.looked[f]].tolist()
        places = self.layouts.setups[v].tolist()
        worked: set[int] = {shape.arrive}
        needed: set[str] = set()
        for i, k in chosen.items():
            worked.update(self.layouts.patterns[i][k])
            needed.update(vehicle.services[i].service.setups)
        setups = []
        for column, place in enumerate(places):
            if place >= 0:
                if vehicle.setups[column] not in needed:
                    return None
                setups.append((column, frame[place]))
        last = max(worked, key=lambda place: (grid.ends[frame[place]], frame[place]))
        if last != shape.last or (shape.last != shape.arrive and shape.last not in worked):
            return None
        days = {shape.days[place] for place in worked}
        if any(self.layouts.works[v, day] and day not in days for day in range(self.layouts.works.shape[1])):
            return None
        value = float(self.base[f, v])
        cents = int(shape.base[self.looked[f]])
        modes = []
        for i in sorted(chosen):
            mode = int(shape.modes[i][self.looked[f], chosen[i]])
            modes.append((vehicle.services[i].number, mode))
            cents += int(vehicle.services[i].cents[mode])
            value += float(self.services[i][f, chosen[i]])
        for column, q in setups:
            cents += self.setup_cents[column] + self.setup_minutes[column] * int(grid.premium[q])
        return value, Column(vehicle.number, frame[shape.arrive], frame[shape.last], tuple(modes), tuple(setups), cents)


@dataclass(slots=True)
class Wide:
    """Visits of one shape before they are columns: frame (place in `looked`), layout and value of each, and for each
    service the pattern chosen, -1 for none."""

    states: States
    frames: Ints
    layouts: Ints
    value: Floats
    chosen: NDArray[np.int16]


def columns_of(wide: Wide, places: Iterable[int]) -> Iterator[tuple[float, Column]]:
    """Those visits as columns with their values, but for those in which something has no use."""
    for at in places:
        picks = {i: int(k) for i, k in enumerate(wide.chosen[at].tolist()) if k >= 0}
        made = wide.states.column(int(wide.frames[at]), int(wide.layouts[at]), picks) if picks else None
        if made is not None:
            yield float(wide.value[at]), made[1]


def order_of(column: Column) -> tuple[int, int, int, tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]]:
    """What columns of one value are put in order by, so that a run can be repeated."""
    return column.vehicle, column.arrive, column.last, column.modes, column.setups
