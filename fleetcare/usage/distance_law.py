"""The law of the distance ahead, and the day by which a given distance is reached."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fleetcare.quantities import DAYS_PER_YEAR
from fleetcare.usage.pace_filter import PaceState, dispersion, inner_variance, start_weight
from fleetcare.usage.priors import Priors
from fleetcare.usage.single_pace import LEVELS as LEVELS
from fleetcare.usage.single_pace import SHORTEST, Y_LOW, Y_NEVER
from fleetcare.usage.single_pace import Z_EARLY as Z_EARLY
from fleetcare.usage.single_pace import Z_LATE as Z_LATE
from fleetcare.usage.single_pace import Z_LIKELY as Z_LIKELY
from fleetcare.usage.when_reached import PORTION, log_days

Floats = npt.NDArray[np.float64]


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
        count = len(state.mu)
        # In portions that stay in the cache; see `when_reached`.
        x, pmm, pmx, pxx, c = np.empty((5, count))
        wander = priors.sig**2
        for first in range(0, count, PORTION):
            part = slice(first, first + PORTION)
            back = state.back[part]
            own = dispersion(state, priors, part)
            fade = np.where(state.n[part] > 0, np.exp(-back / priors.tau), 1.0)
            c[part] = own
            np.multiply(fade, state.x[part], out=x[part])
            np.add(state.pmm[part], priors.q / DAYS_PER_YEAR * back, out=pmm[part])
            np.multiply(fade, state.pmx[part], out=pmx[part])
            fade *= fade
            np.add(fade * state.pxx[part], wander * own * (1.0 - fade), out=pxx[part])
        return cls(
            mu=state.mu,
            x=x,
            pmm=pmm,
            pmx=pmx,
            pxx=pxx,
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
        ahead = np.maximum(u, SHORTEST)
        mean, variance = self.moments(ahead)
        return np.where(u > 0, np.exp(np.log(ahead) + mean + z * np.sqrt(variance)), 0.0)

    def z_at(self, u: Floats, distance: Floats) -> Floats:
        """z with P(distance reached within u days) = Phi(z)."""
        mean, variance = self.moments(u)
        return np.asarray((np.log(u) + mean - np.log(distance)) / np.sqrt(variance))

    def days_to(self, distance: Floats, levels: Sequence[float] = LEVELS) -> Floats:
        """Operational days until `distance` is reached, at each level; (levels, k), in order of rising levels.

        distance: (k,); 0 or less is reached now, inf never. Answers beyond a million days are inf. Levels rise; the
        answers are within a hundredth of a day of the exact ones between 1 and 2000 days (how: `when_reached`).
        """
        ahead = (distance > 0) & np.isfinite(distance)
        y = log_days(self, distance if ahead.all() else np.where(ahead, distance, 1.0), levels)
        days = np.exp(y)
        if len(y) and y.size and (y[-1].max() >= Y_NEVER or y[0].min() <= Y_LOW + 1e-6):
            days[y >= Y_NEVER] = np.inf
            days[days <= SHORTEST * 1.000001] = 0.0
        if not ahead.all():
            days[:, distance <= 0] = 0.0
            days[:, np.isinf(distance) & (distance > 0)] = np.inf
        return days
