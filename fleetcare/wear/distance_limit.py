"""Wear by distance: which part of its interval a line has used up, given the duties it was used under."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from fleetcare.book.rows import DutyFigure, Limits, Mixing
from fleetcare.fleet.duty import DutyCycle, DutySplit

_SAE_GRADE = re.compile(r"\d+w(?:-\d+)?\b")
"""A grade of gear or engine oil at the beginning of what is said of a fluid (SAE J306, J300)."""


class UsedSpan(NamedTuple):
    """Distance since the line was last done, and how it divides over duties."""

    km: float
    split: DutySplit


def linear_damage(amounts: Iterable[float], lives: Iterable[float]) -> float:
    """sum n_i/N_i: the share of life used up by amounts n_i under loads that alone would last N_i; 1 means due.

    As many lives as amounts, any one unit. A life of inf adds nothing.
    Source: Palmgren (1924) and Miner (1945), as stated in the Altair SimSolid help 2021, page on fatigue.
    """
    return math.fsum(amount / life for amount, life in zip(amounts, lives, strict=True))


@dataclass(frozen=True, slots=True)
class DistanceLimit:
    """The distance limit of one line on one component.

    reference_km: the plain interval, or the longest of the duties' own if there is no plain one.
    lives_km: km under that duty alone until due, inf if the duty adds no wear. other_km: the same for every other duty.
    severe: duties that put a strict line on their own interval; none on a line that blends. The same class serves hours
    (every duty alike), then read hours for km.
    """

    reference_km: float
    lives_km: Mapping[str, float]
    other_km: float
    severe: frozenset[str] = frozenset()

    def life_km(self, duty: str) -> float:
        """Km under this duty alone until due."""
        return self.lives_km.get(duty, self.other_km)

    def wear_per_km(self, duties: Iterable[str], *, severe_in_force: frozenset[str] = frozenset()) -> dict[str, float]:
        """Wear a km under each of these duties adds.

        severe_in_force: severe duties met since the line was done; on a strict line every km then counts by the
        shortest of their intervals, except under duties that add no wear.
        """
        strict = self._strict_life(severe_in_force)
        return {
            duty: 1.0 / min(life, strict) if (life := self.life_km(duty)) < float("inf") else 0.0 for duty in duties
        }

    def severe_in(self, spans: Iterable[UsedSpan]) -> frozenset[str]:
        """The duties of `severe` that were met in these spans."""
        return frozenset(
            duty
            for span in spans
            if span.km > 0
            for duty, share in span.split.shares
            if share > 0 and duty in self.severe
        )

    def wear(self, spans: Iterable[UsedSpan], *, severe_in_force: frozenset[str] = frozenset()) -> float:
        """The share of the interval these spans used up, nought for none.

        blend: sum of x_d/L_d. strict: one severe use puts the whole distance on the severe interval; severe_in_force
        adds severe duties that are reckoned with though not met yet.
        """
        used = tuple(spans)
        strict = self._strict_life(self.severe_in(used) | severe_in_force)
        amounts = [span.km * share for span in used for _, share in span.split.shares]
        lives = [
            min(life, strict) if (life := self.life_km(duty)) < float("inf") else life
            for span in used
            for duty, _ in span.split.shares
        ]
        return linear_damage(amounts, lives)

    def _strict_life(self, severe: frozenset[str]) -> float:
        return min((self.life_km(duty) for duty in severe & self.severe), default=float("inf"))


def plain_limit(amount: float) -> DistanceLimit:
    """So many km, or hours, whatever the duty."""
    return DistanceLimit(amount, {}, amount)


def distance_limit(
    limits: Limits, mixing: Mixing, duties: Mapping[str, DutyCycle], *, fluid_grade: str = ""
) -> DistanceLimit | None:
    """The distance part of `limits` on a component with that fluid; None if distance does not limit the line.

    A duty whose figure is waived by the fluid grade counts by the plain interval.
    """
    plain = limits.distance.in_km if limits.distance else float("inf")
    lives: dict[str, float] = {}
    for figure in limits.by_duty:
        if waives(figure, fluid_grade):
            lives[figure.duty] = plain
        else:
            lives[figure.duty] = figure.distance.in_km if figure.distance else float("inf")
    finite = [life for life in lives.values() if life < float("inf")]
    if plain == float("inf") and not finite:
        return None
    severe = {duty for duty, life in lives.items() if life < plain and duty in duties and duties[duty].severe}
    strict = frozenset(severe) if mixing is Mixing.STRICT else frozenset()
    return DistanceLimit(plain if plain < float("inf") else max(finite), lives, plain, strict)


def waives(figure: DutyFigure, fluid_grade: str) -> bool:
    """Whether a fluid makes a duty count by the plain interval: by all that is said of it, or by its SAE grade alone.

    A waiver for `75W-140` holds for `75W-140 GL-5`; one for `75W-140 GL-5` does not hold for `75W-140`.
    """
    own = " ".join(fluid_grade.casefold().split())
    sae = _SAE_GRADE.match(own)
    known = {own, sae[0] if sae else own}
    return bool(own) and any(" ".join(other.casefold().split()) in known for other in figure.waived_by)
