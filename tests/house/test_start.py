"""Starting: asking for help, or importing the commands, loads no heavy library."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.house.tree import ROOT

HEAVY = (
    *("alembic", "apscheduler", "fastapi", "highspy", "httpx", "icalendar", "jinja2", "numpy", "ortools"),
    *("psycopg", "pydantic", "rich", "scipy", "sqlalchemy", "sqlmodel", "starlette", "uvicorn"),
)

# Runs code in a fresh interpreter and hands back which modules it has loaded when it ends, however it ends.
PROBE = """
import atexit, json, sys
answer, code, *sys.argv = sys.argv[1:]
atexit.register(lambda: open(answer, "w").write(json.dumps(sorted(sys.modules))))
exec(code)
"""


def loaded_by(code: str, *argv: str, folder: Path) -> tuple[set[str], subprocess.CompletedProcess[str]]:
    """The heavy libraries loaded when the code has run, and how the run ended."""
    answer = folder / "modules.json"
    run = subprocess.run(
        [sys.executable, "-c", PROBE, str(answer), code, *argv],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    roots = {name.split(".")[0] for name in json.loads(answer.read_text(encoding="utf-8"))}
    return roots & set(HEAVY), run


def test_importing_the_commands_loads_no_heavy_library(tmp_path: Path) -> None:
    heavy, run = loaded_by("import fleetcare.cli", folder=tmp_path)
    assert (run.returncode, heavy) == (0, set()), run.stderr


def test_help_loads_no_heavy_library(tmp_path: Path) -> None:
    heavy, run = loaded_by("from fleetcare.cli import main; main()", "fleetcare", "--help", folder=tmp_path)
    assert (run.returncode, heavy) == (0, set()), run.stderr
    assert "reading" in run.stdout


def test_saying_the_version_of_the_package_loads_no_heavy_library(tmp_path: Path) -> None:
    heavy, run = loaded_by("import fleetcare; print(fleetcare.__version__)", folder=tmp_path)
    assert (run.returncode, heavy) == (0, set()), run.stderr
    assert run.stdout.strip()


@pytest.mark.parametrize("library", HEAVY)
def test_a_heavy_library_would_be_noticed(tmp_path: Path, library: str) -> None:
    """The probe sees it, also behind an import inside a function and an early exit."""
    heavy, run = loaded_by(f"def f():\n    import {library}\n    raise SystemExit(3)\nf()", folder=tmp_path)
    assert run.returncode == 3, run.stderr
    assert library in heavy
