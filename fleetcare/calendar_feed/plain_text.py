"""Plain text that every calendar program reads alike: what may stand in a title or a text, and how much of it."""

from __future__ import annotations

import re
import unicodedata

TITLE_LENGTH = 100
TEXT_LENGTH = 1500

# Everything some program takes for the end of a line. VT, FF and the separators are in because Python's own splitlines
# (and programs written with it) break there; U+0085, U+2028 and U+2029 because such programs then show half a title.
_BREAKS = re.compile("\r\n|[\n\r\x0b\x0c\x1c\x1d\x1e\x85\u2028\u2029]")

# Control characters (RFC 5545 3.3.11 allows TAB alone, which becomes a space here), lone surrogates, byte-order mark,
# the mark of a failed decoding, annotation marks, and the controls that turn the direction of what follows them: an
# open one would turn the rest of somebody's calendar line around. Direction marks and joiners stay, text needs them.
_UNSEEN = re.compile(
    "[\x00-\x08\x0e-\x1f\x7f-\x9f\ud800-\udfff\u202a-\u202e\u2066-\u2069\ufeff\ufff9-\uffff\ufdd0-\ufdef"
    + "".join(f"{chr(plane * 0x10000 + 0xFFFE)}{chr(plane * 0x10000 + 0xFFFF)}" for plane in range(1, 17))
    + "]"
)
_BLANKS = re.compile("[ \t]+")
_MANY_BREAKS = re.compile("\n{3,}")
_JOINER = "\u200d"
_REGIONAL = range(0x1F1E6, 0x1F200)
_SKIN_TONES = range(0x1F3FB, 0x1F400)
_LONGEST_CHARACTER = 24
"""Code points that may belong to one shown character before the text is taken for a prank."""


def one_line(text: str, limit: int = TITLE_LENGTH) -> str:
    """The text on one line, in NFC, without anything unseen, at most `limit` characters. Twice changes nothing more.

    What is cut ends in an ellipsis, and no character is parted from its accents, joiners or skin tone.
    """
    return _cut(_tidy(_BREAKS.sub(" ", text)), limit)


def many_lines(text: str, limit: int = TEXT_LENGTH) -> str:
    """The text with its line breaks as single line feeds and at most one empty line in a row; else as `one_line`."""
    lines = [_tidy(line) for line in _BREAKS.sub("\n", text).split("\n")]
    return _cut(_MANY_BREAKS.sub("\n\n", "\n".join(lines)).strip(), limit)


def _tidy(line: str) -> str:
    return _BLANKS.sub(" ", unicodedata.normalize("NFC", _UNSEEN.sub("", line))).strip()


def _cut(text: str, limit: int) -> str:
    if len(text) <= limit:
        return text
    places = range(limit - 1, max(0, limit - 1 - _LONGEST_CHARACTER), -1)
    # A heap of accents has no good place; then the last one is as good as any.
    end = next((place for place in places if not _belongs_together(text, place)), limit - 1)
    return f"{text[:end].rstrip()}…"


def _belongs_together(text: str, at: int) -> bool:
    """A cut before `text[at]` would part something that is shown as one."""
    before, after = text[at - 1], text[at]
    if unicodedata.category(after) in {"Mn", "Mc", "Me"} or ord(after) in _SKIN_TONES:
        return True
    return _JOINER in (before, after) or (ord(before) in _REGIONAL and ord(after) in _REGIONAL)
