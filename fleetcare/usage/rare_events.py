"""How often something happens to a vehicle that is counted, not measured: track days, immersions, tows."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.usage.priors import Priors


@dataclass(frozen=True, slots=True)
class EventRate:
    """Gamma law of the events a day: shape a, rate b in days. Source: NIST/SEMATECH e-Handbook 8.4.6 (gamma prior)."""

    a: float
    b: float

    @classmethod
    def prior(cls, priors: Priors) -> EventRate:
        """What is believed before anything was counted."""
        return cls(priors.event_a0, priors.event_b0)

    def having_seen(self, events: int, days: float) -> EventRate:
        """The law after so many events in so many days."""
        return EventRate(self.a + events, self.b + days)

    @property
    def mean_per_day(self) -> float:
        """Events expected a day."""
        return self.a / self.b

    def chance(self, events: int, days: float) -> float:
        """The chance of at least so many events within so many days ahead.

        One minus the negative binomial sum; equals the incomplete beta function I_{u/(u+b)}(m, a).
        """
        if events <= 0:
            return 1.0
        if days <= 0:
            return 0.0
        p = days / (days + self.b)
        term = (1.0 - p) ** self.a
        below = 0.0
        for count in range(events):
            below += term
            term *= p * (self.a + count) / (count + 1)
        return max(0.0, 1.0 - below)
