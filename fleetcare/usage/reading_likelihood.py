"""How likely a reading is, by each explanation there may be for it.

Everything here is in km (hours for an hour meter); chances of a figure are densities per km.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fleetcare.meter.slips import Explanation
from fleetcare.usage.priors import SLIPS, Priors
from fleetcare.usage.single_pace import AheadOf, Pace

GATE = 2.0
"""An increment within so many standard deviations of the law fits, and slips need not be looked for."""
GATE_CHANCE = 0.975
"""What is told of a reading that passed the gate. The whole reckoning on 1,085 such readings of two simulated worlds
never came out below 0.984; this leaves room."""

SHORTEST = 0.5
"""Operational days reckoned with at the least: a vehicle said to be laid up is moved about all the same."""
STANDS = 0.02
"""Chance of no move at all, and (over the median) the density of any increment below it: vehicles may always stand."""
OUTER = 1.959963984540054
"""Standard normal quantile at 97.5 %. Source: NIST/SEMATECH e-Handbook 1.3.6.7.1 (printed 1.95996)."""
OFFERED = 3.365
"""99 % point of Student's t with 5 degrees of freedom. Source: NIST/SEMATECH e-Handbook 1.3.6.7.2 (printed 3.365)."""
LEAST = 1e-6
"""km or hours; a gain below it is less than any dial shows, so the dial stands. Its logarithm would swamp the rest."""
TRIP_PART = 0.9
"""A declared trip explains at most this part of what the dial gained: the booking is a guess, the dial is not."""
WIDEST = 8.0
"""Standard deviations above the median from which on a repaired value is not worth looking at."""
ANY_START = 0.05
"""Share of meters put in that begin with any figure at all, not with a low one. Judgement, no source."""
MOST_ROLLED = 0.2
"""The chance that a dial begins anew where it can, at the most: share of dials so short. Judgement, no source."""

_T5 = math.gamma(3.0) / (math.sqrt(5.0 * math.pi) * math.gamma(2.5))


def student_density(z: float) -> float:
    """Density of Student's t with 5 degrees of freedom. Source: NIST/SEMATECH e-Handbook 1.3.6.6.4."""
    return _T5 / (1.0 + z * z / 5.0) ** 3


class IncrementLaw:
    """What the next increment over u operational days is expected to be, declared trips of that time in it.

    centre, spread: mean and standard deviation of its log without trips. trips: declared distance.
    """

    __slots__ = ("centre", "median", "spread", "trips")

    def __init__(self, pace: Pace, priors: Priors, u: float, trips: float = 0.0) -> None:
        """The law for this pace; u: operational days since the last reading, taken as `SHORTEST` at the least."""
        ahead = u if u > SHORTEST else SHORTEST
        mean, variance = AheadOf(pace, priors).moments(ahead)
        self.centre = math.log(ahead) + mean
        self.spread = math.sqrt(variance)
        self.median = math.exp(self.centre)
        self.trips = trips

    def fits(self, gain: float) -> bool:
        """True if it lies inside the gate: nothing at all, or within `GATE` of the law."""
        if gain < LEAST:
            return gain >= 0.0
        if -GATE <= (math.log(gain) - self.centre) / self.spread <= GATE:
            return True
        return self.trips > 0.0 and -GATE <= (math.log(self.everyday(gain)) - self.centre) / self.spread <= GATE

    def everyday(self, gain: float) -> float:
        """What is left of a gain without the declared trips."""
        return gain - min(self.trips, TRIP_PART * gain) if self.trips > 0.0 else gain

    def density(self, gain: float) -> float:
        """How likely this gain is; nought if it is less than nothing. Trips may have been driven or not."""
        if gain < LEAST:
            return STANDS if gain >= 0.0 else 0.0
        found = self._plain(gain)
        return max(found, self._plain(self.everyday(gain))) if self.trips > 0.0 else found

    def told(self) -> tuple[float, float, float]:
        """The gain at 2.5, 50 and 97.5 %; trips count for the last two, for they may fall out."""
        wide = math.exp(OUTER * self.spread)
        return self.median / wide, self.median + self.trips, self.median * wide + self.trips

    def is_near(self, gain: float) -> bool:
        """True if a value that makes this gain is worth offering: not beyond 99 % of Student's law. Any may stand."""
        return 0.0 <= gain <= self.median * math.exp(OFFERED * self.spread) + self.trips

    @property
    def furthest(self) -> float:
        """The gain beyond which no repaired value is looked for."""
        return math.exp(min(self.centre + WIDEST * self.spread, 40.0)) + self.trips

    def _plain(self, gain: float) -> float:
        density = student_density((math.log(gain) - self.centre) / self.spread) / (self.spread * gain)
        return max(density, STANDS / (self.median + 1.0)) if gain < self.median else density


