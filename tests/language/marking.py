"""A language made up for the tests: English with every text between marks and longer than it was.

What a page, letter or calendar shows outside of the marks came from no catalogue: it is a name, something a garage
wrote, a number or a unit, or a text that was forgotten.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser

from fleetcare.language import ENGLISH, Tongue
from fleetcare.language.tongue import Names

OPEN, SHUT = "⟦", "⟧"
INLINE = frozenset(("a", "b", "em", "i", "small", "span", "strong", "wbr"))
TOLD_ATTRIBUTES = ("aria-label", "title", "alt", "placeholder", "data-told")
UNITS = re.compile(r"\b(?:km|mi|min|h|L|mL|mm|N·m|lb·ft|lbf·ft|in|kg|MB|s|VIN|PDF|CSV|UTC)\b")
WORD = re.compile(r"[^\W\d_]{2,}")


def marked(text: str) -> str:
    """The text between marks; text of blanks and signs stays as it is."""
    return f"{OPEN}{text}{SHUT}" if WORD.search(text) else text


def stretched(text: str) -> str:
    """The text between marks and about two fifths longer, as texts become when they are translated."""
    grown = "".join(f" {'o' * 5}" for _ in range(max(1, len(text) // 14)))
    end = len(text.rstrip())
    return f"{OPEN}{text[:end]}{grown}{SHUT}{text[end:]}" if WORD.search(text) else text


def marking(*, long: bool = False) -> Tongue:
    """The language itself. long: every text is longer, too. Names of days and months stand between marks as well."""
    names = ENGLISH.names
    each = ("weekdays", "weekdays_short", "months", "months_short")
    return replace(
        ENGLISH,
        code="en",
        told=stretched if long else marked,
        names=Names(*(tuple(map(marked, getattr(names, name))) for name in each)),
    )


class _Shown(HTMLParser):
    """Text of a page as its reader meets it, a line for each piece, and what its attributes say."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.text = ""
        self.said: list[str] = []
        self._hidden = 0
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._hidden += tag in ("script", "style")
        self.said += [given[name] for name in TOLD_ATTRIBUTES if given.get(name)]
        self.text += "" if tag in INLINE else "\n"

    def handle_endtag(self, tag: str) -> None:
        self._hidden -= tag in ("script", "style")
        self.text += "" if tag in INLINE else "\n"

    def handle_data(self, data: str) -> None:
        if not self._hidden:
            self.text += data


def unmarked(text: str) -> Iterator[str]:
    """The pieces of a plain text that stand outside of every mark and hold a word; blanks in them are single."""
    depth, piece = 0, ""
    for sign in f"{text}\n":
        if sign in OPEN + SHUT + "\n" and depth == 0:
            said = " ".join(piece.split())
            if WORD.search(UNITS.sub("", said)):
                yield said
            piece = ""
        depth += (sign == OPEN) - (sign == SHUT)
        piece += sign if depth == 0 and sign != SHUT else ""


def unmarked_in_letter(plain: str) -> Iterator[str]:
    """The same of a letter in plain text, whose lines are broken anywhere."""
    yield from unmarked(re.sub(r"(?<!\n)\n(?!\n)", " ", plain))


def unmarked_on(page: str) -> Iterator[str]:
    """The same of a page: what it shows, and what its attributes say."""
    shown = _Shown(page)
    yield from unmarked(shown.text)
    for said in shown.said:
        yield from unmarked(said)
