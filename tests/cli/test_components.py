"""Commands for components: one moves with what it has behind it, and its history is told wherever it was."""

from __future__ import annotations

from datetime import timedelta

from fleetcare.clock import MachineClock
from tests.cli.conftest import Run


def test_an_axle_moves_and_its_history_goes_along(run: Run) -> None:
    said = run("component", "move", "AN", "rear-axle", "BE", "--as", "spare-axle")
    assert said.out.startswith("Moved: rear-axle of AN is spare-axle of BE.")
    told = run("component", "history", "BE", "spare-axle").out
    assert "AN  Rear axle fluid, cover reseal at" in told
    assert told.rstrip().endswith("BE  came to BE")
    data = run("component", "history", "Bellows", "spare-axle", "--json").data
    assert data[-1]["what"] == "came to BE"
    explained = run("explain", "BE", "spare-axle/rear-axle-fluid").out
    assert "when it was on AN" in explained


def test_what_cannot_be_is_refused_in_one_line(run: Run) -> None:
    assert "Swap the two, or give this one another key." in run("component", "move", "AN", "rear-axle", "BE").sentence
    assert "cannot be a key" in run("component", "move", "AN", "rear-axle", "BE", "--as", "My Axle").sentence
    assert "component on Anvil" in run("component", "history", "AN", "wings").sentence
    assert "component" in run("component").out


def test_a_new_component_takes_the_place_of_one_and_its_services_begin_there(run: Run) -> None:
    before = run("due", "--vehicle", "AN", "--json").data
    on = MachineClock().now().date() - timedelta(days=10)
    said = run("component", "fit", "AN", "rear-axle", "--on", f"{on}", "--keep", "--note", "bearing gone").out
    assert said.startswith("Fitted: rear-axle of AN, new.\nThe one before it is on the shelf as rear-axle.\n")
    explained = run("explain", "AN", "rear-axle/rear-axle-fluid").out
    assert f"{on.day} {on:%B}" in explained
    assert run("due", "--vehicle", "AN", "--json").data != before
    told = run("component", "history", "AN", "rear-axle").out
    assert "Rear axle fluid, cover reseal" not in told, "that was done on the one before"
    told = run("component", "history", "SHELF", "rear-axle").out
    assert "AN  Rear axle fluid, cover reseal at" in told
    assert run("check").status == 0


def test_one_that_is_used_wants_a_look_and_one_that_is_gone_is_nowhere(run: Run) -> None:
    told = run("component", "fit", "AN", "rear-axle", "--used", "--json").data
    assert (told["component"], told["old"]) == ("rear-axle", "gone")
    assert "rear-axle-fluid" in told["services"]
    assert "look" in run("explain", "AN", "rear-axle/rear-axle-fluid").out
    assert "component on Shelf" in run("component", "history", "SHELF", "rear-axle").sentence


def test_a_part_that_was_not_there_is_one_more(run: Run) -> None:
    before = run("due", "--vehicle", "AN", "--json").data
    told = run("component", "fit", "AN", "battery", "--json").data
    assert (told["component"], told["old"]) == ("battery", None)
    assert told["services"]
    assert len(run("due", "--vehicle", "AN", "--json").data) == len(before) + len(told["services"])


def test_what_cannot_have_been_fitted_is_refused_and_changes_nothing(run: Run) -> None:
    before = run("due", "--json").data
    for words, told in (
        (("AN", "wings"), "There is no part"),
        (("AN", "rear-axle", "--on", "2099-01-01"), "still to come"),
        (("AN", "rear-axle", "--on", "1950-01-01"), "came into service on"),
        (("AN", "rear-axle", "--dial", "12"), "Anvil:"),
        (("SHELF", "rear-axle"), "There is no vehicle"),
        (("AN", "rear-axle", "--dial", "much"), "not a number"),
    ):
        assert told in run("component", "fit", *words).sentence, words
    assert run("due", "--json").data == before
