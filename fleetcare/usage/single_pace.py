"""One vehicle's pace and forecast in plain floats: the same figures as the arrays give, without loading numpy.

The filter of `pace_filter` and the law of `distance_law` for one vehicle. A command that answers for a vehicle at a
time is done here before numpy would be loaded; the tests hold the two to each other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fleetcare.quantities import DAYS_PER_YEAR
from fleetcare.usage.priors import Priors

Z_EARLY, Z_LIKELY, Z_LATE = -1.2815515655446004, 0.0, 1.2815515655446004
"""Standard normal quantiles at 10, 50 and 90 %. Source: NIST/SEMATECH e-Handbook 1.3.6.7.1 (table; printed 1.28155)."""
LEVELS = (Z_EARLY, Z_LIKELY, Z_LATE)

SHORTEST = 1e-3
LONGEST = 1e6
"""Operational days below which a distance is reached now, and beyond which it is never reached."""

# How a distance ahead is turned into days, here and in `when_reached`; y is the log of the days.
Y_LOW, Y_TOP = math.log(SHORTEST), math.log(LONGEST)
Y_NEVER = Y_TOP - 1e-6
START_VARIANCE = 0.02
"""Rough variance of the days from day to day, for a first guess."""
FIRST_TURNS = 3
FURTHER_TURNS = 2
SETTLED = 0.02
"""A last turn of Newton's method that moves y by no more leaves an error of about 4e-5, by its square."""
MORE_TURNS = 12
STANDS = 1e-9
HALVINGS = 44
LEAST_SLOPE = 0.25
FEW = 1e3
"""Correlation times over days ahead, from which on the window functions are taken from their series."""
LONGEST_STEP = 1.0


@dataclass(frozen=True, slots=True)
class Pace:
    """What is believed of one vehicle's pace: the eight numbers of `PaceState`, for one row."""

    mu: float
    x: float
    pmm: float
    pmx: float
    pxx: float
    back: float
    n: float
    ss: float


def start_pace(priors: Priors, *, m0: float | None = None, s0: float | None = None) -> Pace:
    """Before any increment. m0, s0: mean and spread of the log rate a day in the meter's own unit; else the priors'."""
    spread = priors.s0 if s0 is None else s0
    return Pace(priors.m0 if m0 is None else m0, 0.0, spread * spread, 0.0, priors.sig * priors.sig, 0.0, 0.0, 0.0)


def own_dispersion(pace: Pace, priors: Priors) -> float:
    """c: the vehicle's own dispersion, 1 if like the fleet."""
    return (priors.nu + pace.ss) / (priors.nu + max(pace.n - 1.0, 0.0))


def with_increment(pace: Pace, distance: float, days: float, priors: Priors) -> Pace:
    """The pace after one more increment: `distance`, not negative, over `days` operational days.

    An increment over no days leaves the pace as it is.
    """
    if not days > 0.0:
        return pace
    mu, x, pmm, pmx, pxx, back, n, ss = pace.mu, pace.x, pace.pmm, pace.pmx, pace.pxx, pace.back, pace.n, pace.ss
    tau, wander = priors.tau, priors.sig * priors.sig
    c = (priors.nu + ss) / (priors.nu + n - 1.0 if n > 1.0 else priors.nu)
    ahead = x
    if n > 0.0:
        gap = back + days / 2.0
        fade = math.exp(-gap / tau)
        ahead = fade * x
        pmm += priors.q * gap / DAYS_PER_YEAR
        pmx *= fade
        pxx = fade * fade * pxx + c * wander * (1.0 - fade * fade)
    w = days / tau
    f = 1.0 - w / 3.0 if w < 1e-3 else 2.0 * (w + math.expm1(-w)) / (w * w)
    cm, cx = pmm + f * pmx, pmx + f * pxx
    window = cm + f * cx
    within = f - f * f
    noise = c * priors.psi / days + (c * wander * within if within > 0.0 else 0.0)
    ratio = distance / (days * math.exp(mu + f * ahead))
    surprise = (ratio - 1.0) / math.sqrt(window + noise)
    clip = priors.clip
    evidence = (1.0 if -clip <= surprise <= clip else clip / abs(surprise)) / noise
    belief = 1.0 / window
    shift = math.log((belief + evidence * ratio) / (belief + evidence)) / window
    gain = evidence / (belief + evidence) / window
    if n > 0.0:
        ss += surprise * surprise if -clip <= surprise <= clip else clip * clip
    return Pace(
        mu + cm * shift,
        ahead + cx * shift,
        pmm - gain * cm * cm,
        pmx - gain * cm * cx,
        pxx - gain * cx * cx,
        days / 2.0,
        n + 1.0,
        ss,
    )


