"""The check that runs before a change goes in: it takes its test command from README.md, or stops."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from tests.house.tree import ROOT

RUN = ROOT / ".ci" / "run"
MARK = "<!-- test command -->"


def answer_for(readme: Path) -> subprocess.CompletedProcess[str]:
    """What `.ci/run --test-command` says of a README."""
    command = ["bash", str(RUN), "--test-command", str(readme)]
    return subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)


def test_it_can_be_run() -> None:
    assert os.access(RUN, os.X_OK)
    assert subprocess.run(["bash", "-n", str(RUN)], check=False).returncode == 0


def test_the_readme_holds_a_test_command_that_makes_the_environment_and_runs_the_tests() -> None:
    run = answer_for(ROOT / "README.md")
    assert run.returncode == 0, run.stderr
    assert ".venv" in run.stdout
    assert "pytest" in run.stdout


def test_the_command_is_the_block_under_the_mark(tmp_path: Path) -> None:
    """Not the block before it, not the one after it; every line of it, backslashes and all."""
    readme = tmp_path / "README.md"
    block = "python3 -m venv .venv\n.venv/bin/pip install \\\n    -e '.[dev]'\n.venv/bin/python -m pytest"
    readme.write_text(
        f"# X\n```sh\nbefore\n```\ntext\n{MARK}\n```sh\n{block}\n```\n\n```sh\nafter\n```\n", encoding="utf-8"
    )
    run = answer_for(readme)
    assert (run.returncode, run.stdout) == (0, block + "\n")


@pytest.mark.parametrize(
    "text",
    [
        "# X\n```sh\npytest\n```\n",
        f"{MARK}\n",
        f"{MARK}\n\n```sh\npytest\n```\n",
        f"{MARK}\n```sh\n\n```\n",
        f"{MARK}\n```sh\npytest\n",
        f"text {MARK}\n```sh\npytest\n```\n",
    ],
    ids=["no mark", "no block", "not directly under it", "empty", "not closed", "mark not alone"],
)
def test_without_a_command_it_stops_and_says_so(tmp_path: Path, text: str) -> None:
    readme = tmp_path / "README.md"
    readme.write_text(text, encoding="utf-8")
    run = answer_for(readme)
    assert (run.returncode, run.stdout) == (1, "")
    assert "no test command in" in run.stderr


def test_an_unknown_word_is_refused() -> None:
    run = subprocess.run(["bash", str(RUN), "--fast"], capture_output=True, text=True, check=False)
    assert run.returncode == 1
    assert "--test-command" in run.stderr
