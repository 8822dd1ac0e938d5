"""What garages have written into their files, by which a page is known to show a text that is not ours."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def strings_in(file: Path) -> Iterator[str]:
    """Every key and text of a TOML file."""
    yield from _strings(tomllib.loads(file.read_text(encoding="utf-8")))


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            yield key
            yield from _strings(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _strings(inner)
    elif isinstance(value, str):
        yield value
