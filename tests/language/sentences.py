"""Sentences in the program that no catalogue has: what a reader of another language would miss."""

from __future__ import annotations

import ast
import re
from collections.abc import Collection, Iterator

WORDS = re.compile(r"[a-z]{2,} [a-z]{2,}")
"""Two words side by side, which no key, mark or path has."""
NOT_FOR_READERS = frozenset(
    ("ValueError", "TypeError", "KeyError", "AssertionError", "RuntimeError", "AttributeError", "compile", "Fact")
    + ("log_change", "log_changes", "Change", "Thread", "Field", "Form", "Query", "filterwarnings", "ArgumentTypeError")
    + ("Figure", "Step")
)
"""Calls whose texts are for programmers, for the log or for keys. A figure is called by its key."""


def unsaid(tree: ast.Module, known: Collection[str]) -> Iterator[tuple[int, str]]:
    """Texts of two words and more, by line, that are not `known`, but for values of enumerations and docstrings."""
    passed = {id(node) for outer in ast.walk(tree) for node in _passed(outer)}
    parts = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if id(node) in passed or id(node) in parts:
            continue
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        if WORDS.search(text) and text not in known:
            yield node.lineno, text


def _passed(node: ast.AST) -> Iterator[ast.AST]:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    elif isinstance(node, ast.Assert) or (isinstance(node, ast.Call) and _is_for_nobody(node.func)):
        yield from ast.walk(node)
    elif isinstance(node, ast.ClassDef) and any("Enum" in ast.unparse(base) for base in node.bases):
        for field in node.body:
            if isinstance(field, ast.Assign):
                yield from ast.walk(field)


def _is_for_nobody(function: ast.expr) -> bool:
    if isinstance(function, ast.Attribute):
        return ast.unparse(function.value) == "log" or function.attr in NOT_FOR_READERS
    return isinstance(function, ast.Name) and function.id in NOT_FOR_READERS
