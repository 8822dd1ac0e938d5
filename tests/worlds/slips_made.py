"""Slips put into readings on purpose, each with what the dial really showed: for measuring who notices them.

A slip of the hand or eye changes one reading; what comes after it is right again. A dial that is changed, rolls over or
was turned back goes on from where it then stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from fleetcare.quantities import KM_PER_MILE
from tests.worlds.world import Ints

TANK_KM = 500.0
"""A trip meter shows what was driven since it was last set back; here mostly at the pump, so some hundred km."""
ROLLS_AT = 100_000
TURNED_BACK = (0.01, 0.30)


class SlipMade(StrEnum):
    """What was done to a reading. The last three stay with the dial for good."""

    DIGIT_MISSING = "digit missing"
    DIGIT_EXTRA = "digit extra"
    TRANSPOSED = "transposed"
    WRONG_DIGIT = "wrong digit"
    TRIP_METER = "trip meter"
    OTHER_UNIT = "miles for km"
    TURNED_BACK = "turned back"
    ROLLED_OVER = "rolled over"
    REPLACED = "replaced"


LASTING = frozenset({SlipMade.TURNED_BACK, SlipMade.ROLLED_OVER, SlipMade.REPLACED})


@dataclass(frozen=True, slots=True)
class Slipped:
    """A row of readings with one slip at `place`.

    ordinals, values: (k,) as written down. true: (k,) km really driven by the same count, never falling; the slip is
    where they part. replaced_on: ordinal on which a changed dial began at nought, else None.
    """

    kind: SlipMade
    place: int
    ordinals: Ints
    values: Ints
    true: Ints
    replaced_on: int | None = None

    @property
    def right(self) -> int:
        """What the reading should have said by the old dial."""
        return int(self.true[self.place])

    @property
    def increments(self) -> float:
        """Size of the slip, in increments that the dial really made up to here; at least one km is taken for one."""
        made = max(1, int(self.true[self.place] - self.true[self.place - 1]))
        return abs(int(self.values[self.place]) - self.right) / made


def slipped(kind: SlipMade, ordinals: Ints, dial: Ints, place: int, rng: np.random.Generator) -> Slipped | None:
    """The readings with this slip put in at `place` (1 or later); None if it cannot happen there or changes nothing.

    ordinals, dial: (k,) days and right values, rising. A dial that rolls over has five digits; its readings are moved
    up so that it passes 100,000 just before `place`, wherever it stood.
    """
    if kind is SlipMade.ROLLED_OVER:
        return _rolled_over(ordinals, dial, place, rng)
    if kind is SlipMade.REPLACED:
        return _replaced(ordinals, dial, place, rng)
    if kind is SlipMade.TURNED_BACK:
        share = rng.uniform(*TURNED_BACK)
        values = dial.copy()
        values[place:] -= round(share * int(dial[place]))
        return Slipped(kind, place, ordinals, values, dial) if values[place] < dial[place] else None
    typed = typed_wrong(kind, int(dial[place]), rng)
    if typed is None or typed == int(dial[place]):
        return None
    values = dial.copy()
    values[place] = typed
    return Slipped(kind, place, ordinals, values, dial)


def typed_wrong(kind: SlipMade, value: int, rng: np.random.Generator) -> int | None:
    """One value as somebody may have typed it; None for a slip that is none of the hand or that cannot be made."""
    digits = str(value)
    at = int(rng.integers(0, len(digits)))
    if kind is SlipMade.DIGIT_MISSING:
        left = digits[:at] + digits[at + 1 :]
        return int(left) if left else None
    if kind is SlipMade.DIGIT_EXTRA:
        at = int(rng.integers(0, len(digits) + 1))
        return int(digits[:at] + str(int(rng.integers(1 if at == 0 else 0, 10))) + digits[at:])
    if kind is SlipMade.TRANSPOSED:
        places = [k for k in range(len(digits) - 1) if digits[k] != digits[k + 1]]
        if not places:
            return None
        at = int(rng.choice(places))
        return int(digits[:at] + digits[at + 1] + digits[at] + digits[at + 2 :])
    if kind is SlipMade.WRONG_DIGIT:
        other = (int(digits[at]) + int(rng.integers(1, 10))) % 10
        return int(digits[:at] + str(other) + digits[at + 1 :])
    if kind is SlipMade.TRIP_METER:
        return int(rng.uniform(0.0, TANK_KM)) + 1
    if kind is SlipMade.OTHER_UNIT:
        return int(value / KM_PER_MILE)
    return None


def _rolled_over(ordinals: Ints, dial: Ints, place: int, rng: np.random.Generator) -> Slipped | None:
    """Moves the row so that the dial passes 100,000 in the increment before `place`."""
    made = int(dial[place] - dial[place - 1])
    if made < 1:
        return None
    past = int(rng.integers(0, made))
    true = dial + (ROLLS_AT + past - int(dial[place]))
    if int(true[0]) < 0 or int(true[-1]) >= 2 * ROLLS_AT:
        return None
    return Slipped(SlipMade.ROLLED_OVER, place, ordinals, true % ROLLS_AT, true)


def _replaced(ordinals: Ints, dial: Ints, place: int, rng: np.random.Generator) -> Slipped:
    """A new dial from nought on some day of the increment before `place`, by then at an even pace."""
    days = int(ordinals[place] - ordinals[place - 1])
    day = int(rng.integers(1, days)) if days > 1 else 0
    then = int(dial[place - 1]) + int(dial[place] - dial[place - 1]) * day // max(days, 1)
    values = dial.copy()
    values[place:] -= then
    return Slipped(SlipMade.REPLACED, place, ordinals, values, dial, int(ordinals[place - 1]) + day)


def slips_in(
    kind: SlipMade, rows: tuple[Ints, Ints], history: int, count: int, *, seed: int, later: int = 1
) -> list[Slipped]:
    """`count` readings with one slip of this kind, each after `history` right increments, with `later` readings after.

    rows: ordinals and dials of many cars, (cars, readings) each, at least history + 1 + later readings; cars and
    stretches are drawn at random. Raises ValueError if the slip can hardly ever be made from these rows.
    """
    rng = np.random.default_rng([seed, sorted(SlipMade).index(kind)])
    ordinals, dials = rows
    length = history + 2 + later
    if ordinals.shape[1] < length:
        raise ValueError(f"rows have {ordinals.shape[1]} readings, {length} are needed")
    found: list[Slipped] = []
    for _ in range(50 * count):
        if len(found) == count:
            return found
        car = int(rng.integers(0, len(ordinals)))
        start = int(rng.integers(0, ordinals.shape[1] - length + 1))
        part = slice(start, start + length)
        made = slipped(kind, ordinals[car, part].copy(), dials[car, part].copy(), history + 1, rng)
        if made is not None:
            found.append(made)
    raise ValueError(f"{kind} could be made only {len(found)} times")
