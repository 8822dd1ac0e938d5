"""A home with the demo garage, moved to this week, and a way to run commands in it."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from fleetcare.assemble import Parts, assemble
from fleetcare.cli.frame import all_commands
from fleetcare.cli.serving import load_demo
from fleetcare.clock import MachineClock


@dataclass(frozen=True)
class Answer:
    """What a command printed, and its exit status."""

    status: int
    out: str
    err: str
    raw: bytes

    @property
    def data(self) -> Any:
        """What `--json` printed: one line."""
        assert self.out.count("\n") == 1, self.out
        return json.loads(self.out)

    @property
    def sentence(self) -> str:
        """The one line that says what is wrong with what was given."""
        assert (self.status, self.out) == (2, ""), (self.status, self.out, self.err)
        assert self.err.count("\n") == 1, self.err
        return self.err.strip()


Run = Callable[..., Answer]


def run_in(home: Path | None, *words: str, env: dict[str, str] | None = None) -> Answer:
    """Runs one command line in a home."""
    result = CliRunner().invoke(
        all_commands(), list(words), env={"FLEETCARE_HOME": "" if home is None else str(home), **(env or {})}
    )
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    # Thousands stand apart by a thin space (U+2009); the tests read it as a blank.
    out, err = (text.replace("\u2009", " ") for text in (result.stdout, result.stderr))
    return Answer(result.exit_code, out, err, result.stdout_bytes)


@pytest.fixture(scope="session")
def _filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("filled") / "home"
    assert run_in(home, "init").status == 0
    parts, _ = load_demo(parts_of_home(home))
    parts.close()
    return home


@pytest.fixture
def home(_filled: Path, tmp_path: Path) -> Path:
    """A home of one's own with the demo garage in it."""
    copy = tmp_path / "home"
    shutil.copytree(_filled, copy)
    return copy


@pytest.fixture
def run(home: Path) -> Run:
    """Runs a command in that home."""
    return lambda *words, **options: run_in(home, *words, **options)


def parts_of_home(home: Path) -> Parts:
    """The parts of a home, to look behind the commands."""
    return assemble(home, {})


def demo_day(written: str) -> str:
    """A day of the demo's files as it stands in the home: moved by whole weeks, as near to today as that goes."""
    weeks = (MachineClock().now().date() - date(2026, 4, 14)).days // 7
    return (date.fromisoformat(written) + timedelta(weeks=weeks)).isoformat()


def version_of(home: Path) -> int:
    """The count that rises with every committed write."""
    parts = parts_of_home(home)
    try:
        with parts.store.read() as view:
            return view.version()
    finally:
        parts.close()
