"""The outlines of Archivo's letters at the cuts that drawings use, read from the font files that are served.

Run as a program it writes `fleetcare/page/drawings/outlines.json` anew; the tests hold that file to what it answers.
"""

from __future__ import annotations

import json
from pathlib import Path

from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen

from fleetcare.page.drawings.lettering import Lettering
from tests.page.test_lettering import CUTS, font, tabular

DRAWINGS = Path(__file__).parents[2] / "fleetcare" / "page" / "drawings"
OUTLINES = DRAWINGS / "outlines.json"


def outlines(lettering: Lettering) -> dict[str, str]:
    """By character its outline as a path, in thousandths of an em, y downwards, the base line at nought."""
    named = json.loads((DRAWINGS / "advances.json").read_text("utf-8"))["characters"]
    found: dict[str, str] = {}
    for part in ("latin", "latin-ext"):
        cut = font(part, lettering)
        glyphs, shapes, known = cut.getGlyphSet(), cut.getBestCmap(), 1000 / cut["head"].unitsPerEm
        figures = tabular(cut) if part == "latin" else {}
        for character in named:
            if character in found or ord(character) not in shapes:
                continue
            glyph = shapes[ord(character)]
            pen = SVGPathPen(glyphs, ntos=lambda value: str(round(value)))
            glyphs[figures.get(glyph, glyph)].draw(TransformPen(pen, (known, 0, 0, -known, 0, 0)))
            found[character] = pen.getCommands()
    return found


if __name__ == "__main__":
    text = json.dumps({cut.value: outlines(cut) for cut in CUTS}, ensure_ascii=False, separators=(",", ":"))
    OUTLINES.write_text(f"{text}\n", "utf-8")
