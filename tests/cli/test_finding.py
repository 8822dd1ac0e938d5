"""The command that finds things by words."""

from __future__ import annotations

from tests.cli.conftest import Run


def test_each_thing_is_told_with_its_mark_and_the_page_it_has(run: Run) -> None:
    told = run("find", "anv")
    assert (told.status, told.err) == (0, "")
    assert "Vehicles:\n  AN Anvil tow rig" in told.out
    rows = run("find", "anvil", "axle", "--json").data
    assert {row["mark"] for row in rows if row["group"] == "Services of vehicles"} == {"AN"}
    assert all(row["page"].startswith("/vehicles/AN") for row in rows if row["group"] == "Services of vehicles")


def test_nothing_found_is_said_and_the_status_says_so_too(run: Run) -> None:
    told = run("find", "xylophone")
    assert told.status == 1
    assert "Nothing begins like “xylophone”." in told.out
