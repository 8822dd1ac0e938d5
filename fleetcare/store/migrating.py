"""Brings the tables up to date, in the caller's transaction. Killed at any point, it is safe to run again."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from fleetcare.errors import StoreTrouble

MIGRATIONS = Path(__file__).parent / "migrations"


def configuration(connection: sa.Connection) -> Config:
    """Alembic's configuration with this connection to work on."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def migrate(connection: sa.Connection) -> None:
    """Runs every migration that has not run. Raises StoreTrouble if the tables are of a newer program."""
    config = configuration(connection)
    scripts = ScriptDirectory.from_config(config)
    now = MigrationContext.configure(connection).get_current_revision()
    if now == scripts.get_current_head():
        return
    if now is not None and now not in {script.revision for script in scripts.walk_revisions()}:
        raise StoreTrouble("This database was made by a newer fleetcare. Install that version or a later one.")
    command.upgrade(config, "head")
