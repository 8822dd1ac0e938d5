"""Every figure in `config/` says where it is from: by keys beside it, or by the comment it stands under."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.book.shipped import CONFIG, tables

FILES = sorted(CONFIG.rglob("*.toml"))
BY_COMMENT = {"calendar_feed.toml", "forecast.toml"}
"""Files of bare numbers: each stands in a block whose comment says it, or behind a comment of its own."""

_FIGURE = re.compile(r"^\s*[\w-]+ = \[?-?[\d.]")
_SAYS = re.compile(r"source|judgement|practice|from memory|survey|statistics|prior|RFC \d", re.IGNORECASE)


def unsourced(value: object, path: tuple[str, ...] = (), *, sourced: bool = False) -> Iterator[str]:
    """Paths of numbers in no table, here or further out, that has `source` (or what it `means`) and `status`."""
    if isinstance(value, dict):
        told = value.get("source") or value.get("means")
        here = sourced or bool(told and (value.get("status") or "severe" in value))
        for key, inner in value.items():
            yield from unsourced(inner, (*path, str(key)), sourced=here)
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from unsourced(inner, (*path, str(place)), sourced=sourced)
    elif not sourced and not isinstance(value, (bool, str)):
        yield ".".join(path)


def uncommented(text: str) -> list[str]:
    """Lines with a figure that neither their own comment nor that of their block accounts for."""
    found: list[str] = []
    block: list[str] = []
    says = False
    for line in text.splitlines():
        if line.startswith("#"):
            block.append(line)
            continue
        if block:  # a comment speaks for what stands under it, up to the next comment or table
            says, block = bool(_SAYS.search(" ".join(block))), []
        elif line.startswith("[") and not line.startswith("[["):
            says = False
        if _FIGURE.match(line) and not says and not _SAYS.search(line.partition("#")[2]):
            found.append(line.strip())
    return found


@pytest.mark.parametrize("file", FILES, ids=[str(file.relative_to(CONFIG)) for file in FILES])
def test_every_figure_says_where_it_is_from(file: Path) -> None:
    if file.name in BY_COMMENT:
        assert uncommented(file.read_text(encoding="utf-8")) == []
    else:
        assert list(unsourced(tables(file))) == []


def test_a_figure_without_a_source_is_found() -> None:
    assert list(unsourced({"rows": {"a": {"source": "x", "repeat": {"months": 12}}}})) == ["rows.a.repeat.months"]
    assert list(unsourced({"rows": {"a": {"status": "from memory", "months": 12}}})) == ["rows.a.months"]
    assert list(unsourced({"rows": {"a": {"source": "x", "status": "y", "repeat": {"months": 12}}}})) == []
    assert list(unsourced({"a": [{"source": "x", "status": "y", "n": 1}, {"n": 2}]})) == ["a.1.n"]
    assert uncommented("[a]\n# Judgement, no source.\nn = 1\n\n[b]\nm = 2\n# just words\nk = 3  # judgement\n") == [
        "m = 2"
    ]


def test_there_are_figures_to_ask() -> None:
    assert len(FILES) >= 12
