"""Duty cycles, and how a distance divides over them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

DAILY = "daily"
TOWING = "towing"
TRACK = "track"


@dataclass(frozen=True, slots=True)
class DutyCycle:
    """One way of using a vehicle. `severe` duties put a `strict` line on its severe interval."""

    key: str
    title: str
    severe: bool
    pattern: str = ""
    """Name of the drawing pattern: chevrons, chequer, dots, rings, dashes or waves."""
    source: str = ""


@dataclass(frozen=True, slots=True)
class DutySplit:
    """How a distance divides over duties: shares that add up to 1, in order of duty key.

    Built from parts of any size (3 : 1, or 300 and 545 miles); only the proportion counts.
    """

    shares: tuple[tuple[str, float], ...]

    def __post_init__(self) -> None:
        total = sum(share for _, share in self.shares)
        if not self.shares or abs(total - 1.0) > 1e-9 or any(share < 0 for _, share in self.shares):
            raise ValueError("the shares of a duty split are not negative and add up to 1")

    @classmethod
    def from_parts(cls, parts: Mapping[str, float]) -> DutySplit:
        """Shares from parts. Raises ValueError if a part is negative or none is more than nothing."""
        if any(not part >= 0 for part in parts.values()):
            raise ValueError("parts are not negative")
        total = float(sum(parts.values()))
        if total <= 0:
            raise ValueError("at least one part is more than nothing")
        return cls(tuple((duty, parts[duty] / total) for duty in sorted(parts) if parts[duty] > 0))

    def share(self, duty: str) -> float:
        """The share of one duty, 0 if it is not in the split."""
        return dict(self.shares).get(duty, 0.0)


ALL_DAILY = DutySplit(((DAILY, 1.0),))
