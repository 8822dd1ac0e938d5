"""What all commands share: help, one line for what cannot be read, the home, exit statuses."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from fleetcare import __version__
from tests.cli.conftest import Run, run_in
from tests.cli.small_garage import write_garage
from tests.house.tree import ROOT

COMMANDS = (
    *("init", "import", "export", "feed", "digest", "link", "due", "explain", "check", "serve", "demo", "reading"),
    *("done", "event", "layup", "backtest", "fit", "refresh", "letters", "token", "tag", "find", "backup", "restore"),
    *("shopping", "shelf", "history", "plan", "draw", "look"),
)
WITHOUT_HOME = ("forecast", "schedule")
"""It answers from lines alone, and always in JSON."""
OF_TWO_WORDS = ("bay", "calendar", "component", "vehicle", "work")
"""What follows them has its own help; see its own tests."""


def process(*words: str, home: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """A whole process, as a shell starts it."""
    return subprocess.run(
        [sys.executable, "-c", "from fleetcare.cli import main; main()", *words],
        env={**os.environ, "PYTHONPATH": str(ROOT), "FLEETCARE_HOME": str(home), **environment},
        cwd=home.parent,
        capture_output=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(name: str) -> None:
    answer = run_in(None, name, "--help")
    assert (answer.status, answer.err) == (0, "")
    assert f"fleetcare {name}" in answer.out.replace("root ", "fleetcare ")
    assert "--home" in answer.out
    assert "--json" in answer.out


def test_the_list_of_commands_is_whole() -> None:
    listed = run_in(None, "--help").out.partition("Commands:")[2]
    assert {line.split()[0] for line in listed.splitlines() if line.startswith("  ") and line[2] != " "} == {
        *COMMANDS,
        *WITHOUT_HOME,
        *OF_TWO_WORDS,
    }


def test_the_bare_name_shows_what_there_is_and_is_no_mistake() -> None:
    bare, asked = run_in(None), run_in(None, "--help")
    assert (bare.status, bare.err) == (0, "")
    assert bare.out == asked.out


def test_the_version_is_said() -> None:
    assert run_in(None, "--version").out.strip() == __version__


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (("reading",), "Missing argument"),
        (("reading", "Anvil"), "Missing argument"),
        (("raeding", "Anvil", "1"), "No such command"),
        (("due", "--witin", "3"), "--within"),
        (("due", "--within", "soon"), "--within"),
        (("due", "--within", "-3"), "--within"),
        (("due", "--within"), "requires an argument"),
        (("due", "Anvil"), "unexpected extra argument"),
        (("serve", "--port", "99999"), "--port"),
    ],
)
def test_a_line_that_cannot_be_read_is_answered_in_one_line_with_where_to_look(
    words: tuple[str, ...], part: str
) -> None:
    sentence = run_in(None, *words).sentence
    assert part in sentence
    assert sentence.endswith("--help")


def test_the_home_comes_from_the_option_then_from_the_environment(home: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty"
    assert run_in(home, "due").status == 0
    assert "no garage here yet" in run_in(empty, "due").sentence
    assert "no garage here yet" in run_in(home, "due", "--home", str(empty)).sentence
    assert run_in(empty, "due", "--home", str(home)).status == 0


@pytest.mark.parametrize(
    ("text", "part"),
    [("[web]\nprt = 3\n", "prt"), ("[web\n", "line"), ("[web]\nport = 'x'\n", "port")],
)
def test_settings_that_are_wrong_stop_every_command_and_name_the_place(home: Path, text: str, part: str) -> None:
    (home / "settings.toml").write_text(text, encoding="utf-8")
    answer = run_in(home, "due")
    assert (answer.status, answer.out) == (2, "")
    assert part in answer.err
    assert "settings.toml" in answer.err


@pytest.mark.parametrize("address", ["nonsense", "mysql://a/b", "sqlite://"])
def test_a_database_address_that_is_none_is_refused_with_what_to_write(run: Run, address: str) -> None:
    assert "sqlite:///" in run("due", env={"FLEETCARE_DATABASE": address}).sentence


def test_a_database_that_does_not_answer_means_try_again(run: Run) -> None:
    # Port 1 of this machine: nobody listens there.
    answer = run("due", env={"FLEETCARE_DATABASE": "postgresql://nobody:x@127.0.0.1:1/none"})
    assert (answer.status, answer.out, answer.err.count("\n")) == (3, "", 1), answer.err
    assert ":x@" not in answer.err


def test_a_damaged_database_is_said_and_left_as_it_is(home: Path) -> None:
    database = home / "fleetcare.sqlite3"
    database.write_bytes(b"this is no database, only some words that somebody saved here by mistake" * 50)
    before = database.read_bytes()
    answer = run_in(home, "due")
    assert (answer.status, answer.err.count("\n")) == (3, 1)
    assert "damaged" in answer.err
    assert database.read_bytes() == before


def test_whole_processes_end_with_the_status_and_keep_words_and_data_apart(home: Path) -> None:
    fine = process("due", "--json", home=home)
    assert (fine.returncode, fine.stderr) == (0, b"")
    wrong = process("reading", "Anvil", "84k", home=home)
    assert (wrong.returncode, wrong.stdout, wrong.stderr.count(b"\n")) == (2, b"", 1)
    feed = process("feed", "ines", home=home)
    assert feed.stdout.startswith(b"BEGIN:VCALENDAR\r\n")
    assert feed.stdout.endswith(b"END:VCALENDAR\r\n")


def test_a_reader_who_stops_reading_is_met_without_a_traceback(home: Path) -> None:
    command = f"{sys.executable} -c 'from fleetcare.cli import main; main()' due | head -1"
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "FLEETCARE_HOME": str(home)}
    run = subprocess.run(command, shell=True, env=environment, capture_output=True, check=False)
    assert run.stdout.count(b"\n") == 1
    assert b"Traceback" not in run.stderr


def test_a_terminal_without_the_signs_we_use_still_gets_its_answer(home: Path) -> None:
    due = process("due", home=home, PYTHONIOENCODING="ascii")
    assert (due.returncode, due.stderr) == (0, b"")
    wrong = process("explain", "Anvyl", "x", home=home, PYTHONIOENCODING="ascii")
    assert (wrong.returncode, wrong.stderr.count(b"\n")) == (2, 1)


def test_init_twice_is_harmless(tmp_path: Path) -> None:
    home = tmp_path / "new"
    first = run_in(home, "init", "--json").data
    assert first["home"] == str(home)
    assert {Path(path).name for path in first["written"]} == {"settings.toml", "interval_book.toml"}
    (home / "settings.toml").write_text("[web]\nport = 9001\n", encoding="utf-8")
    assert run_in(home, "init", "--json").data["written"] == []
    assert "9001" in (home / "settings.toml").read_text(encoding="utf-8")
    assert run_in(home, "import", str(write_garage(tmp_path / "files"))).status == 0
    assert run_in(home, "init").status == 0
    assert run_in(home, "due", "--json").data
