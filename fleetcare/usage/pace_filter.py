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

PORTION = 8192
"""Vehicles taken at once."""
_WORK = 19
_SHORT = 1e-3
_FEW = 1e-2
_NO_SURPRISE = 1e-12


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
    safe = np.maximum(w, _SHORT)
    return np.where(w < _SHORT, 1.0 - w / 3.0, 2.0 * (safe + np.expm1(-safe)) / safe**2)


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


def dispersion(state: PaceState, priors: Priors, part: slice = slice(None)) -> Floats:
    """c: the vehicle's own dispersion, 1 if like the fleet; (k,), or those of `part` only."""
    return (priors.nu + state.ss[part]) / (priors.nu + np.maximum(state.n[part] - 1.0, 0.0))


def assimilate(state: PaceState, distance: Floats, days: Floats, priors: Priors) -> PaceState:
    """The states after one increment each.

    distance: (k,) not negative. days: (k,) operational days; a row with days of nought or less keeps its state, which
    is how vehicles with fewer readings sit out a round.
    """
    return assimilate_all(state, distance[np.newaxis], days[np.newaxis], priors)


def assimilate_all(state: PaceState, distances: Floats, days: Floats, priors: Priors) -> PaceState:
    """The states after all increments, oldest first. distances, days: (rounds, k); days of nought sit a round out.

    Vehicles are taken in portions that stay in the processor's cache through all rounds.
    """
    if len(distances) != len(days):
        raise ValueError("as many rounds of days as of distances, please")
    count = len(state.mu)
    after = np.empty((8, count))
    for row, name in enumerate(PaceState.__slots__):
        after[row] = getattr(state, name)
    room = np.empty((_WORK, min(count, PORTION)))
    for first in range(0, count, PORTION):
        part = slice(first, min(first + PORTION, count))
        work = room[:, : part.stop - first]
        for distance, span in zip(distances, days, strict=True):
            _one_round(after[:, part], distance[part], span[part], priors, work)
    return PaceState(*after)


def _one_round(state: Floats, distance: Floats, days: Floats, priors: Priors, work: Floats) -> None:
    """Takes one increment of each row into `state` (8, n), in place. work: (_WORK, n), overwritten."""
    mu, x, pmm, pmx, pxx, back, n, ss = state
    c, noise, f, cm, cx, window, ratio, surprise, evidence, belief, spare = work[:11]
    new = work[11:]
    new_mu, new_x, new_pmm, new_pmx, new_pxx, new_back, new_n, new_ss = new
    seen = days > 0.0
    all_seen = bool(seen.all())
    if not all_seen:
        days = np.where(seen, days, 1.0)
    begun = n > 0.0

    # c, and the way from the middle of the last increment to the middle of this one; none to the first
    np.subtract(n, 1.0, out=spare)
    np.maximum(spare, 0.0, out=spare)
    spare += priors.nu
    np.add(ss, priors.nu, out=c)
    c /= spare
    np.multiply(days, 0.5, out=new_back)
    np.add(back, new_back, out=spare)
    spare *= begun
    np.multiply(spare, priors.q / DAYS_PER_YEAR, out=new_pmm)
    new_pmm += pmm
    spare *= -1.0 / priors.tau
    np.exp(spare, out=spare)
    np.multiply(x, spare, out=new_x)
    np.multiply(pmx, spare, out=new_pmx)
    spare *= spare
    np.multiply(pxx, spare, out=new_pxx)
    np.subtract(1.0, spare, out=spare)
    np.multiply(c, priors.sig**2, out=noise)
    spare *= noise
    new_pxx += spare

    # f, the weight of X in the window; `window_weight`
    np.multiply(days, 1.0 / priors.tau, out=ratio)
    if ratio.min() < _FEW:
        np.copyto(f, window_weight(ratio))
    else:
        # exp costs half of expm1, and from here on loses less than 1e-11 by the subtraction
        np.negative(ratio, out=f)
        np.exp(f, out=f)
        f -= 1.0
        f += ratio
        f *= 2.0
        f /= ratio
        f /= ratio

    # cm, cx, window: covariance of M, X and the window's log rate with that log rate; noise: CV^2 of the increment
    np.multiply(f, new_pmx, out=cm)
    cm += new_pmm
    np.multiply(f, new_pxx, out=cx)
    cx += new_pmx
    np.multiply(f, cx, out=window)
    window += cm
    np.multiply(f, f, out=spare)
    np.subtract(f, spare, out=spare)
    np.maximum(spare, 0.0, out=spare)
    noise *= spare
    c *= priors.psi
    c /= days
    noise += c

    # what was seen over what was expected, its surprise, and the two weights
    np.multiply(f, new_x, out=ratio)
    ratio += mu
    np.exp(ratio, out=ratio)
    ratio *= days
    np.divide(distance, ratio, out=ratio)
    np.add(window, noise, out=spare)
    np.sqrt(spare, out=spare)
    np.subtract(ratio, 1.0, out=surprise)
    surprise /= spare
    np.abs(surprise, out=surprise)
    np.maximum(surprise, _NO_SURPRISE, out=evidence)
    np.divide(priors.clip, evidence, out=evidence)
    np.minimum(evidence, 1.0, out=evidence)
    evidence /= noise
    np.divide(1.0, window, out=belief)
    np.add(belief, evidence, out=spare)
    ratio *= evidence
    ratio += belief
    ratio /= spare
    np.log(ratio, out=ratio)
    ratio *= belief
    evidence *= belief
    evidence /= spare

    # ratio is now the shift over window, evidence the gain over window
    np.multiply(cm, ratio, out=new_mu)
    new_mu += mu
    ratio *= cx
    new_x += ratio
    np.multiply(evidence, cm, out=spare)
    evidence *= cx
    cm *= spare
    new_pmm -= cm
    spare *= cx
    new_pmx -= spare
    evidence *= cx
    new_pxx -= evidence
    np.minimum(surprise, priors.clip, out=new_ss)
    new_ss *= new_ss
    new_ss *= begun
    new_ss += ss
    np.add(n, 1.0, out=new_n)
    np.copyto(state, new, where=True if all_seen else seen)
