"""What is typed as a number is one number on the command line and in a file, or none."""

from __future__ import annotations

from pathlib import Path

from tests.cli.conftest import Run, demo_day, version_of
from tests.intake.dial_corpus import OTHER_UNIT, REFUSED, SAME, SAME_WITH_UNIT

ON = demo_day("2026-04-13")


def test_every_way_of_writing_one_number_is_one_reading_on_the_command_line(run: Run) -> None:
    known = [run("reading", "BE", text, "--on", ON, "--json").data for text in (*SAME, *SAME_WITH_UNIT)]
    assert {(told["reading"]["value"], told["reading"]["unit"]) for told in known} == {("84210", "mi")}
    assert [told["known"] for told in known] == [False] + [True] * (len(known) - 1)


def test_what_is_not_one_number_changes_nothing_on_the_command_line(run: Run, home: Path) -> None:
    before = version_of(home)
    for text in REFUSED:
        assert run("reading", "BE", "--on", ON, "--", text).sentence.endswith("."), text
    for text in OTHER_UNIT:
        assert "was chosen beside it" in run("reading", "BE", text, "--unit", "mi", "--on", ON).sentence
    assert version_of(home) == before


def test_every_way_of_writing_one_number_is_one_reading_in_a_file(run: Run, tmp_path: Path) -> None:
    """One file for each spelling: a file that holds several shows by the others what its comma means."""
    new = []
    for number, text in enumerate(SAME):
        file = tmp_path / f"readings{number}.csv"
        file.write_text(f"vehicle;date;value;unit\nBE;{ON};{text};mi\n", encoding="utf-8")
        new.append(run("import", str(file), "--json").data)
    assert [(told["new"].get("readings", 0), told["known_readings"]) for told in new] == [(1, 0)] + [(0, 1)] * (
        len(SAME) - 1
    )


def test_what_is_not_one_number_is_named_with_its_line_in_a_file(run: Run, home: Path, tmp_path: Path) -> None:
    before = version_of(home)
    for number, text in enumerate(REFUSED):
        file = tmp_path / f"readings{number}.csv"
        file.write_text(f'vehicle;date;value;unit\nBE;{ON};"{text}";mi\n', encoding="utf-8")
        answer = run("import", str(file))
        assert answer.status == 2, text
        assert "line 2" in answer.err, (text, answer.err)
    assert version_of(home) == before
