"""The law of the distance ahead, and the day by which a given distance is reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fleetcare.quantities import DAYS_PER_YEAR
from fleetcare.usage.pace_filter import PaceState, dispersion, inner_variance, start_weight
from fleetcare.usage.priors import Priors

Floats = npt.NDArray[np.float64]

Z_EARLY, Z_LIKELY, Z_LATE = -1.2815515655446004, 0.0, 1.2815515655446004
"""Standard normal quantiles at 10, 50 and 90 %. Source: NIST/SEMATECH e-Handbook 1.3.6.7.1 (table; printed 1.28155)."""
LEVELS = (Z_EARLY, Z_LIKELY, Z_LATE)

_LONGEST = 1e6
_SHORTEST = 1e-3
_FAST_FROM, _FAST_TO = 3.0, 2000.0


@dataclass(frozen=True, slots=True)
class DistanceLaw:
    """log of the distance over the next u operational days is normal with mean log(u) + m(u) and variance V(u).

    All (k,): the state carried on from the middle of the last increment to the last reading, plus what the caller knows
    beside it: shift (added to m) and spread (added to V), for wear by an uncertain mix or an uncertain start.
    """

    mu: Floats
    x: Floats
    pmm: Floats
    pmx: Floats
    pxx: Floats
    c: Floats
    shift: Floats
    spread: Floats
    tau: float
    psi: float
    wander: float
    drift: float

    @classmethod
    def of(
        cls, state: PaceState, priors: Priors, *, shift: npt.ArrayLike = 0.0, spread: npt.ArrayLike = 0.0
    ) -> DistanceLaw:
        """The law after the last reading of each row."""
        c = dispersion(state, priors)
        fade = np.where(state.n > 0, np.exp(-state.back / priors.tau), 1.0)
        wander = priors.sig**2
        return cls(
            mu=state.mu,
            x=fade * state.x,
            pmm=state.pmm + priors.q * state.back / DAYS_PER_YEAR,
            pmx=fade * state.pmx,
            pxx=fade**2 * state.pxx + c * wander * (1.0 - fade**2),
            c=c,
            shift=np.broadcast_to(np.asarray(shift, float), c.shape),
            spread=np.broadcast_to(np.asarray(spread, float), c.shape),
            tau=priors.tau,
            psi=priors.psi,
            wander=wander,
            drift=priors.q / (3.0 * DAYS_PER_YEAR),
        )

    def rows(self, index: npt.NDArray[np.bool_] | npt.NDArray[np.intp]) -> DistanceLaw:
        """The law of these rows."""
        arrays = (self.mu, self.x, self.pmm, self.pmx, self.pxx, self.c, self.shift, self.spread)
        mu, x, pmm, pmx, pxx, c, shift, spread = (array[index] for array in arrays)
        return replace(self, mu=mu, x=x, pmm=pmm, pmx=pmx, pxx=pxx, c=c, shift=shift, spread=spread)

    def moments(self, u: Floats) -> tuple[Floats, Floats]:
        """m(u) and V(u) for u > 0 operational days; (k,) each."""
        w = u / self.tau
        g = start_weight(w)
        lv = np.log1p(self.c * self.psi / u)
        mean = self.mu + g * self.x - lv / 2.0 + self.shift
        variance = (
            self.pmm
            + self.drift * u
            + 2.0 * g * self.pmx
            + g**2 * self.pxx
            + self.c * self.wander * inner_variance(w)
            + lv
            + self.spread
        )
        return mean, variance

    def quantile(self, u: Floats, z: float) -> Floats:
        """The distance over u operational days that is not passed with the chance of `z`; nought for u <= 0."""
        ahead = np.maximum(u, _SHORTEST)
        mean, variance = self.moments(ahead)
        return np.where(u > 0, np.exp(np.log(ahead) + mean + z * np.sqrt(variance)), 0.0)

    def z_at(self, u: Floats, distance: Floats) -> Floats:
        """z with P(distance reached within u days) = Phi(z)."""
        mean, variance = self.moments(u)
        return np.asarray((np.log(u) + mean - np.log(distance)) / np.sqrt(variance))

    def days_to(self, distance: Floats, levels: Sequence[float] = LEVELS) -> Floats:
        """Operational days until `distance` is reached, at each level; (levels, k), in order of rising levels.

        distance: (k,); 0 or less is reached now, inf never. Answers beyond a million days are inf. Closed-form fixed
        point y = log(r) - m(e^y) + z sqrt(V(e^y)) in y = log(u): three evaluations, the last one accelerated (Aitken
        1926); it contracts by 0.1 to 0.5 between 3 and 2000 days, and outside of that it is iterated to the end.
        """
        ahead = (distance > 0) & np.isfinite(distance)
        log_r = np.log(np.where(ahead, distance, 1.0))
        low, high = np.log(_SHORTEST), np.log(_LONGEST)
        found = np.empty((len(levels), len(distance)))
        y = np.clip(log_r - self.mu - self.x / 2.0 - self.shift, low, high)
        for row, z in enumerate(levels):

            def turn(y: Floats, law: DistanceLaw, target: Floats, z: float = z) -> Floats:
                mean, variance = law.moments(np.exp(y))
                return np.clip(target - mean + z * np.sqrt(variance), low, high)

            first = turn(y, self, log_r)
            second = turn(first, self, log_r)
            third = turn(second, self, log_r)
            step = second - first
            ratio = np.clip((third - second) / np.where(np.abs(step) < 1e-12, np.inf, step), -0.7, 0.7)
            y = np.clip(third + ratio / (1.0 - ratio) * (third - second), low, high)
            slow = ahead & ((np.exp(y) < _FAST_FROM) | (np.exp(y) > _FAST_TO) | (np.abs(third - second) > 0.05))
            if slow.any():
                y[slow] = _root(self.rows(slow), log_r[slow], z, y[slow])
            found[row] = y
        days = np.where(found >= high - 1e-6, np.inf, np.exp(np.maximum.accumulate(found, axis=0)))
        days = np.where(days <= _SHORTEST * 1.000001, 0.0, days)
        return np.where(distance <= 0, 0.0, np.where(np.isinf(distance), np.inf, days))


def _root(law: DistanceLaw, log_r: Floats, z: float, guess: Floats) -> Floats:
    """The exact solution, from a guess: secant steps, and bisection for the rows in which they fail; (k,)."""

    def miss(y: Floats, law: DistanceLaw, target: Floats) -> Floats:
        mean, variance = law.moments(np.exp(y))
        return np.asarray(y + mean - target - z * np.sqrt(variance))

    low, high = np.log(_SHORTEST), np.log(_LONGEST)
    y, before = guess, guess + np.where(guess > high - 1.0, -0.1, 0.1)
    off, off_before = miss(y, law, log_r), miss(before, law, log_r)
    for _ in range(7):
        slope = off - off_before
        step = np.where(np.abs(slope) > 1e-14, off * (y - before) / np.where(slope == 0, 1.0, slope), 0.0)
        before, off_before = y, off
        y = np.clip(y - np.clip(step, -2.0, 2.0), low, high)
        off = miss(y, law, log_r)
    at_end = ((y <= low) & (off > 0)) | ((y >= high) & (off < 0))
    failed = (np.abs(off) > 1e-9) & ~at_end
    if failed.any():
        y[failed] = _bisected(law.rows(failed), log_r[failed], z)
    return y


def _bisected(law: DistanceLaw, log_r: Floats, z: float) -> Floats:
    """The exact solution by bisection between a thousandth of a day and a million days; (k,)."""
    low = np.full(log_r.shape, np.log(_SHORTEST))
    high = np.full(log_r.shape, np.log(_LONGEST))
    for _ in range(44):
        middle = (low + high) / 2.0
        mean, variance = law.moments(np.exp(middle))
        reached = middle + mean - log_r - z * np.sqrt(variance) >= 0
        high = np.where(reached, middle, high)
        low = np.where(reached, low, middle)
    return np.asarray((low + high) / 2.0)
