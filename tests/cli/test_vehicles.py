"""Commands for whole vehicles: put on the road, changed, sold, and taken back."""

from __future__ import annotations

import pytest

from tests.cli.conftest import Run

ADD = ("vehicle", "add", "Quarry", "--kind", "light truck")


def test_a_vehicle_is_added_with_what_is_known_of_it(run: Run) -> None:
    said = run(
        *ADD, "--dial", "84210", "--in-service", "2019-05-02", "--yearly", "9000", "--keeper", "Ines", "--split",
        "towing=1,daily=1", "--part", "engine", "--part", "brakes", "--done", "engine/engine-oil=@82000",
        "--new", "brakes/brake-fluid", "--without", "brakes/parking-brake", "--vin", "1M8GDM9AXKP042788",
    )  # fmt: skip
    assert said.out.startswith("Quarry (QU) is on the road.")
    assert "Engine oil and filter: early" in said.out
    assert "Parking brake" not in said.out
    assert "Quarry" in run("due", "--vehicle", "QU").out
    assert "the day is reckoned from what the dial showed" in run("history", "Quarry").out


def test_without_a_part_named_it_gets_the_usual_ones_and_a_mark_is_proposed(run: Run) -> None:
    data = run("vehicle", "add", "Anvil Two", "--kind", "car", "--unit", "km", "--json").data
    assert data["mark"] == "AV"
    assert data["moved"]
    trailer = run("vehicle", "add", "Sled", "--kind", "trailer", "--unit", "none", "--towed-by", "Anvil", "--json").data
    assert trailer["mark"] == "SL"


def test_the_parts_of_a_kind_are_listed_with_their_services(run: Run) -> None:
    told = run("vehicle", "parts", "trailer").out
    assert "coupling/coupling  " in told
    data = run("vehicle", "parts", "car", "--json").data
    assert {each["part"] for each in data if each["usual"]} >= {"engine", "brakes", "tyres"}


def test_a_change_says_what_it_changed_and_what_moved(run: Run) -> None:
    said = run("vehicle", "edit", "Anvil", "--name", "Hammer", "--split", "track=1", "--in-service", "")
    assert "Name: was Anvil, is Hammer." in said.out
    assert "In service since: was" in said.out
    assert "likely" in said.out
    assert "stood here so before" in run("vehicle", "edit", "Hammer", "--name", "Hammer").out
    assert run("vehicle", "edit", "AN", "--driver", "Teo", "--json").data["changed"] == ["drivers"]


def test_a_sale_and_its_undoing(run: Run) -> None:
    assert run("vehicle", "sell", "Pocket").out.startswith("Pocket is gone since ")
    assert run("vehicle", "sell", "Pocket").out == "Pocket: that stands here already.\n"
    assert run("history", "Pocket").out
    back = run("vehicle", "sell", "Pocket", "--take-back")
    assert back.out.startswith("Pocket is here after all.")
    assert "likely" in back.out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((*ADD, "--mark", "AN"), "The mark AN is that of Anvil."),
        ((*ADD, "--mark", "x"), "cannot be a mark"),
        (("vehicle", "add", "Anvil", "--kind", "car"), "stands here already"),
        (("vehicle", "add", "Boat", "--kind", "boat"), "none of them"),
        ((*ADD, "--keeper", "nobody"), "no person called"),
        ((*ADD, "--part", "sails"), "part of a light truck"),
        ((*ADD, "--done", "sails/rope=2026-01-01"), "There is no service"),
        ((*ADD, "--done", "engine/engine-oil"), "Done when?"),
        ((*ADD, "--done", "engine/engine-oil=2020-01-01", "--new", "engine/engine-oil"), "said twice"),
        ((*ADD, "--unit", "none", "--dial", "3"), "has no dial"),
        ((*ADD, "--yearly", "0"), "no distance of a year"),
        ((*ADD, "--split", "flying=1"), "duty"),
        (("vehicle", "edit", "Anvil", "--keeper", "nobody"), "no person called"),
        (("vehicle", "edit", "Anvil", "--name", ""), "is empty"),
        (("vehicle", "edit", "Anvli", "--name", "X"), "Did you mean Anvil?"),
        (("vehicle", "sell", "Pocket", "--on", "1999-01-01"), "Pocket"),
        (("vehicle", "sell", "Pocket", "--take-back"), "is in the fleet"),
        (("vehicle", "sell", "Pocket", "--on", "2026-01-01", "--take-back"), "does not go with"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(run: Run, words: tuple[str, ...], told: str) -> None:
    assert told in run(*words).sentence
