"""A mix bar: how a distance divides over duties, one pattern for each, severe use at the bottom."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.page.drawings.lettering import Lettering, width_of
from fleetcare.page.drawings.numbers import coordinate as c

HEIGHT = 44.0
SIZE = 13.0


@dataclass(frozen=True, slots=True)
class MixPart:
    """A duty's share, 0 to 1, and the name of its pattern."""

    duty: str
    share: float
    pattern: str


@dataclass(frozen=True, slots=True)
class MixCell:
    """A part of the bar, filled with a pattern."""

    x: str
    y: str
    width: str
    height: str
    pattern: str


@dataclass(frozen=True, slots=True)
class MixBar:
    """The bar. words: its parts, below it; empty where they would be wider than the bar."""

    cells: tuple[MixCell, ...]
    words: str
    words_x: str
    words_y: str


def mix_bar(parts: Sequence[MixPart], words: str, *, left: float, right: float, top: float) -> MixBar:
    """The bar of these parts, the first at the bottom. Their shares add up to 1."""
    cells = []
    bottom = top + HEIGHT
    for part in parts:
        height = HEIGHT * part.share
        if height >= 0.05:
            cells.append(MixCell(c(left), c(bottom - height), c(right - left), c(height), part.pattern))
        bottom -= height
    fits = width_of(words, SIZE, Lettering.STRIP) <= right - left + 2
    return MixBar(tuple(cells), words if fits else "", c((left + right) / 2), c(top + HEIGHT + 15))
