"""The odometer drum: which digit stands in which cell, and the arrow between two that look exchanged."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.page.drawings.numbers import coordinate

CELL = 50.4
"""Width of a cell: .9 of the letter height of 56."""
_EDGE = 2.0


@dataclass(frozen=True, slots=True)
class DrumDigit:
    """One digit, and whether it looks wrong."""

    digit: str
    odd: bool


@dataclass(frozen=True, slots=True)
class Drum:
    """A drum of `cells` cells with whole digits, right-aligned; `tenths` is what follows them, `.5` or nothing."""

    cells: int
    digits: tuple[DrumDigit, ...]
    tenths: str
    swap_view_box: str = ""
    swap_path: str = ""
    """Arrow under two digits that look exchanged; empty if none do."""


def drum(value: Decimal, *, digits: int, odd: Collection[int] = (), exchanged: tuple[int, int] | None = None) -> Drum:
    """The drum that shows `value` on a dial of so many digits (more cells if the value is longer).

    odd: places, counted from 0 at the left of the whole digits typed, that look wrong. exchanged: two such places that
    an arrow joins.
    """
    figure = abs(value).quantize(Decimal("0.1"))
    whole, _, tenth = f"{figure:f}".partition(".")
    cells = max(digits, len(whole))
    shown = tuple(DrumDigit(digit, index in odd) for index, digit in enumerate(whole))
    tenths = f".{tenth}" if tenth.strip("0") else ""
    if exchanged is None:
        return Drum(cells, shown, tenths)
    blanks = cells - len(whole)
    left, right = sorted(_EDGE + CELL * (blanks + place + 0.5) for place in exchanged)
    return Drum(
        cells,
        shown,
        tenths,
        swap_view_box=f"0 0 {coordinate(2 * _EDGE + CELL * cells)} 24",
        swap_path=_swap_path(left, right),
    )


def _swap_path(left: float, right: float) -> str:
    """A bow from one digit to the other with an arrow head at either end."""
    a, b = coordinate(left), coordinate(right)
    heads = "".join(f"M{coordinate(x - 5.5)} 10 {coordinate(x)} 3.5 {coordinate(x + 5.5)} 10" for x in (left, right))
    return f"M{a} 4C{a} 23 {b} 23 {b} 4{heads}"
