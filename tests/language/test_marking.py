"""Nothing that a page, letter or calendar shows stands outside of the catalogue, but names and what a garage wrote.

Shown in the language of `marking.py`. What is left outside of its marks has to be known: written by the invented
garages of the tests, or in the shipped books. A text that was forgotten is in neither.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from fleetcare.language import speaking, tr
from fleetcare.settings.places import shipped_config
from tests.digest.every_letter import every_letter
from tests.house.tree import PACKAGE
from tests.language.marking import UNITS, WORD, marking, unmarked, unmarked_in_letter, unmarked_on
from tests.language.written import strings_in
from tests.page.karst_ridge import every_page

TESTS = PACKAGE.parent / "tests"
DEMO = PACKAGE.parent / "demo_fleet"
GARAGES = ("page", "digest", "actions/garages.py", "stand_ins.py")
"""Where the invented garages of these pages and letters are written."""

WAITING = frozenset(
    # Of a tag and of a torque, as a garage wrote them.
    ("first pass", "second pass", "not needed", "required", "over") + ("inch square",)
)
"""Known to be English still, each to be taken out when it is not; nothing may be added without its reason."""


def _written() -> Iterator[str]:
    for place in GARAGES:
        path = TESTS / place
        for file in sorted(path.glob("*.py")) if path.is_dir() else [path]:
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    yield node.value
    for file in [*sorted(Path(str(shipped_config())).rglob("*.toml")), *sorted(DEMO.glob("*.toml"))]:
        yield from strings_in(file)


@cache
def known() -> tuple[frozenset[str], tuple[str, ...]]:
    """What garages and books have written: whole pieces, and of those the ones that may stand within others."""
    pieces = {" ".join(text.split()).strip(" .,:;") for text in _written()}
    pieces |= {piece.removesuffix("s") for piece in pieces if " " not in piece}
    pieces |= {change(piece[:1]) + piece[1:] for piece in pieces for change in (str.upper, str.lower)}
    pieces |= {"mikm", "Contact", "/work/"}  # two units side by side; a contact pattern; a link
    within = (piece for piece in pieces if len(piece) > 2 and (piece[:1].isupper() or re.search(r"[ @/-]", piece)))
    return frozenset(pieces), tuple(sorted(within, key=len, reverse=True))


def forgotten(piece: str) -> list[str]:
    """What of a piece outside of the marks nobody is known to have written."""
    whole, within = known()
    for text in within:
        if text in piece:
            piece = piece.replace(text, ";")
    # A number, or a mark, which may follow a number without a blank where the two are cells side by side.
    pieces = re.split(r"[;,:.()–]|\b[0-9]+\b|\b[0-9]*[A-Z]{2}\b", UNITS.sub("", piece))
    parts = (part.strip(" .“”’'") for part in pieces)
    left = (part for part in parts if WORD.search(part) and part not in whole and part not in WAITING)
    return [part for part in left if not all(word in whole for word in part.split())]


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    with speaking(marking()):
        return every_page()


def test_no_page_shows_a_text_that_is_in_no_catalogue(pages: dict[str, str]) -> None:
    left = {name: [part for piece in unmarked_on(page) for part in forgotten(piece)] for name, page in pages.items()}
    assert not {name: sorted(set(parts)) for name, parts in left.items() if parts}


def test_no_letter_holds_a_text_that_is_in_no_catalogue() -> None:
    with speaking(marking()):
        letters = every_letter()
    for name, letter in letters.items():
        pieces = [*unmarked_on(letter.html), *unmarked_in_letter(letter.plain), *unmarked(letter.subject)]
        left = [part for piece in pieces for part in forgotten(piece)]
        assert not left, (name, sorted(set(left)))


def test_a_text_that_was_forgotten_would_be_seen() -> None:
    with speaking(marking()):
        page = (
            f'<p title="Nobody put this in">{tr("Vehicles")} <b>{tr("{n} of them", n="Anvil")}</b> are over there</p>'
        )
    assert list(unmarked_on(page)) == ["are over there", "Nobody put this in"]
    assert forgotten("are over there") == ["are over there"]
    assert forgotten("Anvil, 12 km") == []


def test_what_still_waits_is_still_shown(pages: dict[str, str]) -> None:
    """Who puts one of them into the catalogue takes it out of the list."""
    shown = " ".join(piece for page in pages.values() for piece in unmarked_on(page))
    assert [text for text in sorted(WAITING) if text not in shown] == []
