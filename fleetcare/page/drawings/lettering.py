"""How wide lettering is, from the advance widths of the font that is served, so that words in a drawing do not touch.

The widths stand in `advances.json` and are held to the font file by `tests/page/test_lettering.py`. Kerning only draws
letters closer, so a word is never wider than this says. Figures are tabular, as everywhere.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from enum import StrEnum
from functools import cache
from pathlib import Path

ELLIPSIS = "…"


class Lettering(StrEnum):
    """A cut of Archivo: weight and width."""

    STRIP = "strip"
    """560, 86 %."""
    STRONG = "strong"
    """680, 86 %."""
    NAME = "name"
    """680, 96 %."""


@cache
def _advances(lettering: Lettering) -> tuple[Mapping[str, int], int]:
    """Thousandths of an em by character, and the widest of them for characters that are not known."""
    found = json.loads((Path(__file__).parent / "advances.json").read_text("utf-8"))
    widths = found["thousandths of an em"][lettering.value]
    return dict(zip(found["characters"], widths, strict=True)), max(widths)


def width_of(text: str, size: float, lettering: Lettering = Lettering.STRIP) -> float:
    """How wide the text is at that size, in the size's unit."""
    known, widest = _advances(lettering)
    return sum(known.get(character, widest) for character in text) * size / 1000


def fitted(text: str, room: float, size: float, lettering: Lettering = Lettering.STRIP) -> str:
    """The text, or as much of its beginning as fits into the room, with an ellipsis."""
    if width_of(text, size, lettering) <= room:
        return text
    kept = text
    while kept and width_of(kept.rstrip() + ELLIPSIS, size, lettering) > room:
        kept = kept[:-1]
    return kept.rstrip() + ELLIPSIS
