"""What README.md tells people to type exists and works on the demo garage."""

from __future__ import annotations

import contextlib
import json
import os
import re
import select
import shlex
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from fleetcare.assemble import assemble
from fleetcare.cli import frame
from fleetcare.cli.serving import load_demo
from fleetcare.settings.new_home import write_new_home
from tests.house.guide import blocks
from tests.house.tree import ROOT

README = (ROOT / "README.md").read_text(encoding="utf-8")
SERVES = ("serve", "demo")
"""Commands that run until they are stopped; `demo` has a test of its own."""
COMPUTES_AT_MOST_S = 10.0
"""Processor time of the whole run. Somebody who looks at it for the first time waits for no longer than that.

Not time on the wall: the same run takes three seconds on an idle machine and more than ten on a busy one.
"""
GIVE_UP_AFTER_S = 60.0
LETTERS_WITHIN_S = 20.0


def block_under(marker: str) -> str:
    """The fenced block directly under a marker."""
    found = re.search(rf"^<!-- {marker} -->\n```sh\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    assert found, f"README.md has no block directly under <!-- {marker} -->"
    return found[1].strip()


def example_lines() -> list[str]:
    """Lines of the code blocks that begin with `fleetcare`, without their remarks."""
    lines = [line for language, body in blocks(README) if language == "sh" for line in body.splitlines()]
    return [line for line in lines if line.startswith("fleetcare ")]


def words_of(line: str) -> list[str]:
    """What a shell makes of a line, after the name of the command."""
    return shlex.split(line, comments=True)[1:]


APP = frame.all_commands()
EXAMPLES = [line for line in example_lines() if words_of(line)[0] not in SERVES]


@pytest.mark.parametrize("marker", ["demo command", "test command"])
def test_the_command_under_a_marker_names_what_exists(marker: str) -> None:
    """The console script of pyproject.toml, an extra that is there, and a folder of tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    command = block_under(marker)
    assert "\n" not in command
    parts = [shlex.split(part) for part in command.split("&&")]
    assert parts[0] == ["python3", "-m", "venv", ".venv"]
    assert parts[1][:4] == [".venv/bin/pip", "install", "-q", "-e"]
    extras = re.fullmatch(r"\.(?:\[([\w,-]+)\])?", parts[1][4])
    assert extras
    wanted = set((extras[1] or "").split(",")) - {""}
    assert wanted <= set(project["project"]["optional-dependencies"])
    if marker == "demo command":
        script, word = parts[2]
        assert script == ".venv/bin/fleetcare"
        assert project["project"]["scripts"]["fleetcare"] == "fleetcare.cli:main"
        assert word in {command.name for command in APP.registered_commands}
    else:
        assert wanted == {"dev"}
        assert parts[2] == [".venv/bin/python", "-m", "pytest", "-n", "2", "--dist", "loadfile"]
        assert any(one.startswith("pytest-xdist") for one in project["project"]["optional-dependencies"]["dev"])
        assert project["tool"]["pytest"]["ini_options"]["testpaths"] == ["tests"]


def test_the_guide_shows_the_usual_commands() -> None:
    """The examples below are not empty, and name commands that are registered."""
    known = {command.name for command in APP.registered_commands} | {group.name for group in APP.registered_groups}
    shown = {words_of(line)[0] for line in example_lines()}
    assert shown <= known
    assert shown >= {"init", "import", "reading", "due", "explain", "done", "event", "digest", "link", "check"}


@pytest.fixture
def at_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to type in, with the demo garage as the home; `init` and `import` find nothing there yet."""
    (tmp_path / "my_garage").symlink_to(ROOT / "demo_fleet")
    monkeypatch.chdir(tmp_path)
    for name in [name for name in os.environ if name.startswith("FLEETCARE_")]:
        monkeypatch.delenv(name)
    home = tmp_path / "home"
    monkeypatch.setenv("FLEETCARE_HOME", str(home))
    return home


@pytest.mark.parametrize("line", EXAMPLES)
def test_an_example_works_on_the_demo_garage(at_home: Path, line: str) -> None:
    """Ends with 0 and says something; what it writes breaks no promise."""
    if words_of(line)[0] not in ("init", "import"):
        write_new_home(at_home)
        parts, _ = load_demo(assemble(at_home, {}))
        parts.close()
    result = CliRunner().invoke(APP, words_of(line))
    assert result.exit_code == 0, f"{result.stdout}{result.stderr}"
    assert result.stdout.strip()
    if words_of(line)[0] != "init":
        proof = CliRunner().invoke(APP, ["check", "--json"])
        assert proof.exit_code == 0, proof.stdout


def test_an_example_that_does_not_work_would_be_noticed(at_home: Path) -> None:
    """A vehicle that is not there ends with 2 and one line; so does any command in a home without a garage."""
    result = CliRunner().invoke(APP, words_of('fleetcare explain Anvil "rear axle fluid"'))
    assert result.exit_code == 2
    write_new_home(at_home)
    parts, _ = load_demo(assemble(at_home, {}))
    parts.close()
    result = CliRunner().invoke(APP, ["reading", "Anvill", "84210"])
    assert result.exit_code == 2
    assert "Anvil" in result.stderr
    assert len(result.stderr.strip().splitlines()) == 1


def test_the_examples_work_one_after_the_other(at_home: Path) -> None:
    """In the order of the guide, in one home, as somebody would who types along."""
    for line in EXAMPLES:
        result = CliRunner().invoke(APP, words_of(line))
        assert result.exit_code == 0, f"{line}\n{result.stdout}{result.stderr}"


@contextlib.contextmanager
def demo_running(home: Path) -> Iterator[dict[str, object]]:
    """What `fleetcare demo --json` prints once it answers; it is ended with SIGTERM when the block ends."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("FLEETCARE_")}
    words = ["-c", "from fleetcare.cli import main; main()", "demo", "--json", "--port", "0", "--home", str(home)]
    running = subprocess.Popen(
        [sys.executable, *words],
        cwd=home.parent,
        env={**environment, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        text=True,
    )
    try:
        assert running.stdout is not None
        readable, _, _ = select.select([running.stdout], [], [], GIVE_UP_AFTER_S)
        assert readable, "demo printed nothing"
        line = running.stdout.readline()
        assert line, running.stderr.read() if running.stderr else ""
        yield json.loads(line)
        assert running.poll() is None, "demo stopped by itself"
    finally:
        running.send_signal(signal.SIGTERM)
        try:
            more, said = running.communicate(timeout=15)
        except subprocess.TimeoutExpired:
            running.kill()
            raise
    assert more == "", "more than one line"
    assert said == ""
    assert running.returncode in (0, -signal.SIGTERM)


@pytest.mark.skipif(os.name != "posix", reason="SIGTERM and select on pipes are POSIX")
def test_the_demo_answers_soon_and_at_every_address_it_prints(tmp_path: Path) -> None:
    """One line of JSON; front page, every feed and odometer page answer, and letters lie in the folder."""
    before = os.times()
    with demo_running(tmp_path / "demo") as printed:
        assert set(printed) == {"front", "feeds", "readings", "sign_in", "letters", "home"}
        feeds, readings = printed["feeds"], printed["readings"]
        assert isinstance(feeds, dict)
        assert isinstance(readings, dict)
        assert {len(feeds), len(readings)} == {7, 8}
        with httpx.Client(timeout=20, trust_env=False) as client:
            for address in (printed["front"], *feeds.values(), *readings.values(), printed["sign_in"]):
                answer = client.get(str(address))
                assert answer.status_code == 200, address
        letters = Path(str(printed["letters"]))
        until_s = time.monotonic() + LETTERS_WITHIN_S
        while not list(letters.glob("*.eml")) and time.monotonic() < until_s:
            time.sleep(0.1)
        assert list(letters.glob("*.eml"))
    after = os.times()
    computed_s = after.children_user + after.children_system - before.children_user - before.children_system
    assert 0 < computed_s <= COMPUTES_AT_MOST_S
