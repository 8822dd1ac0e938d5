"""A drawing that stands alone: everything it needs in one SVG file, lettering as outlines, inks as colours.

A page's drawing takes its inks from the style sheet and its letters from the font files beside it. Sent to somebody it
has neither, so inks are written in and each text becomes the outline of its letters, which any program can draw.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from pathlib import Path
from xml.etree import ElementTree as Tree

from fleetcare.page.drawings.lettering import Lettering, width_of
from fleetcare.page.drawings.numbers import coordinate as c
from fleetcare.page.style import PARTS

PLAIN = "plain"
"""A duty without a pattern of its own."""
SVG = "http://www.w3.org/2000/svg"
MARGIN, HEAD = 24.0, 44.0
TITLE_SIZE = 22.0
HALO = 4.0
KEY_ROW, KEY_BOX, KEY_GAP = 34.0, 32.0, 22.0

_CUTS: Mapping[str, tuple[Lettering, float]] = {
    "w-mon": (Lettering.NAME, 15), "w-lane": (Lettering.NAME, 17), "w-year": (Lettering.NAME, 14),
    "w-read": (Lettering.NAME, 15), "w-wkno": (Lettering.STRIP, 12.5), "w-spoken": (Lettering.STRIP, 12.5),
    "w-number": (Lettering.STRONG, 12.5), "w-wants": (Lettering.STRONG, 13), "w-bay": (Lettering.STRONG, 13),
    "w-past": (Lettering.STRONG, 13), "w-todayt": (Lettering.STRONG, 13),
}  # fmt: skip
_PLAIN, _MARK = (Lettering.STRIP, 13.0), (Lettering.STRONG, 12.5)
_STYLED = ("30-drawings", "40-road", "46-heading", "50-bay-days", "75-job-sheet")
_DRAWN = re.compile(r"\.(?:lanes|fan|mk|cell|f-ink|f-sheet|f-plan|s-ink|wet|over)\b")
_PAINT = re.compile(r"^(?:fill|stroke(?:-[a-z]+)?|opacity|paint-order)$")
_BOX = "M60 0V-700H540V0ZM110-50H490V-650H110Z"
"""In place of a letter that the font does not have; its text stays in the title."""


def lone(fragment: str, patterns: str, *, title: str, key: Sequence[tuple[str, str]] = (), night: bool = False) -> str:
    """The SVG file of a drawing.

    fragment: the `svg` element as a page has it. patterns: the element with the patterns it uses. title: stands above
    it, and is what is read out. key: what patterns stand for, each with its name, told in a row below. night: in the
    inks of the night.
    """
    drawn, kept = Tree.fromstring(fragment), Tree.fromstring(patterns)  # noqa: S314  (our own templates)
    width, height = (float(part) for part in drawn.attrib["viewBox"].split()[2:])
    inks = _inks(night)
    _as_outlines(drawn, is_mark=False)
    whole, full = width + 2 * MARGIN, height + HEAD + (KEY_ROW if key else 0.0) + MARGIN
    root = Tree.Element(
        "svg",
        {"xmlns": SVG, "viewBox": f"0 0 {c(whole)} {c(full)}", "width": c(whole), "height": c(full), "role": "img"},
    )
    Tree.SubElement(root, "title").text = title
    Tree.SubElement(root, "style").text = _style(inks)
    root.extend(child for child in kept if child.tag == "defs")
    Tree.SubElement(root, "rect", {"width": c(whole), "height": c(full), "fill": inks["--paper"]})
    head = Tree.SubElement(root, "g", {"fill": inks["--ink"]})
    head.append(_letters(title, MARGIN, 30.0, "start", Lettering.NAME, TITLE_SIZE, ""))
    body = Tree.SubElement(
        root, "g", {"class": drawn.get("class", ""), "transform": f"translate({c(MARGIN)} {c(HEAD)})"}
    )
    body.extend(list(drawn))
    at = 0.0
    for pattern, name in key:
        fill = inks["--sheet"] if pattern == PLAIN else f"url(#h-{pattern})"
        box = {"class": "cell", "fill": fill, "x": c(at + 1), "y": c(height + 14), "width": c(KEY_BOX), "height": "16"}
        Tree.SubElement(body, "rect", box)
        body.append(_letters(name, at + KEY_BOX + 9, height + 27, "start", *_PLAIN, ""))
        at += KEY_BOX + 9 + width_of(name, _PLAIN[1], _PLAIN[0]) + KEY_GAP
    return Tree.tostring(root, encoding="unicode") + "\n"


def _as_outlines(element: Tree.Element, *, is_mark: bool) -> None:
    """Each text below the element in the shape of its letters; a link becomes a group, for it leads nowhere here."""
    within = is_mark or element.get("class") == "mk"
    for place, child in enumerate(list(element)):
        if child.tag == "text":
            kind = child.get("class", "")
            cut, size = _MARK if within else _CUTS.get(kind, _PLAIN)
            x, y = float(child.get("x", "0")), float(child.get("y", "0"))
            anchor, said = child.get("text-anchor", "start"), child.text or ""
            element[place] = _letters(said, x, y, anchor, cut, size, kind)
            continue
        if child.tag == "a":
            child.tag, child.attrib = "g", {}
        _as_outlines(child, is_mark=within)


def _letters(text: str, x: float, y: float, anchor: str, cut: Lettering, size: float, kind: str) -> Tree.Element:
    """One path for the text. A group scales it, so that the outlines stay whole numbers."""
    wide = width_of(text, size, cut)
    x -= {"middle": wide / 2, "end": wide}.get(anchor, 0.0)
    shapes, at, found = _outlines()[cut.value], 0.0, []
    for letter in text:
        found.append(_moved(shapes.get(letter, _BOX), round(at)))
        at += width_of(letter, 1000, cut)
    scale = size / 1000
    attributes = {
        "class": f"letters {kind}".strip(),
        "d": "".join(found),
        "transform": f"matrix({scale:g} 0 0 {scale:g} {c(x)} {c(y)})",
        # The halo of 4 is drawn in the letters' own measure.
        "style": f"stroke-width:{c(HALO / scale)}",
    }
    return Tree.Element("path", attributes)


def _moved(path: str, right: int) -> str:
    """The path so far to the right. Outlines have M, L, H, V, Q, C and Z only, all absolute."""
    if not right:
        return path
    found = []
    for command, figures in re.findall(r"([MLHVQCZ])([^MLHVQCZ]*)", path):
        values = [int(value) for value in re.findall(r"-?\d+", figures)]
        step = {"V": 0, "H": 1}.get(command, 2)
        values = [value + right if step and place % step == 0 else value for place, value in enumerate(values)]
        found.append(command + " ".join(str(value) for value in values))
    return "".join(found)


@cache
def _outlines() -> Mapping[str, Mapping[str, str]]:
    """By cut and character; held to the font files by the tests."""
    found: dict[str, dict[str, str]] = json.loads((Path(__file__).parent / "outlines.json").read_text("utf-8"))
    return found


@cache
def _parts() -> str:
    return "".join((PARTS / f"{part}.css").read_text("utf-8") for part in _STYLED)


def _inks(night: bool) -> Mapping[str, str]:
    """The inks by name: the first set of the style sheet is the day's, the second the night's."""
    sets = re.findall(r"--paper:(#[0-9A-Fa-f]{6});([^}]*)", (PARTS / "10-inks.css").read_text("utf-8"))
    paper, rest = sets[1 if night else 0]
    return {"--paper": paper, **dict(re.findall(r"(--[a-z-]+):(#[0-9A-Fa-f]{6})", rest))}


def _style(inks: Mapping[str, str]) -> str:
    """The rules of drawings with colours for inks; only what paints, for the letters are shapes by now."""
    return "".join(f"{selector}{{{paints}}}" for selector, paints in _rules(inks))


def _rules(inks: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    text = re.sub(r"/\*.*?\*/", "", _parts(), flags=re.DOTALL)
    text = re.sub(r"@media[^{]*\{(?:[^{}]*\{[^{}]*\})*[^{}]*\}", "", text)
    for selectors, declarations in re.findall(r"([^{}]+)\{([^{}]*)\}", text):
        drawn = [each.strip() for each in selectors.split(",") if _DRAWN.search(each) and ":" not in each]
        paints = [each for each in declarations.split(";") if _PAINT.match(each.partition(":")[0].strip())]
        if drawn and paints:
            named = ",".join(re.sub(r"\btext\b", ".letters", each) for each in drawn)
            yield named, re.sub(r"var\((--[a-z-]+)\)", lambda found: inks[found[1]], ";".join(paints))
