"""The numbers of the forecast from their file."""

from __future__ import annotations

import tomllib
from pathlib import Path

from fleetcare.errors import BadFile, BadSettings, Fault
from fleetcare.settings.reading_files import text_of
from fleetcare.settings.toml_text import TomlText
from fleetcare.usage.priors import Priors


def load_priors(shipped: Path, own: Path | None = None) -> Priors:
    """The numbers of the forecast: those of `shipped`, and over them those of `own` if that file is there.

    own: may hold only the keys it changes. Raises BadFile, with the line of the key, for one that is unknown, given
    twice or cannot be.
    """
    given = _numbers(shipped)
    if own is not None and own.is_file():
        given |= _numbers(own)
    return Priors.from_tables(given)


def numbers_set_in(own: Path) -> frozenset[str]:
    """Names of the numbers that a garage's own file sets; none if it is not there. Raises BadFile."""
    return frozenset(_numbers(own)) if own.is_file() else frozenset()


def _numbers(path: Path) -> dict[str, object]:
    """Key to figure of one file, tables taken away; checked by itself, so that a fault is found in its own file."""
    document = TomlText(text_of(path), path.name)
    tables = tomllib.loads(document.text)  # once more, with plain floats
    try:
        Priors.from_tables(tables)
    except BadSettings as bad:
        raise BadFile([Fault(path.name, _line_of(document, bad.field), bad.what, bad.remedy)]) from None
    numbers: dict[str, object] = {}
    for name, value in tables.items():
        numbers |= value if isinstance(value, dict) else {name: value}
    return numbers


def _line_of(document: TomlText, key: str) -> int:
    """The line of that key in whatever table it stands; of the last one if it stands in several."""
    if not key:
        return 0
    inside = [name for name, value in document.tables.items() if isinstance(value, dict) and key in value]
    return document.line(inside[-1], key) if inside else document.line(key)
