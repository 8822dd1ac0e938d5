"""Figures of sentences that are kept: put into words when somebody reads them, in that reader's language."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fleetcare.quantities import MeterUnit
from fleetcare.wording import (
    count_words,
    counted,
    day_words,
    grouped,
    meter_words,
    place_words,
    sentence,
    unit_name,
    whole,
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of a sentence. kind: how it is put into words (`_WORDS`). values: what it is, as text."""

    kind: str
    values: tuple[str, ...]

    def __call__(self) -> str:
        """The figure in the words of the language in force."""
        return _WORDS[self.kind](*self.values)


def kept_day(day: date, seen_from: date | None = None) -> Figure:
    """A day; with its year, or without it in the year of `seen_from`."""
    return Figure("day", (day.isoformat(), (seen_from or _another_year(day)).isoformat()))


def kept_dial(value: Decimal, unit: MeterUnit) -> Figure:
    """What a dial shows."""
    return Figure("dial", (str(value), unit.value))


def kept_amount(amount: float, unit: str) -> Figure:
    """A distance or time gained, whole, in this unit."""
    return Figure("amount", (repr(float(amount)), unit))


def kept_whole(amount: float) -> Figure:
    """A whole figure without a unit."""
    return Figure("whole", (repr(float(amount)),))


def kept_value(value: Decimal) -> Figure:
    """A value without its unit, its digits in groups."""
    return Figure("value", (str(value),))


def kept_days(days: int) -> Figure:
    """So many days."""
    return Figure("days", (str(days),))


def kept_digits(digits: int) -> Figure:
    """So many digits."""
    return Figure("digits", (str(digits),))


def kept_many(number: int) -> Figure:
    """So many, in a word that begins a sentence."""
    return Figure("many", (str(number),))


def kept_place(index: int) -> Figure:
    """The place of a digit, counted from 0 at the left."""
    return Figure("place", (str(index),))


def kept_unit(unit: MeterUnit) -> Figure:
    """The name of a unit."""
    return Figure("unit", (unit.value,))


def _another_year(day: date) -> date:
    return date(9999 if day.year != 9999 else 1, 1, 1)


_WORDS: Mapping[str, Callable[..., str]] = {
    "day": lambda day, seen_from: day_words(date.fromisoformat(day), date.fromisoformat(seen_from)),
    "dial": lambda value, unit: meter_words(Decimal(value), MeterUnit(unit)),
    "amount": lambda amount, unit: f"{whole(float(amount))} {unit}",
    "whole": lambda amount: whole(float(amount)),
    "value": lambda value: grouped(Decimal(value)),
    "digits": lambda digits: counted(int(digits), "digit"),
    "days": lambda days: counted(int(days), "day"),
    "many": lambda number: sentence(count_words(int(number))),
    "place": lambda index: place_words(int(index)),
    "unit": lambda unit: unit_name(MeterUnit(unit)),
}
