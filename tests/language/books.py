"""Every text of the shipped books that people read, for the catalogue; what a garage writes is not among them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.house.tree import ROOT

_READ = {
    "duty_cycles.toml": {"title"},
    "findings.toml": {"title", "places", "words", "means", "todo", "note", "source"},
    "jobs": {"title", "text", "what", "tools", "set_ups", "skills", "look_at", "note", "say", "source", "closures"},
    "workshop.toml": {"means", "name"},
    "interval_book.toml": {"title", "short", "action", "note", "source", "components", "event"},
}
"""Fields of each file, or of all in a folder, that are shown in words; the others are keys and figures."""
_OWN_WORDS = ("usual", "ours", "for that axle", "else replace", "one turn each way")
"""By which a source that begins with a citation is known to go on in words of our own."""
_SOURCES_IN_WORDS = {"findings.toml"}
"""Where sources say more than what is cited."""


def book_texts() -> dict[str, str]:
    """Each text once, with the file it is from. A source that only cites stays as its publisher printed it."""
    found: dict[str, str] = {}
    for file in sorted((ROOT / "config").rglob("*.toml")):
        place = file.relative_to(ROOT).as_posix()
        for text in _texts(tomllib.loads(file.read_text(encoding="utf-8")), "", file):
            found.setdefault(text, place)
        if file.name == "findings.toml":
            # The look that follows from a finding is called by its key.
            for key in tomllib.loads(file.read_text(encoding="utf-8"))["findings"]:
                found.setdefault(key, place)
    return found


def _only_cites(source: str) -> bool:
    return source[0].isupper() and not any(words in source for words in _OWN_WORDS)


def _texts(part: Any, field: str, file: Path) -> Iterator[str]:
    if isinstance(part, dict):
        for key, value in part.items():
            yield from _texts(value, key, file)
    elif isinstance(part, list):
        for each in part:
            yield from _texts(each, field, file)
    elif isinstance(part, str) and part and field in _READ.get("jobs" if file.parent.name == "jobs" else file.name, ()):
        if field == "source" and file.name not in _SOURCES_IN_WORDS and _only_cites(part):
            return
        yield part
