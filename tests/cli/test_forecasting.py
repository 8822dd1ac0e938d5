"""The command forecast: lines in, lines out, and what it loads."""

from __future__ import annotations

import json
import os
import select
import subprocess
import sys
from pathlib import Path
from typing import IO, Any

import pytest

from tests.cli.conftest import Answer, run_in
from tests.cli.test_start import PROBE
from tests.house.tree import ROOT

COMMAND = (sys.executable, "-c", "from fleetcare.cli import main; main()", "forecast")
PATIENCE_S = 60.0


def vehicle(name: str, **changed: Any) -> dict[str, Any]:
    return {
        "id": name,
        "unit": "km",
        "as_of": "2026-03-31",
        "readings": [["2025-12-01", 80_000], ["2026-01-01", 81_100], ["2026-02-01", 82_000], ["2026-03-31", 84_210]],
        "services": [{"id": "oil", "due_at": 92_210}],
        **changed,
    }


def lines_of(*vehicles: dict[str, Any] | str) -> str:
    return "".join(f"{one if isinstance(one, str) else json.dumps(one)}\n" for one in vehicles)


def forecast(tmp_path: Path, text: str | bytes, *words: str) -> Answer:
    """Runs the command on a file."""
    file = tmp_path / "vehicles.jsonl"
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return run_in(None, "forecast", str(file), *words)


def answers(answer: Answer) -> list[dict[str, Any]]:
    return [json.loads(line) for line in answer.out.splitlines()]


def process(**more: Any) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        COMMAND, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **more
    )


def soon(stream: IO[bytes]) -> bytes:
    """The next line, which is there while the sender still holds the pipe open."""
    ready, _, _ = select.select([stream], [], [], PATIENCE_S)
    assert ready, "nothing came"
    return stream.readline()


def test_each_vehicle_is_answered_on_a_line_in_the_order_given(tmp_path: Path) -> None:
    given = lines_of(*(vehicle(name) for name in ("b", "a", "c")))
    answer = forecast(tmp_path, given)
    assert (answer.status, answer.err) == (0, "")
    found = answers(answer)
    assert [one["id"] for one in found] == ["b", "a", "c"]
    assert found[0]["services"] == found[2]["services"]
    early, likely, late = found[0]["services"]["oil"]
    assert "2026-03-31" < early < likely < late
    assert found[0]["suspect"] == []
    assert set(found[0]) == {"id", "services", "suspect"}


def test_the_help_shows_an_example_and_its_true_answer(tmp_path: Path) -> None:
    """The lines of the help, put together as it says, give the answer that stands below them."""
    shown = run_in(None, "forecast", "--help").out
    block = shown[shown.index('  {"id"') : shown.index("(Shown on several lines")]
    flat = " ".join(block.split())
    decoder = json.JSONDecoder()
    given, end = decoder.raw_decode(flat)
    told, _ = decoder.raw_decode(flat[end:].strip())
    assert answers(forecast(tmp_path, lines_of(given))) == [told]


def test_a_bad_line_is_named_and_the_others_are_answered(tmp_path: Path) -> None:
    bad = vehicle("bad", readings=[["2025-12-01", 80_000], ["2026-01-01", "81100"]])
    given = lines_of(vehicle("one"), "", bad, '{"id": "x"', vehicle("odd", colour="red"), vehicle("two"))
    answer = forecast(tmp_path, given)
    assert answer.status == 2
    assert [one["id"] for one in answers(answer)] == ["one", "two"]
    third, fourth, fifth = answer.err.splitlines()
    assert third.startswith("line 3, readings[1]: ")
    assert third.endswith("Write a plain number, without quotes.")
    assert fourth.startswith("line 4: This is not JSON")
    assert fifth.startswith("line 5: There is no key “colour”")


def test_a_reading_that_cannot_be_is_a_suspect_by_its_place(tmp_path: Path) -> None:
    rows = [["2025-12-01", 80_000], ["2026-01-01", 81_100], ["2026-02-01", 8_200], ["2026-03-31", 84_210]]
    (found,) = answers(forecast(tmp_path, lines_of(vehicle("one", readings=rows))))
    assert found["suspect"] == [2]
    (without,) = answers(forecast(tmp_path, lines_of(vehicle("one", readings=[*rows[:2], rows[3]]))))
    assert found["services"] == without["services"]


