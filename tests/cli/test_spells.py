"""The command that says when a vehicle stands, and the question it answers."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run, demo_day, run_in, version_of
from tests.cli.small_garage import READINGS, write_garage

ALIKE = "".join(f"Pocket,odometer,2021-0{month}-01,11000,km,,noor,used,\n" for month in (3, 4))


@pytest.fixture
def stands(tmp_path: Path) -> Path:
    """A home in which Pocket shows 11 000 km on 1 February, 1 March and 1 April 2021."""
    home = tmp_path / "stands"
    assert run_in(home, "init").status == 0
    files = write_garage(tmp_path / "files", READINGS + ALIKE)
    assert run_in(home, "import", str(files)).status == 0
    return home


def test_due_and_explain_ask_after_a_vehicle_that_stands_until_it_is_answered(stands: Path) -> None:
    question = "Pocket stands since 1 February 2021? Three readings show 11 000 km. If it is laid up, say from when"
    due = run_in(stands, "due")
    assert question in due.out
    assert "Say it with: fleetcare layup PO --from DAY --until DAY" in due.out
    assert question in run_in(stands, "explain", "Pocket", "engine oil").out
    data = run_in(stands, "explain", "Pocket", "engine oil", "--json").data
    assert data["standing"] == {
        "meter": "odometer",
        "since": "2021-02-01",
        "last_read": "2021-04-01",
        "readings": 3,
        "value": "11000",
        "unit": "km",
    }
    answer = run_in(stands, "layup", "Pocket", "--from", "2021-02-01", "--until", "2021-04-30", "--by", "noor")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.splitlines()[0] == "Pocket: laid up from 1 February 2021 to 30 April 2021."
    assert "stands since" not in run_in(stands, "due").out
    assert run_in(stands, "explain", "Pocket", "engine oil", "--json").data["standing"] is None
    # February and March: 59 days from the first reading alike to the last.
    assert "59 of them laid up" in run_in(stands, "explain", "Pocket", "engine oil").out


def test_an_open_spell_ends_when_it_is_let_out_and_its_first_day_takes_it_back(stands: Path) -> None:
    laid = run_in(stands, "layup", "PO", "--from", "2021-02-01", "--json").data
    assert laid["spell"] == {"from": "2021-02-01", "until": None}
    assert not laid["known"]
    assert run_in(stands, "layup", "PO", "--from", "2021-02-01").out == "Pocket: that stands here already.\n"
    out = run_in(stands, "layup", "PO", "--out", "2021-05-01", "--json").data
    assert out["spell"] == {"from": "2021-02-01", "until": "2021-04-30"}
    back = run_in(stands, "layup", "PO", "--out", "2021-02-01")
    assert back.out.splitlines()[0] == "Pocket: that spell is taken back."
    assert "stands since" in run_in(stands, "due").out


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Anvil",), "Give --from with or without --until; or --out alone."),
        (("Anvil", "--until", "2026-01-01"), "Give --from"),
        (("Anvil", "--from", "2026-01-01", "--out", "2026-02-01"), "Give --from"),
        (("Anvil", "--out", "2026-02-01", "--until", "2026-03-01"), "Give --from"),
        (("Anvyl", "--from", "2026-01-01"), "Did you mean Anvil?"),
        (("Anvil", "--from", "3/4/2026"), "3/4/2026"),
        (("Anvil", "--from", ""), "day"),
        (("Anvil", "--from", "2026-04-02", "--until", "2026-04-01"), "Give the first day, then the last one"),
        (("Anvil", "--out", "2026-04-02"), "Anvil is not laid up on 2 April 2026."),
        (("Anvil", "--from", "2026-04-02", "--by", "a\nb"), "line break"),
    ],
)
def test_what_cannot_be_is_one_line_with_what_to_do_and_changes_nothing(
    run: Run, home: Path, words: tuple[str, ...], part: str
) -> None:
    version = version_of(home)
    assert part in run("layup", *words).sentence
    assert version_of(home) == version


def test_a_reading_that_moved_inside_the_spell_is_named(run: Run) -> None:
    sentence = run("layup", "Anvil", "--from", demo_day("2026-02-20")).sentence
    assert "Anvil moved in that time: 112 640 mi on" in sentence
    assert "Give days in which no reading moved, or correct that reading first." in sentence


def test_that_it_changed_hands_is_noted_and_told_in_the_chain(run: Run) -> None:
    on = demo_day("2026-02-03")
    before = run("explain", "Anvil", "engine oil").out
    noted = run("event", "Anvil", "Changed-Hands", "--on", on)
    assert (noted.status, noted.err) == (0, "")
    answer = run("explain", "Anvil", "engine oil")
    assert "It changed hands on " in answer.out
    assert "less is taken from before" in answer.out
    assert "changed hands" not in before
    data = run("explain", "Anvil", "engine oil", "--json").data
    assert data["changes"][0]["why"].startswith("changed-hands on ")
    assert "Did you mean changed-hands?" in run("event", "Anvil", "changed hand", "--on", on).sentence


def test_a_spell_with_an_open_end_goes_out_and_comes_back_as_it_is(run: Run, tmp_path: Path) -> None:
    assert run("layup", "Raft", "--from", demo_day("2026-04-02")).status == 0
    assert run("export", str(tmp_path / "files")).status == 0
    other = tmp_path / "other"
    assert run_in(other, "init").status == 0
    answer = run_in(other, "import", str(tmp_path / "files"))
    assert (answer.status, answer.err) == (0, "")
    line = ("explain", "Raft", "trailer brake linings", "--json")
    assert [step["text"] for step in run_in(other, *line).data["steps"]] == [
        step["text"] for step in run(*line).data["steps"]
    ]
    assert run_in(other, "layup", "Raft", "--from", demo_day("2026-04-02"), "--json").data["known"]
    assert run_in(other, "check").status == 0
