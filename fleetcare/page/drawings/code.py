"""A square code that a phone's camera reads, drawn as one path."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import segno

QUIET = 4
"""Modules left empty around the code. Source: ISO/IEC 18004, 9.1: the quiet zone is 4X wide on all sides."""


@dataclass(frozen=True, slots=True)
class SquareCode:
    """A drawing of `size` by `size` modules, quiet zone included. path: the dark ones."""

    size: int
    path: str


def square_code(text: str) -> SquareCode:
    """The code of an address, with the second of four levels of error correction, for screens that mirror a lamp."""
    rows = [[bool(module) for module in row] for row in segno.make(text, error="m", micro=False).matrix]
    path = "".join(
        f"M{left + QUIET} {place + QUIET}h{width}v1h-{width}z"
        for place, row in enumerate(rows)
        for left, width in _dark(row)
    )
    return SquareCode(len(rows) + 2 * QUIET, path)


def _dark(row: list[bool]) -> list[tuple[int, int]]:
    """Where runs of dark modules begin in a row, and how wide they are."""
    found, left = [], 0
    for is_dark, run in groupby(row):
        width = len(list(run))
        if is_dark:
            found.append((left, width))
        left += width
    return found
