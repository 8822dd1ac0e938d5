"""The table of states is true: each has its words in the catalogue, and a test that reaches it and reads them."""

from __future__ import annotations

import ast

import pytest

from tests.house.tree import ROOT
from tests.language.texts import texts
from tests.web.states import STATES


def functions_of(file: str) -> dict[str, str]:
    """The functions of a test file with their source, what is above them (such as their cases) included."""
    source = (ROOT / "tests" / file).read_text(encoding="utf-8")
    lines = source.splitlines()
    found = {}
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef):
            first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
            found[node.name] = "\n".join(lines[first - 1 : node.end_lineno])
    return found


@pytest.mark.parametrize("name", STATES)
def test_its_words_are_in_the_catalogue(name: str) -> None:
    assert [text.one for text in texts() if STATES[name].words in text.one]


@pytest.mark.parametrize("name", STATES)
def test_a_test_reaches_it_and_reads_its_words(name: str) -> None:
    state = STATES[name]
    functions = functions_of(state.file)
    assert state.test in functions
    source = functions[state.test]
    constants = "\n".join(
        ast.unparse(node)
        for node in ast.parse((ROOT / "tests" / state.file).read_text(encoding="utf-8")).body
        if isinstance(node, ast.Assign) and any(ast.unparse(target) in source for target in node.targets)
    )
    assert state.told in source + constants


def test_no_two_states_have_the_same_words() -> None:
    assert len({state.words for state in STATES.values()}) == len(STATES)
