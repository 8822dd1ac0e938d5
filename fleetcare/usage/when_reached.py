"""When a distance is reached: the law of the distance ahead, turned round, for many rows at once.

For each row and level, y = log(u) is sought with y + m(u) - log(r) - z sqrt(V(u)) = 0. Newton's method from a start
that is near: three turns for the first level, two for each further one, begun where the slope of the level before
points to. That comes within a hundredth of a day between 1 and 2000 days. A row whose last turn still moved it by more
than two hundredths of y goes on by itself until it stands, by bisection if it must. `single_pace` takes the same steps
for one vehicle; whoever changes one of the two changes both.

Rows are taken in portions that stay in the processor's cache, in working space that is used again and again: with
arrays made anew for every step, a million rows are limited by memory instead of by reckoning.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from fleetcare.usage.pace_filter import inner_variance, start_weight
from fleetcare.usage.single_pace import (
    FEW,
    FIRST_TURNS,
    FURTHER_TURNS,
    HALVINGS,
    LEAST_SLOPE,
    LONGEST_STEP,
    MORE_TURNS,
    SETTLED,
    STANDS,
    START_VARIANCE,
    Y_LOW,
    Y_TOP,
)

if TYPE_CHECKING:
    from fleetcare.usage.distance_law import DistanceLaw

Floats = npt.NDArray[np.float64]

PORTION = 8192
"""Rows taken at once."""

_COEFFICIENTS = 7
_WORK = 12


def log_days(law: DistanceLaw, distance: Floats, levels: Sequence[float]) -> Floats:
    """log of the operational days until `distance` is reached, at each level; (levels, k), between Y_LOW and Y_TOP.

    distance: (k,), finite and more than nothing. levels: rising; the answers rise with them.
    """
    count = len(distance)
    found = np.empty((len(levels), count))
    rows = Rows(min(count, PORTION))
    restless: list[npt.NDArray[np.intp]] = []
    for first in range(0, count, PORTION):
        part = slice(first, min(first + PORTION, count))
        rows.take(law, part, distance[part])
        restless.append(first + rows.solve(levels, found[:, part]))
    # Few, from all portions together: by themselves they would cost more than all others.
    again = np.concatenate(restless) if restless else np.empty(0, dtype=np.intp)
    for first in range(0, len(again), PORTION):
        some = again[first : first + PORTION]
        rows.take(law, some, distance[some])
        y = np.empty((len(levels), len(some)))
        rows.solve(levels, y, to_the_end=True)
        found[:, some] = y
    return found


class Rows:
    """A portion of rows, and the working space for one turn of Newton's method. All arrays are (n,), n <= size.

    y: where each row stands. moved: what the last turn changed. gain: dy/dz there. The rest are coefficients.
    """

    __slots__ = (
        "_room",
        "_work",
        "bend",
        "cpsi",
        "drift",
        "gain",
        "level",
        "moved",
        "own",
        "pmx",
        "rest",
        "tau",
        "x",
        "y",
    )

    def __init__(self, size: int) -> None:
        """Working space for up to so many rows."""
        self._room = np.empty((_COEFFICIENTS + _WORK, size))

    def take(self, law: DistanceLaw, part: slice | npt.NDArray[np.intp], distance: Floats) -> None:
        """Takes over these rows of the law, and how far each has to go."""
        self._lay_out(len(distance))
        self.tau, self.drift = law.tau, law.drift
        np.copyto(self.x, law.x[part])
        np.copyto(self.pmx, law.pmx[part])
        np.multiply(law.c[part], law.psi, out=self.cpsi)
        np.multiply(law.c[part], law.wander, out=self.own)
        np.add(law.pmm[part], law.spread[part], out=self.level)
        np.log(distance, out=self.rest)
        self.rest -= law.mu[part]
        self.rest -= law.shift[part]
        # A start: the distance at the pace of the middle of a short wander, and its rough standard deviation.
        np.multiply(self.x, -0.5, out=self.y)
        self.y += self.rest
        np.multiply(law.pxx[part], 1.0 / 3.0, out=self.gain)
        self.gain += self.level
        self.gain += START_VARIANCE
        np.sqrt(self.gain, out=self.gain)
        # V = level + drift u + lv + 2 g pmx + g^2 bend + own (1 - g)/w: `moments`, sorted by powers of g.
        np.subtract(law.pxx[part], self.own, out=self.bend)
        self.own *= 2.0

    def solve(self, levels: Sequence[float], found: Floats, *, to_the_end: bool = False) -> npt.NDArray[np.intp]:
        """Fills `found` (levels, n) with y of each level, rising from level to level.

        Returns the rows that still moved at some level; with `to_the_end` they were gone on with until they stood.
        """
        before, turns = 0.0, FIRST_TURNS
        restless = np.empty(0, dtype=np.intp)
        for row, z in enumerate(levels):
            self.gain *= z - before
            self.y += self.gain
            np.maximum(self.y, Y_LOW, out=self.y)
            np.minimum(self.y, Y_TOP, out=self.y)
            for _ in range(turns):
                self.turn(z)
            np.abs(self.moved, out=self.moved)
            if not self.moved.max() <= SETTLED:
                index = np.flatnonzero(~(self.moved <= SETTLED))
                if to_the_end:
                    self._settle(index, z)
                else:
                    restless = np.union1d(restless, index)
            before, turns = z, FURTHER_TURNS
            np.copyto(found[row], self.y)
            if row:
                np.maximum(found[row], found[row - 1], out=found[row])
        return restless

    def turn(self, z: float) -> None:
        """One turn of Newton's method at level z: y, moved and gain anew."""
        y, moved, gain, u, e, iw, g, h, lv, fall, a, v = self._work
        np.exp(y, out=u)
        np.divide(self.tau, u, out=iw)
        np.multiply(u, -1.0 / self.tau, out=e)
        np.exp(e, out=e)
        np.subtract(1.0, e, out=g)
        g *= iw
        np.subtract(1.0, g, out=h)
        h *= iw
        if iw.max() > FEW:
            self._short(iw, g, h)
        # d/dy of g is e^-w - g, of lv = log1p(cpsi/u) is -cpsi/(u + cpsi), of (1-g)/w is -(1 - g + dg/dy)/w.
        e -= g
        np.add(u, self.cpsi, out=lv)
        np.divide(self.cpsi, lv, out=fall)
        np.log(lv, out=lv)
        lv -= y
        np.multiply(g, self.bend, out=a)
        a += self.pmx
        np.add(a, self.pmx, out=v)
        v *= g
        a *= e
        a *= 2.0
        iw *= self.own
        h *= self.own
        v += h
        u *= self.drift
        v += u
        v += lv
        v += self.level
        # a becomes dV/dy; v the standard deviation
        a -= h
        iw *= e
        a -= iw
        a += u
        a -= fall
        np.sqrt(v, out=v)
        a /= v
        a *= 0.5 * z
        lv *= 0.5
        fall *= 0.5
        # e becomes the slope of what is sought to be nought, g its value
        e *= self.x
        e += fall
        e += 1.0
        e -= a
        np.maximum(e, LEAST_SLOPE, out=e)
        np.divide(v, e, out=gain)
        g *= self.x
        g -= lv
        g += y
        g -= self.rest
        v *= z
        g -= v
        g /= e
        np.maximum(g, -LONGEST_STEP, out=g)
        np.minimum(g, LONGEST_STEP, out=g)
        np.subtract(y, g, out=g)
        np.maximum(g, Y_LOW, out=g)
        np.minimum(g, Y_TOP, out=g)
        np.subtract(g, y, out=moved)
        np.copyto(y, g)

    def _short(self, iw: Floats, g: Floats, h: Floats) -> None:
        """g and (1 - g)/w anew where the window is short: by differences nothing would be left of 1 - g."""
        where = np.flatnonzero(iw > FEW)
        w = 1.0 / iw[where]
        g[where] = 1.0 - w / 2.0 + w**2 / 6.0 - w**3 / 24.0
        h[where] = 0.5 - w / 6.0 + w**2 / 24.0 - w**3 / 120.0

    def _lay_out(self, count: int) -> None:
        """Names the first `count` places of the working space."""
        arrays = tuple(self._room[:, :count])
        self.x, self.pmx, self.bend, self.own, self.level, self.cpsi, self.rest = arrays[:_COEFFICIENTS]
        self._work = arrays[_COEFFICIENTS:]
        self.y, self.moved, self.gain = self._work[:3]

    def _settle(self, index: npt.NDArray[np.intp], z: float) -> None:
        """Goes on with these rows alone until they stand."""
        few = Rows(len(index))
        few._lay_out(len(index))
        few.tau, few.drift = self.tau, self.drift
        np.copyto(few._room[: _COEFFICIENTS + 3], self._room[: _COEFFICIENTS + 3, index])
        for _ in range(MORE_TURNS):
            few.turn(z)
            np.abs(few.moved, out=few.moved)
            if few.moved.max() < STANDS:
                break
        else:
            restless = np.flatnonzero(~(few.moved < STANDS))
            if len(restless):
                few.y[restless] = few._halved(restless, z)
        self.y[index] = few.y
        self.gain[index] = few.gain

    def _halved(self, index: npt.NDArray[np.intp], z: float) -> Floats:
        """y of these rows by bisection, for what Newton's method cannot settle."""
        x, pmx, bend, own, level, cpsi, rest = (array[index] for array in self._room[:_COEFFICIENTS])
        low, high = np.full(len(index), Y_LOW), np.full(len(index), Y_TOP)
        for _ in range(HALVINGS):
            y = (low + high) / 2.0
            u = np.exp(y)
            w = u / self.tau
            g = start_weight(w)
            lv = np.log1p(cpsi / u)
            inner = own / 2.0 * inner_variance(w)
            v = level + self.drift * u + lv + g * (2.0 * pmx + g * (bend + own / 2.0)) + inner
            reached = y + g * x - lv / 2.0 - rest - z * np.sqrt(v) >= 0.0
            high = np.where(reached, y, high)
            low = np.where(reached, low, y)
        return np.asarray((low + high) / 2.0)
