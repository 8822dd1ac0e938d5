"""The commands for visits to the bay."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import run_in
from tests.cli.small_garage import write_garage

NEXT = ("--on", "2199-04-25", "--at", "09:00")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A home with one vehicle, Pocket."""
    made = tmp_path / "home"
    assert run_in(made, "init").status == 0
    assert run_in(made, "import", str(write_garage(tmp_path / "files"))).status == 0
    return made


def test_a_visit_is_put_down_listed_moved_pencilled_and_rubbed_out(home: Path) -> None:
    first = run_in(home, "bay", "list").out.splitlines()
    assert first[0] == "Nothing is planned, and one window is open: Pocket, engine oil, since 17 February 2021."
    assert first[1] == "Have days proposed with: fleetcare plan"
    made = run_in(home, "bay", "ink", "Pocket", "engine oil", *NEXT, "--takes", "1:00, stands 2:00", "--hands", "noor")
    assert (made.status, made.err) == (0, "")
    assert made.out.splitlines()[0] == "Pocket: visit 1 inked, Thu 2199-04-25 09:00 to 12:00."
    (listed,) = run_in(home, "bay", "list", "--json").data
    assert listed["services"] == ["engine/engine-oil"]
    assert [each["kind"] for each in listed["stretches"]] == ["hands-on", "standing"]
    pencilled = run_in(home, "bay", "pencil", "PO", "1").out.splitlines()
    assert pencilled[0] == "Pocket: visit 1 pencilled, Thu 2199-04-25 09:00 to 12:00."
    assert "its late date" in pencilled[1]
    moved = run_in(home, "bay", "move", "PO", "1", "--on", "2199-04-26", "--at", "8:30", "--json").data
    assert moved["begins"].startswith("2199-04-26T08:30")
    assert run_in(home, "bay", "rub-out", "PO", "1").out == "Pocket: visit 1 is rubbed out.\n"
    assert run_in(home, "bay", "list", "--json").data == []


def test_what_is_planned_comes_back_from_an_export(home: Path, tmp_path: Path) -> None:
    run_in(home, "bay", "ink", "Pocket", "engine oil", *NEXT, "--takes", "1:00, stands 2:00, 0:30", "--why", "a, b")
    assert run_in(home, "export", str(tmp_path / "out")).status == 0
    assert "bay_visits.csv" in {path.name for path in (tmp_path / "out").iterdir()}
    again = tmp_path / "again"
    run_in(again, "init")
    assert run_in(again, "import", str(tmp_path / "out")).status == 0
    assert run_in(again, "bay", "list", "--json").data == run_in(home, "bay", "list", "--json").data


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("ink", "Pocket", "engine oil"), "A visit needs --on."),
        (("ink", "Pocket", "1", *NEXT), "bay move"),
        (("ink", "Pocket", "1"), "visit of Pocket"),
        (("ink", "Pocket", "engine oil", *NEXT, "--takes", "90"), "no length of time"),
        (("move", "Pocket", "1", "--on", "2199-04-25", "--at", "nine"), "no time of day"),
        (("rub-out", "Nobody", "1"), "Nobody"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(home: Path, words: tuple[str, ...], said: str) -> None:
    answer = run_in(home, "bay", *words)
    assert answer.status == 2
    assert said in answer.err
    assert len(answer.err.splitlines()) == 1


def test_the_bare_word_shows_what_there_is_and_each_command_explains_itself() -> None:
    assert "rub-out" in run_in(None, "bay").out
    for name in ("list", "ink", "pencil", "move", "rub-out"):
        answer = run_in(None, "bay", name, "--help")
        assert (answer.status, answer.err) == (0, "")
        assert "--home" in answer.out


def test_the_bay_has_an_address_of_its_own(home: Path) -> None:
    made = run_in(home, "link", "bay", "--json").data
    assert made["feed"].endswith(".ics")
    assert "SUMMARY:The bay is free" in run_in(home, "feed", "bay").out
    assert run_in(home, "link", "bay", "--list").out.startswith("calendar: made ")
    assert run_in(home, "link", "bay", "--for", "odometer").status == 2
