"""How the distance ahead divides over duties, and how sure that is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fleetcare.fleet.duty import DutySplit
from fleetcare.usage.priors import Priors


@dataclass(frozen=True, slots=True)
class MixForecast:
    """Shares that follow a Dirichlet law with mean `split` and concentration `concentration` (draws)."""

    split: DutySplit
    concentration: float

    def wear_moments(self, wear_per_km: Mapping[str, float]) -> tuple[float, float]:
        """Mean w and CV^2 of the wear a km adds, from the wear under each duty (0 for a duty not named).

        (0, 0) if no duty in the mix wears. Source: moments of a linear form of a Dirichlet variable,
        var(sum a_d p_d) = (sum a_d^2 s_d - w^2)/(concentration + 1).
        """
        pairs = [(share, wear_per_km.get(duty, 0.0)) for duty, share in self.split.shares]
        mean = sum(share * wear for share, wear in pairs)
        if mean <= 0:
            return 0.0, 0.0
        square = sum(share * wear**2 for share, wear in pairs)
        return mean, max(0.0, square - mean**2) / (self.concentration + 1.0) / mean**2


def mix_forecast(usual: DutySplit, seen_km: Mapping[str, float], priors: Priors) -> MixForecast:
    """The usual split, which counts like `mix_prior_weight_km` seen, together with the km seen under each duty."""
    parts = {duty: share * priors.mix_prior_weight_km for duty, share in usual.shares}
    for duty, km in seen_km.items():
        parts[duty] = parts.get(duty, 0.0) + max(0.0, km)
    return MixForecast(DutySplit.from_parts(parts), sum(parts.values()) / priors.mix_draw_km)
