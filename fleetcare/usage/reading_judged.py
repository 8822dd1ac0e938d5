"""A reading as it goes into the walk, and what is thought of it when it comes out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from fleetcare.meter.slips import Explanation, Repair
from fleetcare.usage.single_pace import Pace

Expected = tuple[float, float, float]
"""(low 2.5 %, likely, high 97.5 %) gain since the last point, in the meter's unit."""
NOTHING_EXPECTED = (0.0, math.inf, math.inf)


class Verdict(StrEnum):
    """What becomes of a reading."""

    ACCEPTED = "accepted"
    ASKED = "asked"
    """Used, but shown."""
    HELD = "held"
    """Not used."""


@dataclass(frozen=True, slots=True)
class DialReading:
    """One reading: its day, what the dial shows in the meter's unit, whether a person vouches for it.

    per_typed: meter units in one unit of the figure as it was typed, if that was in another unit: slips are looked for
    in the digits that were typed.
    """

    ordinal: int
    value: float
    vouched: bool = False
    per_typed: float = 1.0


class Judged(NamedTuple):
    """What is thought of one reading.

    place: its position in the input. chance_right: that the dial showed it; for one that plainly fits the least that
    can be said, 0.975. explanation: the likeliest. guess: what may have been meant, in the meter's unit, if there is
    one good guess; repair: the same in the unit typed, where it is a slip of the hand. last: place of the reading it is
    counted from, None for a first one. gain: what it makes since then as it stands, less than nothing if it is lower.
    expected: (low 2.5 %, likely, high 97.5 %) gain; (0, inf, inf) if nothing is known. Both in the meter's unit.
    """

    place: int
    verdict: Verdict
    chance_right: float
    explanation: Explanation
    guess: float | None
    expected: Expected
    last: int | None = None
    gain: float = 0.0
    repair: Repair | None = None


@dataclass(frozen=True, slots=True)
class Walk:
    """The readings judged, in the order given, and the meter after them.

    pace: after the last used reading. used: places of those used, one a day, by day. true: the true distance at each,
    in the meter's unit, never falling. offsets: true less dial at each; another one begins a new meter or turn.
    """

    judged: tuple[Judged, ...]
    pace: Pace
    used: tuple[int, ...]
    true: tuple[float, ...]
    offsets: tuple[float, ...]

    @property
    def offset(self) -> float:
        """True less dial at the end."""
        return self.offsets[-1] if self.offsets else 0.0
