"""Every pair of inks that carries text or meaning has the contrast it needs, by day and by night."""

from __future__ import annotations

import base64
import gzip
import re

import pytest

from fleetcare.page.render import static_folder
from fleetcare.page.style import LINK_FONT, LINK_PARTS, PARTS, link_style_sheet, style_sheet

AAA_TEXT = 7.0
MEANINGFUL_LINE = 3.0
TEXT_PAIRS = [
    ("ink", "paper"), ("ink", "sheet"), ("pencil", "paper"), ("pencil", "sheet"), ("plan", "paper"), ("plan", "sheet"),
    ("mind", "paper"), ("mind", "sheet"), ("brass-ink", "brass"), ("on-plan", "plan"), ("paper", "ink"),
]  # fmt: skip
LINE_PAIRS = [("rule", "paper"), ("rule", "sheet"), ("brass-edge", "paper"), ("brass-edge", "brass"), ("plan", "paper")]


def inks() -> dict[str, dict[str, str]]:
    """The tokens as the style sheet sets them."""
    sheet = style_sheet()
    day, night = re.findall(r":root(?::where\(:not\([^)]*\)\))?\{[^}]*?(--paper:#[^}]+)\}", sheet)[:2]
    return {
        mode: dict(re.findall(r"--([a-z-]+):(#[0-9A-Fa-f]{6})\b", block))
        for mode, block in (("day", day), ("night", night))
    }


def luminance(colour: str) -> float:
    """Relative luminance. Source: W3C, Web Content Accessibility Guidelines 2.2, definition of relative luminance."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio. Source: as above, definition of contrast ratio: (L1 + 0.05) / (L2 + 0.05)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_published_extremes() -> None:
    # WCAG 2.2: ratios range from 1 to 21.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


@pytest.mark.parametrize("mode", ["day", "night"])
@pytest.mark.parametrize(("ink", "ground"), TEXT_PAIRS)
def test_text_has_at_least_seven_to_one(mode: str, ink: str, ground: str) -> None:
    tokens = inks()[mode]
    assert contrast(tokens[ink], tokens[ground]) >= AAA_TEXT


@pytest.mark.parametrize("mode", ["day", "night"])
@pytest.mark.parametrize(("ink", "ground"), LINE_PAIRS)
def test_lines_that_carry_meaning_have_at_least_three_to_one(mode: str, ink: str, ground: str) -> None:
    tokens = inks()[mode]
    assert contrast(tokens[ink], tokens[ground]) >= MEANINGFUL_LINE


def test_night_by_choice_is_the_night_of_the_device() -> None:
    asked, chosen = re.findall(r"\{[^{}]*?(--paper:#1[^}]+)\}", style_sheet())
    assert asked.strip() == chosen.strip()


def test_both_sets_name_the_same_inks() -> None:
    tokens = inks()
    assert tokens["day"].keys() == tokens["night"].keys()
    assert len(tokens["day"]) == 12


def test_style_sheet_is_small_and_asks_nothing_of_another_host() -> None:
    raw = style_sheet().encode()
    # Kept for ever once fetched, and sent compressed: what counts on a thin line is the second figure.
    assert len(raw) < 40_000
    assert len(gzip.compress(raw, 6)) < 10_000
    fetched = re.findall(rb"url\(([^)]+)\)", raw)
    assert fetched
    for address in fetched:
        assert (static_folder() / address.decode()).is_file()


def test_the_sheet_of_link_pages_holds_the_font_they_need_and_is_the_other_one_in_small() -> None:
    raw = link_style_sheet()
    assert f"url({LINK_FONT})" in style_sheet()
    assert f"url({LINK_FONT})" not in raw
    (font,) = re.findall(r"url\(data:font/woff2;base64,([^)]+)\)", raw)
    assert base64.b64decode(font) == (static_folder() / LINK_FONT).read_bytes()
    assert len(gzip.compress(raw.encode(), 6)) < 45_000
    for part in LINK_PARTS[1:]:
        assert (PARTS / f"{part}.css").read_text("utf-8") in raw


def test_fonts_come_with_their_licence() -> None:
    folder = static_folder() / "fonts"
    assert {path.suffix for path in folder.iterdir()} == {".woff2", ".txt"}
    for licence in folder.glob("OFL-*.txt"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in licence.read_text("utf-8")
    assert len(list(folder.glob("OFL-*.txt"))) == 2


def test_every_part_of_the_style_sheet_is_in_it_in_the_order_of_names() -> None:
    sheet = style_sheet()
    places = [sheet.index(part.read_text("utf-8")) for part in sorted(PARTS.glob("*.css"))]
    assert places == sorted(places)
    assert len(places) > 10
    assert sheet.rindex("@media print") > sheet.index((PARTS / "90-paper.css").read_text("utf-8"))
