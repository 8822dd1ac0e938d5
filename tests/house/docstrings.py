"""Who owes a docstring: every module, and every public class, function, method and property.

Let off are: what starts with an underscore; what stands inside a function; methods of a port that say all they have
to say by their name and types (body `...`), and methods that keep such a promise, whose words stand in the port; hooks
that a library calls by a decorator of its own (validators); and upgrade and downgrade of a migration, whose words are
the docstring of its module.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator

from tests.house.syntax import last_name

Definition = ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef

_HOOKS = frozenset({"field_validator", "model_validator", "field_serializer", "overload", "setter"})


def promised_by_ports(trees: Iterable[ast.Module]) -> frozenset[str]:
    """Names of methods that some Protocol declares."""
    return frozenset(
        method.name
        for tree in trees
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef) and _is_port(node)
        for method in node.body
        if isinstance(method, ast.FunctionDef | ast.AsyncFunctionDef)
    )


def without_docstring(tree: ast.Module, path: str, promised: frozenset[str] = frozenset()) -> Iterator[str]:
    """What owes a docstring in one file and has none, as `file:line name`."""
    if ast.get_docstring(tree) is None:
        yield f"{path}:1 the module"
    is_migration = "/versions/" in f"/{path}"
    for owner, node in _public(tree, None):
        if ast.get_docstring(node) is not None or (is_migration and node.name in {"upgrade", "downgrade"}):
            continue
        if isinstance(node, ast.ClassDef) or owner is None or not _is_let_off(node, owner, promised):
            yield f"{path}:{node.lineno} {f'{owner.name}.' if owner else ''}{node.name}"


def _public(
    node: ast.Module | ast.ClassDef, owner: ast.ClassDef | None
) -> Iterator[tuple[ast.ClassDef | None, Definition]]:
    for inner in node.body:
        if isinstance(inner, Definition) and not inner.name.startswith("_"):
            yield owner, inner
            if isinstance(inner, ast.ClassDef):
                yield from _public(inner, inner)


def _is_let_off(method: ast.FunctionDef | ast.AsyncFunctionDef, owner: ast.ClassDef, promised: frozenset[str]) -> bool:
    decorators = {last_name(one.func if isinstance(one, ast.Call) else one) for one in method.decorator_list}
    only_dots = len(method.body) == 1 and ast.unparse(method.body[0]) == "..."
    return bool(decorators & _HOOKS) or (only_dots and _is_port(owner)) or method.name in promised


def _is_port(node: ast.ClassDef) -> bool:
    return any(last_name(base.value if isinstance(base, ast.Subscript) else base) == "Protocol" for base in node.bases)
