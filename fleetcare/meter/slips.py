"""Slips of the hand and of the eye: for a value as typed, every value it may have come from."""

from __future__ import annotations

import math
from collections.abc import Iterator
from enum import StrEnum
from typing import NamedTuple

from fleetcare.quantities import KM_PER_MILE

STRUCK_TWICE, TENTHS_ALONG, ANY_DIGIT = 0.4, 0.2, 0.4
"""How a digit too many comes about: struck twice, the tenths typed along, any digit anywhere. Judgement, no source."""
LONGEST = 15
"""Whole digits up to which a value is looked at; floats tell no more apart."""


class Slip(StrEnum):
    """What went wrong between the dial and the figure."""

    EXCHANGED = "two neighbours exchanged"
    DOUBLED = "a digit typed twice"
    MISSING = "a digit missing"
    TENTHS = "tenths typed along"
    TOO_MANY = "a digit too many"
    WRONG_DIGIT = "one digit wrong"
    OTHER_UNIT = "the other unit"


class Explanation(StrEnum):
    """What stands behind a reading."""

    RIGHT = "right"
    WRONG_DIGIT = "one digit wrong"
    EXCHANGED = "two neighbours exchanged"
    DIGIT_MISSING = "a digit missing"
    DIGIT_EXTRA = "a digit too many"
    TRIP_METER = "the trip meter"
    OTHER_UNIT = "the other unit"
    UNEXPLAINED = "unexplained"
    ROLLED_OVER = "the dial began anew at nought"
    METER_CHANGED = "another meter"


EXPLAINED: dict[Slip, Explanation] = {
    Slip.EXCHANGED: Explanation.EXCHANGED,
    Slip.DOUBLED: Explanation.DIGIT_EXTRA,
    Slip.TENTHS: Explanation.DIGIT_EXTRA,
    Slip.TOO_MANY: Explanation.DIGIT_EXTRA,
    Slip.MISSING: Explanation.DIGIT_MISSING,
    Slip.WRONG_DIGIT: Explanation.WRONG_DIGIT,
    Slip.OTHER_UNIT: Explanation.OTHER_UNIT,
}
"""What each slip is counted as."""


class Repair(NamedTuple):
    """One value that may have been meant.

    value: in the unit that was typed. positions: places in the digits as typed, counted from 0 at the left, that look
    exchanged, wrong, doubled or too many; for a missing digit its place in the digits of `value`.
    chance: that just this happens to `value`, given a slip of its kind (digit missing, digit too many ...) happens.
    stretch: units of `value` in one unit as typed; not 1 for the other unit only.
    """

    slip: Slip
    value: float
    positions: tuple[int, ...]
    chance: float
    stretch: float = 1.0


def repairs(typed: float, *, low: float, high: float, is_distance: bool = True) -> Iterator[Repair]:
    """Every value between low and high that one slip may have turned into `typed`; a value may come more than once.

    typed: not negative; tenths behind the point stay as they are. is_distance: it may have been read in the other unit.
    """
    whole = math.floor(typed)
    if not 0 <= whole < 10**LONGEST or low > high:
        return
    fraction = round(typed - whole, 3)
    digits = str(whole)
    # Below, only the whole part is looked at.
    first, last = math.ceil(low - fraction), math.floor(high - fraction)
    for repair in (
        *_exchanged(digits, whole),
        *_too_many(digits, whole, has_tenths=fraction > 0.0),
        *_missing(digits, whole, first, last),
        *_wrong_digit(digits, whole, first, last),
    ):
        if first <= repair.value <= last:
            yield repair._replace(value=repair.value + fraction) if fraction else repair
    if is_distance:
        for factor in (KM_PER_MILE, 1.0 / KM_PER_MILE):
            other = round(typed * factor)
            if low <= other <= high:
                yield Repair(Slip.OTHER_UNIT, float(other), (), 0.5, factor)


def _exchanged(digits: str, whole: int) -> Iterator[Repair]:
    count = len(digits)
    for i in range(count - 1):
        left, right = digits[i], digits[i + 1]
        if left != right and not (i == 0 and right == "0"):
            step = 10 ** (count - 2 - i)
            value = whole + 9 * (int(right) - int(left)) * step
            yield Repair(Slip.EXCHANGED, value, (i, i + 1), 1.0 / (count - 1))


def _too_many(digits: str, whole: int, *, has_tenths: bool) -> Iterator[Repair]:
    count = len(digits)
    if count < 2:
        return
    anywhere = ANY_DIGIT / (10 * count)
    for i in range(count):
        twice = i > 0 and digits[i] == digits[i - 1]
        again = i + 1 < count and digits[i + 1] == digits[i]
        if again or (i == 0 and digits[1] == "0" and count > 2):
            continue  # told at the second of the two; a dial shows no noughts in front
        step = 10 ** (count - 1 - i)
        value = whole // (10 * step) * step + whole % step
        if twice:
            run = _run_before(digits, i)
            chance = anywhere * run + STRUCK_TWICE * (run - 1) / (count - 1)
            if i == count - 1 and not has_tenths:
                chance += TENTHS_ALONG / 10
            yield Repair(Slip.DOUBLED, value, (i - 1, i), chance)
        elif i == count - 1 and not has_tenths:
            yield Repair(Slip.TENTHS, value, (i,), anywhere + TENTHS_ALONG / 10)
        else:
            yield Repair(Slip.TOO_MANY, value, (i,), anywhere)


def _run_before(digits: str, at: int) -> int:
    """How many equal digits end at this place."""
    return at + 1 - len(digits[: at + 1].rstrip(digits[at]))


def _missing(digits: str, whole: int, low: int, high: int) -> Iterator[Repair]:
    count = len(digits)
    for i in range(count + 1):
        step = 10 ** (count - i)
        base = whole // step * 10 * step + whole % step
        least = max(-((base - low) // step), 1 if i == 0 else 0)
        for digit in range(least, min((high - base) // step, 9) + 1):
            yield Repair(Slip.MISSING, base + digit * step, (i,), 1.0 / (count + 1))


def _wrong_digit(digits: str, whole: int, low: int, high: int) -> Iterator[Repair]:
    count = len(digits)
    for i, shown in enumerate(digits):
        step = 10 ** (count - 1 - i)
        digit = int(shown)
        base = whole - digit * step
        least = max(-((base - low) // step), 1 if i == 0 and count > 1 else 0)
        for other in range(least, min((high - base) // step, 9) + 1):
            if other != digit:
                yield Repair(Slip.WRONG_DIGIT, base + other * step, (i,), 1.0 / (9 * count))