def rested(pace: Pace, days: float) -> Pace:
    """The pace after so many operational days of a spell that is passed over: older, and otherwise as it was."""
    return replace(pace, back=pace.back + days) if pace.n > 0.0 and days > 0.0 else pace


def with_increments(pace: Pace, increments: Iterable[tuple[float, float]], priors: Priors) -> Pace:
    """The pace after several increments, oldest first, each (distance, operational days)."""
    for distance, days in increments:
        pace = with_increment(pace, distance, days, priors)
    return pace


class AheadOf:
    """The law of the distance over the next u operational days after the last reading, for one vehicle.

    log of the distance is normal with mean log(u) + m(u) and variance V(u), as in `DistanceLaw`.
    """

    __slots__ = (
        "bend", "c", "cpsi", "drift", "level", "mu", "own",
        "pmm", "pmx", "pxx", "shift", "spread", "tau", "wander", "x",
    )  # fmt: skip

    def __init__(self, pace: Pace, priors: Priors, shift: float = 0.0, spread: float = 0.0) -> None:
        """The law after the last reading. shift: added to m(u); spread: added to V(u)."""
        c = own_dispersion(pace, priors)
        fade = math.exp(-pace.back / priors.tau) if pace.n > 0.0 else 1.0
        self.c = c
        self.cpsi = c * priors.psi
        self.wander = c * priors.sig * priors.sig
        self.mu = pace.mu
        self.x = fade * pace.x
        self.pmm = pace.pmm + priors.q * pace.back / DAYS_PER_YEAR
        self.pmx = fade * pace.pmx
        self.pxx = fade * fade * pace.pxx + self.wander * (1.0 - fade * fade)
        self.shift = shift
        self.spread = spread
        self.tau = priors.tau
        self.drift = priors.q / (3.0 * DAYS_PER_YEAR)
        # V(u) = level + drift u + lv + 2 g pmx + g^2 bend + 2 wander (1 - g)/w: `moments`, sorted by powers of g.
        self.level = self.pmm + spread
        self.bend = self.pxx - self.wander
        self.own = 2.0 * self.wander

    @classmethod
    def of(cls, pace: Pace, priors: Priors, *, shift: float = 0.0, spread: float = 0.0) -> AheadOf:
        """The law after the last reading; shift and spread stand for wear by an uncertain mix or an uncertain start."""
        return cls(pace, priors, shift, spread)

    def moments(self, u: float) -> tuple[float, float]:
        """m(u) and V(u) for u > 0 operational days."""
        w = u / self.tau
        if w < 1e-3:
            safe = max(w, 1e-12)
            g = -math.expm1(-safe) / safe
            inner = 2.0 * w / 3.0 - w * w / 2.0
        else:
            g = -math.expm1(-w) / w
            inner = (2.0 - 2.0 * g - w * g * g) / w
        lv = math.log1p(self.cpsi / u)
        mean = self.mu + g * self.x - lv / 2.0 + self.shift
        variance = (
            self.pmm + self.drift * u + 2.0 * g * self.pmx + g * g * self.pxx + self.wander * inner + lv + self.spread
        )
        return mean, variance

    def quantile(self, u: float, z: float) -> float:
        """The distance over u operational days that is not passed with the chance of `z`; nought for u <= 0."""
        if not u > 0.0:
            return 0.0
        ahead = max(u, SHORTEST)
        mean, variance = self.moments(ahead)
        return math.exp(math.log(ahead) + mean + z * math.sqrt(variance))

    def z_at(self, u: float, distance: float) -> float:
        """z with P(distance reached within u days) = Phi(z); both more than nothing."""
        mean, variance = self.moments(u)
        return (math.log(u) + mean - math.log(distance)) / math.sqrt(variance)

    def days_to(self, distance: float, levels: Sequence[float] = LEVELS) -> tuple[float, ...]:
        """Operational days until `distance` is reached, at each level, in order of rising levels.

        Nought or less is reached now, inf never; answers beyond a million days are inf. See `when_reached`, which takes
        the same steps.
        """
        if distance <= 0.0:
            return (0.0,) * len(levels)
        if not distance < math.inf:
            return (math.inf,) * len(levels)
        rest = math.log(distance) - self.mu - self.shift
        y = rest - self.x * 0.5
        gain = math.sqrt(self.pxx / 3.0 + self.pmm + self.spread + START_VARIANCE)
        found: list[float] = []
        before, turns, last = 0.0, FIRST_TURNS, Y_LOW
        for z in levels:
            y = min(Y_TOP, max(Y_LOW, y + (z - before) * gain))
            moved = 0.0
            for _ in range(turns):
                was = y
                y, gain = self._turn(y, rest, z)
                moved = y - was
            if not -SETTLED <= moved <= SETTLED:
                y, gain = self._settled(y, rest, z)
            before, turns, last = z, FURTHER_TURNS, max(last, y)
            found.append(_days(last))
        return tuple(found)

    def _turn(self, y: float, rest: float, z: float) -> tuple[float, float]:
        """One turn of Newton's method at level z: y anew, and dy/dz."""
        u = math.exp(y)
        iw = self.tau / u
        fade = math.exp(-u / self.tau)
        if iw > FEW:
            # By differences nothing would be left of 1 - g; a short series instead.
            w = u / self.tau
            g = 1.0 - w / 2.0 + w * w / 6.0 - w * w * w / 24.0
            inner = 0.5 - w / 6.0 + w * w / 24.0 - w * w * w / 120.0
        else:
            g = (1.0 - fade) * iw
            inner = (1.0 - g) * iw
        slope_g = fade - g
        far = u + self.cpsi
        lv = math.log(far) - y
        fall = self.cpsi / far
        bent = g * self.bend + self.pmx
        iw *= self.own
        inner *= self.own
        run = self.drift * u
        sd = math.sqrt(g * (bent + self.pmx) + inner + run + lv + self.level)
        slope_v = 2.0 * bent * slope_g - inner - iw * slope_g + run - fall
        slope = slope_g * self.x + 0.5 * fall + 1.0 - 0.5 * z * slope_v / sd
        if slope < LEAST_SLOPE:
            slope = LEAST_SLOPE
        step = (g * self.x - 0.5 * lv + y - rest - z * sd) / slope
        if step > LONGEST_STEP:
            step = LONGEST_STEP
        elif step < -LONGEST_STEP:
            step = -LONGEST_STEP
        y -= step
        return (Y_LOW if y < Y_LOW else Y_TOP if y > Y_TOP else y), sd / slope

    def _settled(self, y: float, rest: float, z: float) -> tuple[float, float]:
        """y and dy/dz where Newton's method comes to stand, or y by bisection if it does not."""
        gain = 0.0
        for _ in range(MORE_TURNS):
            was = y
            y, gain = self._turn(y, rest, z)
            if -STANDS < y - was < STANDS:
                return y, gain
        low, high = Y_LOW, Y_TOP
        for _ in range(HALVINGS):
            y = (low + high) / 2.0
            mean, variance = self.moments(math.exp(y))
            if y + mean - self.mu - self.shift - rest - z * math.sqrt(variance) >= 0.0:
                high = y
            else:
                low = y
        return (low + high) / 2.0, gain


def _days(y: float) -> float:
    """Days from their logarithm; nought at the short end, inf at the long one."""
    if y >= Y_NEVER:
        return math.inf
    days = math.exp(y)
    return 0.0 if days <= SHORTEST * 1.000001 else days
