"""The command `look`: kilometres or miles, by day or by night, as on the page."""

from __future__ import annotations

import pytest

from tests.cli.conftest import Run


def test_units_and_light_are_shown_and_chosen_and_the_rest_stays(run: Run) -> None:
    before = run("look", "Teo", "--json").data
    assert before["person"] == "teo"
    other = "km" if before["unit"] == "mi" else "mi"
    told = run("look", "teo", "--unit", other, "--light", "night").out.strip()
    words = {"km": "kilometres", "mi": "miles"}[other]
    assert told == f"Teo Lindqvist: distances in {words}, pages by night."
    assert run("look", "Teo", "--json").data == {**before, "unit": other, "light": "night"}
    assert run("look", "Teo", "--light", "device", "--json").data == {**before, "unit": other, "light": "device"}


@pytest.mark.parametrize("words", [("--unit", "leagues"), ("--light", "dusk"), ("--unit", "km", "--light", "dusk")])
def test_what_cannot_be_chosen_changes_nothing_and_says_what_there_is(run: Run, words: tuple[str, ...]) -> None:
    before = run("look", "Teo", "--json").data
    assert "is none of them. It is " in run("look", "Teo", *words).sentence
    assert run("look", "Teo", "--json").data == before