def test_blank_lines_a_byte_order_mark_and_a_missing_last_newline_are_nothing(tmp_path: Path) -> None:
    text = f"\n{lines_of(vehicle('one'))}\r\n\n{json.dumps(vehicle('two'))}"
    answer = forecast(tmp_path, b"\xef\xbb\xbf" + text.encode())
    assert (answer.status, [one["id"] for one in answers(answer)]) == (0, ["one", "two"])
    assert forecast(tmp_path, "").out == ""


def test_numbers_of_ones_own_are_reckoned_with(tmp_path: Path) -> None:
    given = lines_of(vehicle("new", readings=[], services=[{"id": "oil", "remaining": 8000}]))
    numbers = tmp_path / "numbers.toml"
    numbers.write_text("[pace]\nm0 = 4.72\n")
    (plain,), (faster,) = (
        answers(forecast(tmp_path, given)),
        answers(forecast(tmp_path, given, "--numbers", str(numbers))),
    )
    assert faster["services"]["oil"][1] < plain["services"]["oil"][1]
    shipped = str(ROOT / "config" / "forecast.toml")
    assert answers(forecast(tmp_path, given, "--numbers", shipped)) == [plain]


@pytest.mark.parametrize("words", [("nowhere.jsonl",), ("-", "--numbers", "nowhere.toml")])
def test_a_file_that_is_not_there_is_said_in_one_line(words: tuple[str, ...]) -> None:
    assert "nowhere" in run_in(None, "forecast", *words).sentence


def test_numbers_that_cannot_be_are_said_with_their_line(tmp_path: Path) -> None:
    numbers = tmp_path / "numbers.toml"
    numbers.write_text("[pace]\npsi = -1\n")
    answer = forecast(tmp_path, lines_of(vehicle("one")), "--numbers", str(numbers))
    assert "numbers.toml, line 2: " in answer.sentence


def test_from_a_pipe_each_line_is_answered_before_the_next_is_there() -> None:
    with process() as running:
        assert running.stdin is not None
        assert running.stdout is not None
        assert running.stderr is not None
        for name in ("one", "two", "three"):
            running.stdin.write(lines_of(vehicle(name)).encode())
            running.stdin.flush()
            assert json.loads(soon(running.stdout))["id"] == name
        running.stdin.write(b"nonsense\n")
        running.stdin.flush()
        assert soon(running.stderr).startswith(b"line 4: ")
        running.stdin.close()
        assert running.wait(PATIENCE_S) == 2


def test_a_reader_that_goes_away_ends_it_in_peace() -> None:
    with process() as running:
        assert running.stdin is not None
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdin.write(lines_of(vehicle("one")).encode())
        running.stdin.flush()
        soon(running.stdout)
        running.stdout.close()
        running.stdin.write(lines_of(vehicle("two")).encode())
        running.stdin.close()
        assert running.wait(PATIENCE_S) == 0
        assert running.stderr.read() == b""


def test_the_same_lines_give_the_same_bytes_from_a_file_and_from_a_pipe(tmp_path: Path) -> None:
    text = lines_of(*(vehicle(str(number)) for number in range(20)))
    piped = subprocess.run(COMMAND, cwd=ROOT, input=text.encode(), capture_output=True, check=True)
    assert piped.stdout == forecast(tmp_path, text).raw


def test_a_line_without_end_is_refused_and_the_next_answered(tmp_path: Path) -> None:
    endless = b'{"id": "' + b"x" * 32_000_001 + b'"}\n'
    answer = forecast(tmp_path, endless + lines_of(vehicle("two")).encode())
    assert (answer.status, [one["id"] for one in answers(answer)]) == (2, ["two"])
    assert answer.err == "line 1: The line is longer than 32 MB. Split it.\n"


def test_it_loads_no_numpy_and_no_database_and_needs_no_home(tmp_path: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-c", PROBE, "forecast"],
        env={**os.environ, "PYTHONPATH": str(ROOT), "FLEETCARE_HOME": str(tmp_path / "none")},
        input=lines_of(vehicle("one")),
        capture_output=True,
        text=True,
        check=False,
    )
    assert (run.returncode, run.stdout.count("\n")) == (0, 1), run.stderr
    loaded = set(run.stderr.split())
    assert {"fleetcare", "typer"} <= loaded, "the probe sees what is loaded"
    assert loaded & {"numpy", "scipy", "sqlalchemy", "fastapi", "icalendar", "jinja2", "rich"} == set()
    assert not (tmp_path / "none").exists()
