"""The command `fit`: what it learned, what it lacks, and that the garage's own figures win."""

from __future__ import annotations

from pathlib import Path

from fleetcare.usage.learned import LEARNED
from fleetcare.usage.priors import Priors
from tests.cli.conftest import Run, parts_of_home, run_in, version_of
from tests.cli.small_garage import write_garage


def test_fit_learns_says_from_what_and_how_much_better_and_every_page_says_it_too(run: Run, home: Path) -> None:
    assert "not yet fitted to this garage" in run("explain", "Anvil", "rear axle fluid").out
    answer = run("fit", "--by", "Ines")
    assert (answer.status, answer.err) == (0, "")
    lines = answer.out.splitlines()
    assert lines[0].startswith("Fitted to this garage from 8 vehicles and 203 readings over ")
    assert lines[1].endswith(" as likely under these numbers as under the shipped ones.")
    assert lines[1].startswith("What vehicles left out while learning did is 1.")
    assert sum(", was " in line for line in lines) == len(LEARNED)
    assert lines[-1].endswith("moved.")
    explained = run("explain", "Anvil", "rear axle fluid").out
    assert "not yet fitted" not in explained
    assert "fitted to this garage on " in explained
    assert run("check").status == 0
    parts = parts_of_home(home)
    try:
        with parts.store.read() as view:
            newest = view.newest_fit()
            entry = next(entry for entry in view.log() if entry.what == "forecast numbers")
    finally:
        parts.close()
    assert newest is not None
    assert newest.who == entry.change.who == "Ines"


def test_fit_as_data(run: Run) -> None:
    data = run("fit", "--json").data
    assert (data["enough"], data["stored"], data["fitted"]) == (True, True, True)
    assert data["at_hand"]["vehicles"] == data["basis"]["vehicles"] == 8
    assert data["basis"]["others_after"] < data["basis"]["others_before"]
    assert set(data["numbers"]) == set(data["shipped"]) == {*LEARNED, "season"}
    assert data["shipped"]["tau"] == Priors().tau
    assert data["moved"] > 0


def test_with_too_little_to_go_by_it_is_said_what_is_missing_and_nothing_changes(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    assert run_in(home, "import", str(write_garage(tmp_path / "files"))).status == 0
    version = version_of(home)
    answer = run_in(home, "fit")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out == (
        "Not yet: 20 vehicles with 3 readings or more are needed, there are 0; or 12 readings of the middle vehicle,"
        " which has 2. The numbers stay as they are.\n"
    )
    data = run_in(home, "fit", "--json").data
    assert (data["enough"], data["stored"], data["numbers"], data["moved"]) == (False, False, None, 0)
    assert data["at_hand"] == {
        "vehicles": 1,
        "learned_from": 1,
        "readings": 2,
        "months": 1,
        "with_three": 0,
        "median": 2.0,
    }
    assert version_of(home) == version


def test_a_figure_in_the_homes_own_file_wins_over_what_was_learned(run: Run, home: Path) -> None:
    own = home / "config" / "forecast.toml"
    own.write_text("[pace]\npsi = 3.5\n", encoding="utf-8")
    data = run("fit", "--json").data
    assert data["enough"]
    assert data["shipped"]["psi"] == 3.5
    assert data["numbers"] is None or data["numbers"]["psi"] == 3.5
    assert run("check").status == 0


def test_without_a_garage_the_way_on_is_named(tmp_path: Path) -> None:
    home = tmp_path / "home"
    assert run_in(home, "init").status == 0
    assert "fleetcare import FOLDER" in run_in(home, "fit").sentence