@dataclass(frozen=True, slots=True)
class PriorChances:
    """The prior chances, made ready for one meter.

    right: that a reading is right. slips: by explanation. km: one unit of the dial. trip_mean, new_mean: of what a trip
    meter and a new meter show, km or hours.
    """

    right: float
    slips: dict[Explanation, float]
    km: float
    trip_mean: float
    new_mean: float

    @classmethod
    def of(cls, priors: Priors, *, km: float, is_hours: bool) -> PriorChances:
        """km: one unit of the dial, in km (1 for hours)."""
        per = priors.mean_speed_km_per_h if is_hours else 1.0
        return cls(
            right=1.0 - sum(getattr(priors, name) for name in SLIPS),
            slips={
                Explanation.WRONG_DIGIT: priors.slip_wrong_digit,
                Explanation.EXCHANGED: priors.slip_exchanged,
                Explanation.DIGIT_MISSING: priors.slip_digit_missing,
                Explanation.DIGIT_EXTRA: priors.slip_digit_extra,
                Explanation.TRIP_METER: priors.slip_trip_meter,
                Explanation.OTHER_UNIT: priors.slip_other_unit,
                Explanation.UNEXPLAINED: priors.slip_unexplained,
                Explanation.ROLLED_OVER: priors.slip_rolled_over,
                Explanation.METER_CHANGED: priors.slip_meter_changed,
            },
            km=km,
            trip_mean=priors.trip_meter_km / per,
            new_mean=priors.new_meter_km / per,
        )

    def any_figure(self, shown: float, last: float = 0.0) -> float:
        """Density of a figure of which nothing is known but that it has as many digits as the dial shows, at least."""
        return 0.1 ** len(str(int(max(shown, last) / self.km))) / self.km

    def unexplained(self, shown: float, last: float) -> float:
        """Chance and density of a figure that nobody can explain."""
        return self.slips[Explanation.UNEXPLAINED] * self.any_figure(shown, last)

    def rolled_over(self, turn: float, median: float) -> float:
        """The chance that a dial began anew, where the end of a turn lies within reach.

        One that does so does it once in a turn, so the chance is that much larger there than of readings in general.
        """
        return min(MOST_ROLLED, self.slips[Explanation.ROLLED_OVER] * max(1.0, turn / max(median, self.km)))

    def trip_meter(self, shown: float, last: float) -> float:
        """Chance and density of a trip meter that shows this; only below what the meter itself showed last."""
        if shown >= last:
            return 0.0
        return self.slips[Explanation.TRIP_METER] * math.exp(-shown / self.trip_mean) / self.trip_mean

    def new_meter(self, shown: float, last: float) -> float:
        """Chance and density of another meter that shows this: a low figure, or rarely any."""
        low = math.exp(-shown / self.new_mean) / self.new_mean if shown < last else 0.0
        any_start = ANY_START * self.any_figure(shown, last)
        return self.slips[Explanation.METER_CHANGED] * ((1.0 - ANY_START) * low + any_start)
