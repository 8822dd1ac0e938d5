"""Which visits are worth having at given prices of the rows: the best ones quickly, or every one below a threshold.

Both look at every frame the rules allow. A bound that lets each service choose freely within the frame rules most
frames out; what is left is laid out by set-up positions and days worked, and widened service by service, all frames of
one shape at a time.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fleetcare.solvers.columns import Column, Prices, Rows
from fleetcare.solvers.grid import Floats, Ints, Shape, VehicleGrid, interior_days
from fleetcare.solvers.layouts import Layouts, layouts_of
from fleetcare.solvers.states import States, Wide, columns_of, order_of

EPS = 1e-6


class Pricer:
    """Prices the visits of one vehicle."""

    def __init__(self, rows: Rows, vehicle: VehicleGrid) -> None:
        self.rows, self.grid, self.vehicle = rows, rows.grid, vehicle
        self.is_exact = True
        self._layouts: dict[int, Layouts] = {}
        grid = self.grid
        self._minutes = [grid.problem.setup_by_name[name].minutes for name in vehicle.setups]
        self._cents = [grid.problem.setup_by_name[name].cents for name in vehicle.setups]
        self._stage_minutes = [np.array(one.minutes, dtype=np.int64) for one in vehicle.services]
        self._ready = [self._span_of(shape) for shape in vehicle.shapes]

    def _span_of(self, shape: Shape) -> tuple[Ints, Ints]:
        return self.grid.ends[shape.shifts[:, shape.arrive]], self.grid.starts[shape.shifts[:, shape.last]]

    # What a frame costs at these prices, without its services.

    def _frame_values(self, at: int, shape: Shape, prices: Prices) -> Floats:
        grid, rows, number = self.grid, self.rows, self.vehicle.number
        a, b = shape.shifts[:, shape.arrive], shape.shifts[:, shape.last]
        values = shape.base + self.vehicle.vehicle.arrive_min * prices.minute[a]
        values = values + prices.open_day[number, rows.shift_day[a]]
        if shape.days[shape.arrive] != shape.days[shape.last]:
            values = values + prices.open_day[number, rows.shift_day[b]]
        if shape.shifts.shape[1] > 1:
            ready, leaves = self._ready[at]
            if prices.past.any():
                held = (grid.ends[None, :] >= ready[:, None]) & (grid.ends[None, :] < leaves[:, None])
                values = values + held @ prices.past
            if prices.through.any():
                held = (grid.starts[None, :] >= ready[:, None]) & (grid.ends[None, :] <= leaves[:, None])
                values = values + held @ prices.through
        return np.asarray(values, dtype=np.float64)

    def _bay_credit(self, at: int, shape: Shape, prices: Prices) -> Floats | None:
        """(frames, positions) what a minute of work is let off: a shift held through counts whole in the row of bays,
        so minutes worked in it do not count there again. None if there is nothing to let off."""
        if shape.shifts.shape[1] < 3 or not prices.through.any():
            return None
        ready, leaves = self._ready[at]
        q = shape.shifts
        held = (self.grid.starts[q] >= ready[:, None]) & (self.grid.ends[q] <= leaves[:, None])
        return np.where(held, -prices.through[q] / self.grid.length[q], 0.0)

    def _setup_values(self, at: int, shape: Shape, prices: Prices) -> list[Floats]:
        """For each set-up (frames, positions + 1) with nothing for none, which stands last and so is position -1."""
        per_minute = self.grid.premium[shape.shifts] + prices.minute[shape.shifts]
        credit = self._bay_credit(at, shape, prices)
        if credit is not None:
            per_minute = per_minute + credit
        none = np.zeros((len(shape.shifts), 1))
        return [
            np.hstack([cents + minutes * per_minute, none])
            for cents, minutes in zip(self._cents, self._minutes, strict=True)
        ]

    def layouts(self, at: int) -> Layouts:
        """The layouts of a shape, made once."""
        if at not in self._layouts:
            self._layouts[at], is_whole = layouts_of(self.vehicle, self.vehicle.shapes[at], self._minutes)
            self.is_exact = self.is_exact and is_whole
        return self._layouts[at]

    # The search.

    def _bounded(self, prices: Prices) -> Iterator[tuple[int, Shape, Floats, list[Floats], Floats]]:
        """Each shape with the values of its frames, of their services, and the bound of each frame."""
        values = [self.rows.mode_values(one, prices) for one in self.vehicle.services]
        for at, shape in enumerate(self.vehicle.shapes):
            frames = self._frame_values(at, shape, prices)
            services = [values[i][shape.modes[i]] for i in range(len(values))]
            credit = self._bay_credit(at, shape, prices)
            if credit is not None:
                for i, patterns in enumerate(shape.positions):
                    for stage in range(patterns.shape[1]):
                        services[i] = services[i] + self._stage_minutes[i][stage] * credit[:, patterns[:, stage]]
            bound = frames.copy()
            for each in services:
                if each.shape[1]:
                    bound += np.minimum(each.min(axis=1), 0.0)
            yield at, shape, frames, services, bound

    def best(self, prices: Prices, *, most: int, frames_each: int | None) -> tuple[list[tuple[float, Column]], float]:
        """Visits worth less than nothing, the best first, at most `most`; and a bound under the value of every visit.

        frames_each: of each shape with several shifts only so many frames are looked at; the bound is then no bound.
        """
        found: list[tuple[float, Column]] = []
        lowest = np.inf
        for at, shape, frames, services, bound in self._bounded(prices):
            looked = np.flatnonzero(bound < -EPS)
            if len(looked) == 0:
                continue
            if frames_each is not None and shape.shifts.shape[1] > 1 and len(looked) > frames_each:
                looked = looked[np.argsort(bound[looked], kind="stable")[:frames_each]]
            states = self._states(at, looked, frames, services, prices)
            lowest = min(lowest, states.lowest)
            found += self._greedy(states, most)
            if frames_each is None:
                missed = self._unmet(states, found)
                found += missed
        found.sort(key=lambda pair: (pair[0], order_of(pair[1])))
        return found[:most], float(lowest)

    def below(self, prices: Prices, threshold: float, most: int) -> tuple[list[tuple[float, Column]], bool]:
        """Every visit worth at most `threshold`, with its value; false if there are more than `most`."""
        found: list[tuple[float, Column]] = []
        for at, _shape, frames, services, bound in self._bounded(prices):
            looked = np.flatnonzero(bound <= threshold)
            if len(looked):
                states = self._states(at, looked, frames, services, prices)
                more, is_whole = self._widen(states, threshold, most - len(found))
                found += more
                if not is_whole:
                    return found, False
        return found, True

    def wide_below(self, prices: Prices, threshold: float, most: int) -> Iterator[Wide | None]:
        """The visits worth at most `threshold` before they are made into columns, shape by shape; None for a shape that
        has far more than `most`."""
        for at, _shape, frames, services, bound in self._bounded(prices):
            looked = np.flatnonzero(bound <= threshold)
            if len(looked):
                states = self._states(at, looked, frames, services, prices)
                more, is_whole = self._widened(states, threshold, most)
                yield more if is_whole else None

    def cheapest(self, prices: Prices, threshold: float, most: int) -> list[Column] | None:
        """The `most` visits worth least of those worth at most `threshold`, the least first; None if there are far too
        many to go through."""
        wide: list[Wide] = []
        for more in self.wide_below(prices, threshold, 8 * most):
            if more is None:
                return None
            wide.append(more)
        values = np.concatenate([np.zeros(0), *(one.value for one in wide)])
        bar = np.inf
        if len(values) > 2 * most:
            # Some of them turn out to hold what has no use, and twice as many leave enough.
            bar = float(np.partition(values, 2 * most)[2 * most])
        found = [pair for one in wide for pair in columns_of(one.taken(np.flatnonzero(one.value <= bar)))]
        found.sort(key=lambda pair: (pair[0], order_of(pair[1])))
        return [column for _, column in found[:most]]

    def one_a_frame(self, prices: Prices) -> list[Column]:
        """Of each frame the visit worth least, as far as it is quickly found."""
        found, _ = self.best(prices, most=2**31, frames_each=2**31)
        return [column for _, column in found]

    def _states(self, at: int, looked: Ints, frames: Floats, services: list[Floats], prices: Prices) -> States:
        shape, layouts = self.vehicle.shapes[at], self.layouts(at)
        base = np.repeat(frames[looked][:, None], len(layouts.setups), axis=1)
        for column, each in enumerate(self._setup_values(at, shape, prices)):
            base += each[looked][:, layouts.setups[:, column]]
        for local in interior_days(shape):
            q = shape.shifts[looked, shape.days.index(local)]
            price = prices.open_day[self.vehicle.number, self.rows.shift_day[q]]
            base += price[:, None] * layouts.works[None, :, local]
        here = [each[looked] for each in services]
        best = []
        for i, each in enumerate(here):
            kinds = np.full((len(looked), len(layouts.allowed[i])), np.inf)
            for kind, allowed in enumerate(layouts.allowed[i]):
                if allowed.any():
                    kinds[:, kind] = each[:, allowed].min(axis=1)
            best.append(np.minimum(kinds, 0.0)[:, layouts.classes[i]])
        return States(self.vehicle, self.grid, self._cents, self._minutes, at, looked, base, here, best, layouts)

    def _greedy(self, states: States, most: int) -> list[tuple[float, Column]]:
        """From each frame its best layout, with every service that pays, those that pay least taken out until it
        fits."""
        z = states.bound
        layout = z.argmin(axis=1)
        value = z[np.arange(len(z)), layout]
        order = np.argsort(value, kind="stable")[:most]
        picked = []
        for f in order[value[order] < -EPS].tolist():
            chosen = self._fit(states, f, int(layout[f]))
            if chosen:
                picked.append((f, int(layout[f]), chosen))
        return [pair for pair in columns_of(Wide.of(states, picked)) if pair[0] < -EPS]

    def _fit(self, states: States, f: int, v: int) -> dict[int, int] | None:
        """The pattern of each service that pays and for which there is room; None if there is none at all."""
        chosen: dict[int, int] = {}
        for i, each in enumerate(states.services):
            allowed = states.layouts.allowed[i][states.layouts.classes[i][v]]
            if states.best[i][f, v] < 0.0:
                options = np.where(allowed, each[f], np.inf)
                chosen[i] = int(options.argmin())
        while chosen:
            over = states.overfull(f, v, chosen)
            if over is None:
                return chosen
            pays = {
                i: -float(states.services[i][f, k]) for i, k in chosen.items() if over in states.layouts.patterns[i][k]
            }
            if not pays:
                return None
            del chosen[min(pays, key=lambda i: (pays[i], i))]
        return None

    def _unmet(self, states: States, found: list[tuple[float, Column]]) -> list[tuple[float, Column]]:
        """Of frames in which the bound promises what greedy did not find, the best visit, if it is worth having."""
        met = {(column.arrive, column.last) for _, column in found}
        more: list[tuple[float, Column]] = []
        for f in np.flatnonzero(states.bound.min(axis=1) < -EPS).tolist():
            frame = states.shape.shifts[states.looked[f]]
            if (int(frame[states.shape.arrive]), int(frame[states.shape.last])) not in met:
                some, _ = self._widen(states.only(f), -EPS, 2_000)
                more += sorted(some, key=lambda pair: (pair[0], order_of(pair[1])))[:1]
        return more

    def _widen(self, states: States, threshold: float, most: int) -> tuple[list[tuple[float, Column]], bool]:
        """Every visit of these states up to the threshold, service by service; false if there were more than `most`."""
        wide, is_whole = self._widened(states, threshold, most)
        if not is_whole:
            return [], False
        found = columns_of(wide)
        return found, len(found) <= most

    def _widened(self, states: States, threshold: float, most: int) -> tuple[Wide, bool]:
        """The same before it is made into columns; false if there are far more than `most`, and nothing then."""
        pairs = states.bound <= threshold
        f, v = np.nonzero(pairs)
        if len(f) == 0:
            return Wide(states, f, v, np.zeros(0), np.zeros((0, len(states.services)), dtype=np.int16)), True
        rest = np.zeros((len(states.services) + 1, len(f)))
        for i in range(len(states.services) - 1, -1, -1):
            rest[i] = rest[i + 1] + states.best[i][f, v]
        value = states.base[f, v]
        minutes = states.layouts.load[v]
        room = self.grid.length[states.shape.shifts[states.looked]][f]
        fits = (minutes <= room).all(axis=1)
        pair = np.flatnonzero(fits)
        value, minutes = value[pair], minutes[pair]
        chosen = np.full((len(pair), len(states.services)), -1, dtype=np.int16)
        for i, each in enumerate(states.services):
            parts = [(pair, value, minutes, chosen)]
            for k in range(each.shape[1]):
                allowed = states.layouts.allowed[i][states.layouts.classes[i][v[pair]], k]
                more = value + each[f[pair], k]
                ok = np.flatnonzero(allowed & (more + rest[i + 1][pair] <= threshold))
                if len(ok) == 0:
                    continue
                load = minutes[ok].copy()
                for stage, place in enumerate(states.layouts.patterns[i][k]):
                    load[:, place] += self._stage_minutes[i][stage]
                ok_fits = (load <= room[pair[ok]]).all(axis=1)
                ok, load = ok[ok_fits], load[ok_fits]
                marked = chosen[ok].copy()
                marked[:, i] = k
                parts.append((pair[ok], more[ok], load, marked))
            left = parts[0]
            stays = left[1] + rest[i + 1][left[0]] <= threshold
            parts[0] = (left[0][stays], left[1][stays], left[2][stays], left[3][stays])
            pair = np.concatenate([one[0] for one in parts])
            value = np.concatenate([one[1] for one in parts])
            minutes = np.concatenate([one[2] for one in parts])
            chosen = np.concatenate([one[3] for one in parts])
            if len(pair) > 8 * max(most, 1_000):
                return Wide(states, pair[:0], pair[:0], value[:0], chosen[:0]), False
        return Wide(states, f[pair], v[pair], value, chosen), True
