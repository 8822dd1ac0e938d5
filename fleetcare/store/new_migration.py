"""Writes the file of a new migration from what the tables in the code have that the database has not.

python -m fleetcare.store.new_migration "what changes"
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from fleetcare.store.engine import connect
from fleetcare.store.migrating import configuration, newest_revision


def write_new_migration(what: str) -> None:
    """The next file in `migrations/versions`, to be read, corrected and formatted. what: a few words for its name."""
    from alembic import command

    with tempfile.TemporaryDirectory() as folder:
        engine = connect(f"sqlite:///{Path(folder) / 'empty.sqlite3'}")
        number = f"{int(newest_revision()) + 1:04}"
        with engine.connect() as connection:
            command.revision(configuration(connection), message=what, autogenerate=True, rev_id=number)
        engine.dispose()


if __name__ == "__main__":
    write_new_migration(" ".join(sys.argv[1:]))
