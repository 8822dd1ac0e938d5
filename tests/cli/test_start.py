"""What a command loads: nothing it does not need, because it is waited for."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import sqlalchemy as sa
from alembic.script import ScriptDirectory

from fleetcare.store.migrating import configuration, newest_revision
from tests.cli.conftest import demo_day
from tests.house.tree import ROOT

PROBE = """
import atexit, sys
atexit.register(lambda: print(" ".join(sorted({name.partition(".")[0] for name in sys.modules})), file=sys.stderr))
from fleetcare.cli import main
main()
"""


def loaded_by(home: Path, *words: str) -> set[str]:
    """Top-level packages that are loaded when the command has run well."""
    run = subprocess.run(
        [sys.executable, "-c", PROBE, *words],
        env={**os.environ, "PYTHONPATH": str(ROOT), "FLEETCARE_HOME": str(home)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    return set(run.stderr.split())


def test_a_reading_loads_no_calendar_template_migration_server_or_timer(home: Path) -> None:
    loaded = loaded_by(home, "reading", "Pocket", "61250", "--on", demo_day("2026-04-14"))
    assert {"sqlalchemy", "numpy"} <= loaded, "the probe sees what is loaded"
    needless = {"alembic", "apscheduler", "fastapi", "jinja2", "pandas", "rich", "scipy", "starlette", "uvicorn"}
    assert loaded & needless == set()


def test_the_newest_revision_is_the_one_the_migrations_lead_to() -> None:
    """It is read off the names of the files, so that nothing is loaded where nothing is to be done."""
    engine = sa.create_engine("sqlite://")
    with engine.connect() as connection:
        assert newest_revision() == ScriptDirectory.from_config(configuration(connection)).get_current_head()
    engine.dispose()
