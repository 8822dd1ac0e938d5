"""Causes of changes: English as text, told in the reader's language, also those of which the English alone was kept."""

from __future__ import annotations

import ast
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.due.causes import CAUSES, cause, cause_told
from fleetcare.language import speaking
from fleetcare.settings.catalogues import tongue_of
from tests.house.tree import PACKAGE

MARCH = date(2026, 3, 31)


def test_a_cause_is_written_down_in_english_whoever_speaks() -> None:
    with speaking(tongue_of("de")):
        assert cause("the reading of {day}", day=MARCH) == "the reading of 31 March 2026"


@pytest.mark.parametrize(
    ("why", "german"),
    [
        ("the reading of 31 March 2026", "die Ablesung vom 31. März 2026"),
        ("the work of 3 April 2026 (Rear axle fluid, cover reseal)",)
        + ("die Arbeit vom 3. April 2026 (Hinterachsöl, Deckel neu abdichten)",),
        ("sheet 0147 handed in", "Blatt 0147 abgegeben"),
        ("laid up from 3 February 2026 until further notice", "steht vom 3. Februar 2026 bis auf Weiteres"),
        ("immersion on 14 April 2026", "Eintauchen am 14. April 2026"),
        ("Hollow Lake hill climb, 1 May 2026", "Hollow Lake hill climb, 1. Mai 2026"),
        ("the start of the program", "der Start des Programms"),
        ("something that nobody here wrote", "something that nobody here wrote"),
        ("the reading of 31. März 2026", "the reading of 31. März 2026"),
    ],
)
def test_a_cause_is_told_in_german(why: str, german: str) -> None:
    assert cause_told(why) == why
    with speaking(tongue_of("de")):
        assert cause_told(why) == german


@given(st.dates(min_value=date(1, 1, 1)), st.sampled_from([text for text in CAUSES if "{day}" in text]), st.text())
def test_in_english_a_cause_is_told_as_it_was_written(day: date, text: str, word: str) -> None:
    names = set(re.findall(r"\{(\w+)\}", text))
    written = cause(text, **{name: day if name in ("day", "last_day") else word for name in names})
    assert cause_told(written) == cause_told(str(written)) == written


def test_what_could_not_be_told_again_is_not_written() -> None:
    with pytest.raises(ValueError, match="none of the causes"):
        cause("the moon of {day}", day=MARCH)


def test_no_action_puts_a_day_into_the_log_in_the_language_of_who_is_there() -> None:
    """A cause with a day in it goes through `cause`, since what stands in it is put together before it is stored."""
    faults = [
        f"{file.name}: {ast.unparse(node.args[1])}"
        for file in sorted((PACKAGE / "actions").glob("*.py"))
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Change" and len(node.args) > 1
        if "_words(" in ast.unparse(node.args[1])
    ]
    assert faults == []
