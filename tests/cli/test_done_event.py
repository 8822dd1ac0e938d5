"""The commands `done` and `event`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.conftest import Run, demo_day, version_of

DAY = demo_day("2026-04-13")


def line_of(run: Run, vehicle: str, service: str) -> dict[str, object]:
    """One line as data."""
    lines = run("due", "--vehicle", vehicle, "--json").data
    found: dict[str, object] = next(line for line in lines if line["service"] == service)
    return found


def test_work_done_starts_the_line_anew_and_says_what_moved(run: Run) -> None:
    before = line_of(run, "Anvil", "rear-axle-fluid")
    answer = run("done", "Anvil", "rear axle fluid", "--at", "113300", "--on", DAY, "--by", "teo")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.startswith("Done: Anvil, Rear axle fluid, cover reseal.\n")
    assert "Rear axle fluid, cover reseal: early" in answer.out
    after = line_of(run, "Anvil", "rear-axle-fluid")
    assert after["last_done"] == DAY
    assert str(after["early"]) > str(before["late"])


def test_findings_are_kept_with_the_day_to_look_again(run: Run, tmp_path: Path) -> None:
    again = demo_day("2026-05-30")
    words = ("--on", DAY, "--finding", "paste on the magnet", "--finding", "vent dry", "--look-again", again)
    data = run("done", "Anvil", "rear-axle/rear-axle-fluid", *words, "--json").data
    assert (data["known"], data["line"]["last_done"]) == (False, DAY)
    assert run("export", str(tmp_path / "out")).status == 0
    text = (tmp_path / "out" / "work.csv").read_text(encoding="utf-8")
    assert "paste on the magnet" in text
    assert "vent dry" in text
    assert again in text


def test_the_same_work_twice_is_one_record(run: Run, home: Path) -> None:
    words = ("done", "Anvil", "rear axle fluid", "--on", DAY, "--finding", "clean")
    assert run(*words).status == 0
    version = version_of(home)
    assert run(*words).out == "Anvil: that work stands here already.\n"
    assert "without “a chip”" in run(*words, "--finding", "a chip").sentence, "no finding vanishes unsaid"
    assert version_of(home) == version


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Anvyl", "rear axle fluid"), "Did you mean Anvil?"),
        (("Anvil", "rear axel fluid"), "Did you mean rear axle fluid?"),
        (("Anvil", "axle"), "front-axle/front-axle-fluid, rear-axle/rear-axle-fluid, rear-axle/axle-vents"),
        (("Anvil", ""), "no service on Anvil"),
        (("Anvil", "rear axle fluid", "--on", "2190-01-01"), "still to come"),
        (("Anvil", "rear axle fluid", "--at", "500"), "Anvil: "),
        (("Anvil", "rear axle fluid", "--at", "-5"), "never shows less than nought"),
        (("Plank", "coupling", "--at", "500"), "Give the day alone."),
        (("Anvil", "rear axle fluid", "--look-again", "2190-01-01"), "--finding"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_one_sentence_and_changes_nothing(
    run: Run, home: Path, words: tuple[str, ...], part: str
) -> None:
    version = version_of(home)
    assert part in run("done", "--on", DAY, *words).sentence
    assert version_of(home) == version


def test_an_event_makes_the_lines_that_follow_it_due(run: Run) -> None:
    answer = run("event", "Bellows", "Immersion", "--on", DAY, "--component", "rear-axle", "--note", "the ford")
    assert (answer.status, answer.err) == (0, "")
    assert answer.out.startswith("Noted: Bellows, Immersion.\n")
    assert line_of(run, "Bellows", "axle-after-immersion")["limit"] == "event"


def test_an_event_twice_moves_nothing_the_second_time(run: Run) -> None:
    words = ("event", "Bellows", "immersion", "--on", DAY, "--component", "rear-axle", "--json")
    assert run(*words).data["moved"]
    assert run(*words).data["moved"] == []


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("Bellow", "immersion"), "Did you mean Bellows?"),
        (("Bellows", "imersion"), "Did you mean immersion?"),
        (("Bellows", "immersion", "--component", "rear-axel"), "Did you mean rear-axle?"),
        (("Bellows", "immersion", "--on", "2190-01-01"), "as a booking"),
    ],
)
def test_an_event_that_cannot_be_is_refused(run: Run, home: Path, words: tuple[str, ...], part: str) -> None:
    version = version_of(home)
    assert part in run("event", *words).sentence
    assert version_of(home) == version


def test_a_note_with_a_line_break_is_refused_because_no_file_could_bring_it_back(run: Run) -> None:
    answer = run("done", "Anvil", "engine oil", "--on", DAY, "--note", "first\nsecond")
    assert "line break" in answer.sentence
