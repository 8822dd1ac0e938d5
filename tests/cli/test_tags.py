"""The tag of a component on the command line: shown with its blanks, written down, refused if it cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run, version_of


def facts(run: Run, component: str = "rear-axle") -> dict[str, tuple[str, str]]:
    data = run("tag", "Anvil", component, "--json").data
    return {fact["name"]: (fact["value"], fact["basis"]) for fact in data["facts"]}


def test_a_tag_is_shown_with_its_aims_and_blanks(run: Run) -> None:
    out = run("tag", "Anvil", "front-axle").out
    assert "- capacity: 1.7 L" in out
    assert "- cover bolts: 21 to 30 lb·ft, 8 bolts; aim 25.5 lb·ft" in out
    assert "Still blank: ring gear, stamped, fill plug, magnet." in out
    assert run("tag", "an", "Rear axle, limited slip").out.startswith("Rear axle, limited slip\n")


def test_a_value_is_written_in_place_of_the_one_with_its_name_or_added(run: Run) -> None:
    before = facts(run)
    assert run("tag", "Anvil", "rear-axle", "Cover Bolts", "30 to 40 N·m", "--basis", "stamped").status == 0
    assert run("tag", "Anvil", "rear-axle", "drain plug", "", "--basis", "unknown").status == 0
    after = facts(run)
    assert after["Cover Bolts"] == ("30 to 40 N·m", "stamped")
    assert after["drain plug"] == ("", "unknown")
    assert len(after) == len(before) + 1
    assert "drain plug" in run("tag", "Anvil", "rear-axle", "--json").data["blanks"]
    assert run("tag", "Anvil", "rear-axle", "drain plug", "--gone").status == 0
    assert "drain plug" not in facts(run)


def test_fluid_and_capacity_are_those_of_the_component(run: Run) -> None:
    assert run("tag", "Anvil", "rear-axle", "capacity", "2.8 L", "--basis", "measured").status == 0
    assert run("tag", "Anvil", "rear-axle", "fluid", "75W-90 GL-5").status == 0
    data = run("tag", "Anvil", "rear-axle", "--json").data
    assert (data["fluid_capacity_l"], data["fluid_grade"]) == (2.8, "75W-90 GL-5")
    assert facts(run)["capacity"] == ("2.8 L", "measured")
    assert run("tag", "Anvil", "rear-axle", "capacity", "--gone").status == 0
    data = run("tag", "Anvil", "rear-axle", "--json").data
    assert data["fluid_capacity_l"] is None
    assert "capacity" in data["blanks"]


def test_words_that_cannot_be_read_are_kept_and_said(run: Run) -> None:
    answer = run("tag", "Anvil", "rear-axle", "closure", "bolted somehow")
    assert answer.status == 0
    assert "cannot be reckoned with" in answer.err
    assert facts(run)["closure"] == ("bolted somehow", "manual")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("rear-axle", "cover bolts", "46 to 34 N·m"), "upside down"),
        (("rear-axle", "cover bolts", "220 to 310 N·m"), "lb·in"),
        (("rear-axle", "capacity", "5.5 L"), "5.5 US pt"),
        (("rear-axle", "friction modifier", "118 mL, forbidden"), "there is an amount"),
        (("rear-axle", "cover bolts"), "Give a value"),
        (("rear-axle", "cover bolts", ""), "has no value"),
        (("rear-axle", "wings", "--gone"), "There is no value on that tag"),
        (("rear-axel", "cover bolts", "25 N·m"), "Did you mean rear-axle?"),
        (("rear-axle", "cover bolts", "25 N·m", "--basis", "heard"), "There is no basis"),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(run: Run, home: Path, words: tuple[str, ...], said: str) -> None:
    before = version_of(home)
    assert said in run("tag", "Anvil", *words).sentence
    assert version_of(home) == before
