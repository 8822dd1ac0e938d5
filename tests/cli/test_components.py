"""Commands for components: one moves with what it has behind it, and its history is told wherever it was."""

from __future__ import annotations

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
