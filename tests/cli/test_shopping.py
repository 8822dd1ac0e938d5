"""Shopping: what the jobs ahead take, what lies on the shelf, and a table for a spreadsheet."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from pathlib import Path

import pytest

from tests.cli.conftest import Run, version_of


def item(data: dict[str, list[dict[str, object]]], name: str) -> dict[str, object]:
    (line,) = [line for line in data["lines"] if line["item"] == name]
    return line


def test_the_fluid_of_anvils_rear_axle_is_on_the_list_in_bottles_the_club_buys(run: Run) -> None:
    line = item(run("shopping", "--weeks", "8", "--json").data, "Axle fluid, 75W-140 GL-5")
    assert line["on_shelf"] == 0
    assert line["pack"] == 1.893
    jobs = {(each["vehicle"], each["job"]) for each in line["for"]}  # type: ignore[attr-defined]
    assert ("AN", "Rear axle, limited slip: Axle fluid, cover resealed") in jobs
    # Anvil's 2.6 L alone are two bottles; whatever else is due comes on top
    assert float(str(line["needed"])) >= 2.6
    assert int(str(line["packs"])) >= 2


def test_more_weeks_never_need_less(run: Run) -> None:
    few, many = (run("shopping", "--weeks", weeks, "--json").data for weeks in ("1", "30"))
    needed = {line["item"]: line["needed"] for line in many["lines"]}
    assert few["lines"]
    for line in few["lines"]:
        assert line["item"] in needed
        assert needed[line["item"]] is None or line["needed"] is None or needed[line["item"]] >= line["needed"]


def test_a_fuller_shelf_takes_a_thing_off_the_list(run: Run, home: Path) -> None:
    before = run("shopping", "--weeks", "30").out
    assert "Lint-free wipes: " in before
    put = run("shelf", "Lint-free wipes", "1000", "--json")
    assert {"item": "Lint-free wipes", "amount": 1000.0, "unit": "pieces", "pack": None, "note": ""} in put.data
    after = run("shopping", "--weeks", "30").out
    assert "Lint-free wipes: " not in after
    assert "Enough on the shelf: " in after


def test_the_table_is_the_list(run: Run) -> None:
    data = run("shopping", "--weeks", "6", "--json").data
    table = list(csv.DictReader(io.StringIO(run("shopping", "--weeks", "6", "--csv").raw.decode())))
    assert [row["item"] for row in table] == [line["item"] for line in data["lines"]]
    for row, line in zip(table, data["lines"], strict=True):
        assert (row["buy"] == "") == (line["buy"] is None)
        assert row["buy"] == "" or float(row["buy"]) == pytest.approx(line["buy"])


def test_one_days_sheets_are_shopped_for_by_themselves(run: Run) -> None:
    day = (date.today() + timedelta(days=900)).isoformat()  # noqa: DTZ011  (the home's own clock is the machine's)
    assert f"Nothing is in the bay on {day}" in run("shopping", "--on", day).sentence
    assert run("work", "open", "Anvil", "rear axle fluid", "--on", day).status == 0
    data = run("shopping", "--on", day, "--json").data
    fluid = item(data, "Axle fluid, 75W-140 GL-5")
    assert (fluid["needed"], fluid["packs"], fluid["by"]) == (2.6, 2, day)
    assert (item(data, "Friction modifier")["needed"], item(data, "Friction modifier")["packs"]) == (118.0, 1)
    assert {vehicle["vehicle"] for line in data["lines"] for vehicle in line["for"]} == {"AN"}


def test_the_shelf_is_shown_set_and_emptied(run: Run) -> None:
    assert "75W-140 GL-5: 0 L, 1.893 L each" in run("shelf").out
    assert "75W-140 GL-5: 3.8 L, 1.893 L each" in run("shelf", "75w-140 gl-5", "3.8").out
    assert "Copper rings: 12 pieces" in run("shelf", "Copper rings", "12").out
    assert "Copper rings" not in run("shelf", "Copper rings", "--gone").out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("shelf", "Wipes"), "Give an amount, or --gone."),
        (("shelf", "Wipes", "some"), "not a number"),
        (("shelf", "Wipes", "4", "--pack", "0"), "pack"),
        (("shelf", "Nothing of the sort", "--gone"), "There is no item on the shelf called"),
        (("shopping", "--weeks", "999"), "Give 0 to 520."),
        (("shopping", "--weeks", "4", "--on", "2026-05-01"), "Give one of the two."),
    ],
)
def test_what_cannot_be_is_refused_and_changes_nothing(run: Run, home: Path, words: tuple[str, ...], said: str) -> None:
    before = version_of(home)
    assert said in run(*words).sentence
    assert version_of(home) == before
