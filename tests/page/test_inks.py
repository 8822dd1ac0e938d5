"""Every pair of inks that carries text or meaning has the contrast it needs, by day and by night."""

from __future__ import annotations

import base64
import gzip
import re

import pytest

from fleetcare.page.render import static_folder
from fleetcare.page.style import (
    BESIDE,
    LINK_FONT,
    LINK_PARTS,
    LINK_STYLE_SHEET,
    PARTS,
    SHEETS,
    STYLE_SHEET,
    beside_sheet,
    link_style_sheet,
    served,
    style_sheet,
)
from tests.page.karst_ridge import every_page

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


def test_style_sheets_are_small_and_ask_nothing_of_another_host() -> None:
    raw = style_sheet().encode()
    # Kept for ever once fetched, and sent compressed: what counts on a thin line is the second figure.
    assert len(raw) < 25_000
    assert len(gzip.compress(raw, 6)) < 7_000
    for name in BESIDE:
        assert len(beside_sheet(name)) < 8_000, name
    fetched = re.findall(rb"url\(([^)]+)\)", raw)
    assert fetched
    for address in fetched:
        assert (static_folder() / address.decode()).is_file()
    assert not re.search(r"url\(", "".join(map(beside_sheet, BESIDE)))


def test_the_sheet_of_link_pages_holds_the_font_they_need_and_is_the_other_one_in_small() -> None:
    raw = link_style_sheet()
    assert f"url({LINK_FONT})" in style_sheet()
    assert f"url({LINK_FONT})" not in raw
    (font,) = re.findall(r"url\(data:font/woff2;base64,([^)]+)\)", raw)
    assert base64.b64decode(font) == (static_folder() / LINK_FONT).read_bytes()
    assert len(gzip.compress(raw.encode(), 6)) < 45_000
    for part in LINK_PARTS[1:]:
        assert served(part) in raw


CLASS = re.compile(r"\.([a-zA-Z][\w-]*)")


def missing(page: str) -> set[str]:
    """Sheets with a rule for classes that a page uses, not all of which stand in a sheet that it links."""
    names = re.findall(r'<link rel="stylesheet" href="/static/([^?"]+)', page)
    linked = set(CLASS.findall("".join(SHEETS[name]() for name in names)))
    used = {word for found in re.findall(r'class="([^"]+)"', page) for word in found.split()}
    return {
        name
        for name in BESIDE
        for selector in re.findall(r"([^{}]+)\{", beside_sheet(name))
        if (classes := set(CLASS.findall(selector))) and classes <= used and not classes <= linked
    }


def test_every_page_links_the_sheets_it_uses_and_one_that_does_not_is_noticed() -> None:
    pages = every_page()
    assert {name: found for name, page in pages.items() if (found := missing(page))} == {}
    for page, sheet in (("sheet", "job-sheet.css"), ("stickers", "forms.css"), ("vehicle", "fan.css")):
        assert missing(re.sub(rf"<link [^>]*/{sheet}[^>]*>", "", pages[page])) == {sheet}
    assert not any(f"/{LINK_STYLE_SHEET}" in page and f"/{STYLE_SHEET}" in page for page in pages.values())


def test_fonts_come_with_their_licence() -> None:
    folder = static_folder() / "fonts"
    assert {path.suffix for path in folder.iterdir()} == {".woff2", ".txt"}
    for licence in folder.glob("OFL-*.txt"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in licence.read_text("utf-8")
    assert len(list(folder.glob("OFL-*.txt"))) == 2


def test_every_part_is_in_one_sheet_in_the_order_of_names_and_paper_comes_last() -> None:
    parts = sorted(part.stem for part in PARTS.glob("*.css"))
    assert len(parts) > 10
    beside = [part for names in BESIDE.values() for part in names]
    assert len(beside) == len(set(beside))
    for sheet, names in (
        (style_sheet(), [part for part in parts if part not in beside]),
        *((beside_sheet(name), list(held)) for name, held in BESIDE.items()),
    ):
        places = [sheet.index(served(name)) for name in names]
        assert places == sorted(places)
        assert names == sorted(names)
        assert len(sheet) == sum(len(served(name)) for name in names)
    assert style_sheet().endswith(served("90-paper"))


def test_what_is_served_is_the_part_without_comments_and_line_ends() -> None:
    assert "/*" in (PARTS / "10-inks.css").read_text("utf-8")
    sheets = "".join(text() for text in SHEETS.values())
    assert "/*" not in sheets
    assert "\n" not in sheets
    # Nothing that a comment or a line end could stand in: a string of more than one line, or with a comment in it.
    for part in PARTS.glob("*.css"):
        for text in re.findall(r'"[^"]*"', re.sub(r"/\*.*?\*/", "", part.read_text("utf-8"), flags=re.DOTALL)):
            assert "\n" not in text
            assert "/*" not in text
