"""The log-rate filter: what is believed of a vehicle's pace, and how one more increment changes it.

The log of the daily rate is a level M (normal over vehicles, drifting slowly) plus a wander X (Ornstein-Uhlenbeck). An
increment d over D operational days has mean D*exp(window average of M + X) and CV^2 = c*psi/D, with c the vehicle's
own dispersion. The update is the credibility rule (Buehlmann, 1967) in log space: arithmetic mean of expected and
observed rate, so that an increment of nought needs no special case; Huber's weight (1964) tames wild ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fleetcare.quantities import DAYS_PER_YEAR
from fleetcare.usage.priors import Priors

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PaceState:
    """Eight numbers a vehicle, each of shape (k,), one row per vehicle.

    mu, x: expected level and wander at the middle of the last increment. pmm, pmx, pxx: their covariance.
    back: operational days from there to the last reading. n: increments seen. ss: clipped squares of their surprise.
    """

    mu: Floats
    x: Floats
    pmm: Floats
    pmx: Floats
    pxx: Floats
    back: Floats
    n: Floats
    ss: Floats

    def rows(self, index: npt.NDArray[np.intp]) -> PaceState:
        """The states of these rows, in this order; a row may come more than once."""
        return PaceState(*(getattr(self, name)[index] for name in self.__slots__))


def window_weight(w: Floats) -> Floats:
    """f(w): variance of the average of X over a window of w correlation times, relative to sig^2."""
    safe = np.maximum(w, 1e-3)
    return np.where(w < 1e-3, 1.0 - w / 3.0, 2.0 * (safe + np.expm1(-safe)) / safe**2)


def start_weight(w: Floats) -> Floats:
    """g(w): weight of X at the start of a window in its average over the window."""
    safe = np.maximum(w, 1e-12)
    return -np.expm1(-safe) / safe


def inner_variance(w: Floats) -> Floats:
    """iv(w): variance of the average of X over a window given X at its start, relative to sig^2."""
    safe = np.maximum(w, 1e-4)
    g = start_weight(safe)
    return np.where(w < 1e-3, 2.0 * w / 3.0 - w**2 / 2.0, (2.0 - 2.0 * g - safe * g**2) / safe)


def start(priors: Priors, *, m0: npt.ArrayLike, s0: npt.ArrayLike) -> PaceState:
    """States before any increment. m0, s0: (k,), mean and spread of the log rate a day in the meter's own unit."""
    mean, spread = np.broadcast_arrays(np.atleast_1d(np.asarray(m0, float)), np.atleast_1d(np.asarray(s0, float)))
    nought = np.zeros(mean.shape)
    return PaceState(mean.copy(), nought, spread**2, nought, np.full(mean.shape, priors.sig**2), nought, nought, nought)


def dispersion(state: PaceState, priors: Priors) -> Floats:
    """c: the vehicle's own dispersion, 1 if like the fleet; (k,)."""
    return (priors.nu + state.ss) / (priors.nu + np.maximum(state.n - 1.0, 0.0))


def assimilate(state: PaceState, distance: Floats, days: Floats, priors: Priors) -> PaceState:
    """The states after one increment each.

    distance: (k,) not negative. days: (k,) operational days; a row with days of nought or less keeps its state, which
    is how vehicles with fewer readings sit out a round.
    """
    seen = days > 0.0
    span = np.where(seen, days, 1.0)
    c = dispersion(state, priors)
    gap = np.where(state.n > 0, state.back + span / 2.0, 0.0)
    fade = np.exp(-gap / priors.tau)
    x = fade * state.x
    pmm = state.pmm + priors.q * gap / DAYS_PER_YEAR
    pmx = fade * state.pmx
    pxx = np.where(state.n > 0, fade**2 * state.pxx + c * priors.sig**2 * (1.0 - fade**2), state.pxx)

    f = window_weight(span / priors.tau)
    cm, cx = pmm + f * pmx, pmx + f * pxx
    window = cm + f * cx
    noise = c * priors.psi / span + c * priors.sig**2 * np.maximum(f - f**2, 0.0)
    ratio = distance / (span * np.exp(state.mu + f * x))
    surprise = (ratio - 1.0) / np.sqrt(window + noise)
    evidence = np.minimum(1.0, priors.clip / np.maximum(np.abs(surprise), 1e-12)) / noise
    belief = 1.0 / window
    shift = np.log((belief + evidence * ratio) / (belief + evidence))
    gain = evidence / (belief + evidence)

    def then(new: Floats, old: Floats) -> Floats:
        return np.where(seen, new, old)

    squares = np.where(state.n > 0, np.minimum(surprise**2, priors.clip**2), 0.0)
    return PaceState(
        mu=then(state.mu + cm / window * shift, state.mu),
        x=then(x + cx / window * shift, state.x),
        pmm=then(pmm - gain * cm**2 / window, state.pmm),
        pmx=then(pmx - gain * cm * cx / window, state.pmx),
        pxx=then(pxx - gain * cx**2 / window, state.pxx),
        back=then(span / 2.0, state.back),
        n=then(state.n + 1.0, state.n),
        ss=then(state.ss + squares, state.ss),
    )


def assimilate_all(state: PaceState, distances: Floats, days: Floats, priors: Priors) -> PaceState:
    """The states after all increments, oldest first. distances, days: (rounds, k); days of nought sit a round out."""
    for distance, span in zip(distances, days, strict=True):
        state = assimilate(state, distance, span, priors)
    return state
