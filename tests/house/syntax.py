"""Reading a Python file without running it: what its names stand for, and what it does while it is imported."""

from __future__ import annotations

import ast
from collections.abc import Iterator


def imported_names(tree: ast.Module) -> dict[str, str]:
    """What each imported name is called where it comes from: `dt` is `datetime`, `env` is `os.environ`."""
    names: dict[str, str] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                root = alias.name.split(".")[0]
                names[alias.asname or root] = alias.name if alias.asname else root
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                names[alias.asname or alias.name] = f"{node.module}.{alias.name}"
    return names


def dotted_names(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Every imported thing that is named, with its line: at its import, and wherever it or a part of it is used."""
    names = imported_names(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                yield node.lineno, f"{node.module}.{alias.name}"
        elif isinstance(node, ast.Attribute | ast.Name):
            full = _resolved(node, names)
            if full is not None:
                yield node.lineno, full


def _resolved(node: ast.expr, names: dict[str, str]) -> str | None:
    if isinstance(node, ast.Name):
        return names.get(node.id)
    if isinstance(node, ast.Attribute):
        owner = _resolved(node.value, names)
        return None if owner is None else f"{owner}.{node.attr}"
    return None


def last_name(node: ast.expr) -> str:
    """The last part of a name or attribute, whoever owns it; empty for anything else."""
    if isinstance(node, ast.Name):
        return node.id
    return node.attr if isinstance(node, ast.Attribute) else ""


def parents_of(tree: ast.Module) -> dict[ast.AST, ast.AST]:
    """The node each node stands in."""
    return {child: parent for parent in ast.walk(tree) for child in ast.iter_child_nodes(parent)}


def at_import(node: ast.AST) -> Iterator[ast.AST]:
    """Every node that runs while the file is imported: not the bodies of functions, nor what is for type checkers."""
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        runs: list[ast.AST] = [*node.decorator_list, *node.args.defaults]
        runs += [default for default in node.args.kw_defaults if default is not None]
    elif isinstance(node, ast.Lambda):
        runs = [*node.args.defaults]
    elif isinstance(node, ast.If) and _never_at_import(node.test):
        runs = [*node.orelse]
    else:
        runs = list(ast.iter_child_nodes(node))
    for inner in runs:
        yield inner
        yield from at_import(inner)


def _never_at_import(test: ast.expr) -> bool:
    if isinstance(test, ast.Compare):
        return last_name(test.left) == "__name__"
    return last_name(test) == "TYPE_CHECKING"
