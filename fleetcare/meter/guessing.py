"""What may have been meant by a reading that does not fit: one good guess at the slip of the hand."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum

from fleetcare.quantities import KM_PER_MILE, MeterUnit


class Slip(StrEnum):
    """Slips of the hand."""

    EXCHANGED = "two neighbours exchanged"
    DOUBLED = "a digit typed twice"
    MISSING = "a digit missing"
    TENTHS = "tenths typed along"
    TOO_MANY = "a digit too many"
    WRONG_DIGIT = "one digit wrong"
    OTHER_UNIT = "the other unit"


@dataclass(frozen=True, slots=True)
class Guess:
    """What may have been meant.

    value: in the unit that was typed. positions: places in the digits as typed, counted from 0 at the left, that look
    exchanged, wrong, doubled or too many; for a missing digit its place in the digits of `value`.
    distance: gained since the reading before, in the meter's true units (km or hours). days: since that reading.
    """

    slip: Slip
    value: Decimal
    positions: tuple[int, ...]
    distance: float
    days: int


def best_guess(
    typed: Decimal, unit: MeterUnit, *, gain_of: Callable[[Decimal], float], low: float, high: float, days: int
) -> Guess | None:
    """The first slip, in the order of `Slip`, that repairs the value into the expected range; None if none does.

    gain_of: true distance gained by a value in `unit`. low, high: expected gain, the range ends included. If one slip
    can be repaired in several ways, the one nearest to the middle of the range (its geometric mean) is taken.
    Tenths stand before "too many": what is left after the last digit is one value, not one of many.
    """
    middle = math.sqrt(max(low, 1.0) * max(high, 1.0)) if math.isfinite(high) else max(low, 1.0)
    for slip in Slip:
        fitting = [
            (abs(gain - middle), value, positions)
            for value, positions in _repairs(slip, typed, unit)
            if value != typed and low <= (gain := gain_of(value)) <= high
        ]
        if fitting:
            _, value, positions = min(fitting, key=lambda entry: (entry[0], entry[1]))
            return Guess(slip, value, positions, gain_of(value), days)
    return None


def _repairs(slip: Slip, typed: Decimal, unit: MeterUnit) -> Iterator[tuple[Decimal, tuple[int, ...]]]:
    """Every value this slip may have come from, with the places it touches."""
    text, _, fraction = f"{typed:f}".partition(".")

    def value(digits: str) -> Decimal:
        return Decimal(f"{digits}.{fraction}" if fraction else digits)

    if slip is Slip.OTHER_UNIT:
        if unit is not MeterUnit.HOURS:
            factor = Decimal(repr(KM_PER_MILE))
            other = typed * factor if unit is MeterUnit.KM else typed / factor
            yield other.quantize(Decimal(1), rounding=ROUND_HALF_UP), ()
    elif slip is Slip.TENTHS:
        if len(text) > 1 and not fraction:
            yield Decimal(text[:-1]), (len(text) - 1,)
    elif slip is Slip.EXCHANGED:
        for i in range(len(text) - 1):
            if text[i] != text[i + 1]:
                yield value(text[:i] + text[i + 1] + text[i] + text[i + 2 :]), (i, i + 1)
    elif slip in (Slip.DOUBLED, Slip.TOO_MANY):
        for i in range(1 if slip is Slip.DOUBLED else 0, len(text)):
            twice = i > 0 and text[i] == text[i - 1]
            if len(text) > 1 and twice is (slip is Slip.DOUBLED):
                yield value(text[:i] + text[i + 1 :]), ((i - 1, i) if twice else (i,))
    elif slip is Slip.MISSING:
        for i in range(len(text) + 1):
            for digit in "0123456789":
                yield value(text[:i] + digit + text[i:]), (i,)
    else:
        for i in range(len(text)):
            for digit in "0123456789":
                if digit != text[i]:
                    yield value(text[:i] + digit + text[i + 1 :]), (i,)
