"""Brings the tables up to date, in the caller's transaction. Killed at any point, it is safe to run again."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from fleetcare.errors import StoreTrouble

if TYPE_CHECKING:
    from alembic.config import Config

MIGRATIONS = Path(__file__).parent / "migrations"
_REVISION_TABLE = "alembic_version"

# Alembic is loaded where there is something to do, or something odd: it takes longer to load than a reading takes to
# be stored, and nearly always the tables are up to date.


def configuration(connection: sa.Connection) -> Config:
    """Alembic's configuration with this connection to work on."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


def newest_revision() -> str:
    """The revision the newest migration leads to. Files are named after theirs: `0001_the_first_tables.py`."""
    return max(path.name.partition("_")[0] for path in (MIGRATIONS / "versions").glob("[0-9]*_*.py"))


def stored_revision(connection: sa.Connection) -> str | None:
    """The revision the tables stand at; None if there are none yet."""
    if not sa.inspect(connection).has_table(_REVISION_TABLE):
        return None
    found = connection.exec_driver_sql(f"SELECT version_num FROM {_REVISION_TABLE}").scalar()  # noqa: S608
    return None if found is None else str(found)


def is_up_to_date(connection: sa.Connection) -> bool:
    """True if every migration has run."""
    return stored_revision(connection) == newest_revision()


def migrate(connection: sa.Connection) -> None:
    """Runs every migration that has not run.

    Raises StoreTrouble if the tables are of a newer program, or of another one altogether.
    """
    now = stored_revision(connection)
    if now == newest_revision():
        return
    if now is None and set(sa.inspect(connection).get_table_names()) - {_REVISION_TABLE}:
        raise StoreTrouble("This database belongs to another program; nothing was changed. Name one that is empty.")
    from alembic import command
    from alembic.script import ScriptDirectory

    config = configuration(connection)
    scripts = ScriptDirectory.from_config(config)
    if now is not None and now not in {script.revision for script in scripts.walk_revisions()}:
        raise StoreTrouble("This database was made by a newer fleetcare. Install that version or a later one.")
    command.upgrade(config, "head")
