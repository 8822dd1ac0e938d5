"""Docstrings: every module and everything public in the program says what it answers."""

from __future__ import annotations

import ast

import pytest

from tests.house.docstrings import promised_by_ports, without_docstring
from tests.house.tree import PACKAGE, ROOT, python_files


def missing_in(source: str, path: str = "due/x.py") -> list[str]:
    tree = ast.parse(source)
    return [line.split(" ", 1)[1] for line in without_docstring(tree, path, promised_by_ports([tree]))]


def test_everything_public_has_a_docstring() -> None:
    trees = {file: ast.parse(file.read_text(encoding="utf-8")) for file in python_files(PACKAGE)}
    promised = promised_by_ports(trees.values())
    missing = [
        line
        for file, tree in trees.items()
        for line in without_docstring(tree, file.relative_to(ROOT).as_posix(), promised)
    ]
    assert missing == []


def test_every_test_module_says_what_it_is_about() -> None:
    files = python_files(ROOT / "tests")
    assert [f for f in files if ast.get_docstring(ast.parse(f.read_text(encoding="utf-8"))) is None] == []


@pytest.mark.parametrize(
    ("source", "missing"),
    [
        ("x = 1", ["the module"]),
        ('"""M."""\ndef f(): pass', ["f"]),
        ('"""M."""\nclass A:\n    def f(self): return 1', ["A", "A.f"]),
        ('"""M."""\nclass A:\n    """A."""\n    @property\n    def f(self): return 1', ["A.f"]),
        ('"""M."""\nclass P(Protocol):\n    """P."""\n    def f(self):\n        return 1', []),
        ('"""M."""\nclass A:\n    """Not a port."""\n    def f(self): ...', ["A.f"]),
    ],
)
def test_what_is_missing_is_named(source: str, missing: list[str]) -> None:
    assert missing_in(source) == missing


@pytest.mark.parametrize(
    "source",
    [
        '"""M."""\ndef _f(): pass',
        '"""M."""\ndef f():\n    """F."""\n    def g(): pass\n    return g',
        '"""M."""\nclass P(Protocol):\n    """P."""\n    def f(self): ...\nclass A:\n    "A."\n    def f(self): pass',
        '"""M."""\nclass A:\n    """A."""\n    @field_validator("x")\n    def f(cls, x): return x',
        '"""M."""\nclass A:\n    """A."""\n    def __str__(self): return ""',
    ],
)
def test_who_is_let_off_is_not_named(source: str) -> None:
    assert missing_in(source) == []
