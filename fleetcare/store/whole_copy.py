"""The whole database carried from one place to another, of one moment, while others go on working.

A copy is always one SQLite file, whatever the garage runs on, so a backup made on PostgreSQL can be put back on either.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import sqlalchemy as sa

from fleetcare.clock import monotonic_s
from fleetcare.errors import StoreBusy, StoreDamaged, StoreTrouble
from fleetcare.language import saying
from fleetcare.store.engine import connect, reading, writing
from fleetcare.store.migrating import newest_revision, stored_revision
from fleetcare.store.troubles import DAMAGED, troubles

ROWS_AT_ONCE = 2_000
PAGES_AT_ONCE = 4_000
"""16 MB; between two steps the copy lets go of the database for a moment."""
REVISION_TABLE = "alembic_version"

Progress = Callable[[int, int], None]


def copy_out(engine: sa.Engine, path: Path, *, progress: Progress = lambda done, of: None) -> None:
    """Writes all that is committed now into a new SQLite file, ready to be opened as a store.

    path: must not be there yet. progress: pages or tables done, of how many. Raises what a read raises, and
    StoreTrouble if the file cannot be written.
    """
    if path.exists():
        raise StoreTrouble(saying("{path} is there already; nothing was written. Name a file that is not.", path=path))
    if engine.dialect.name == "sqlite":
        _copy_pages(engine, path, progress)
    else:
        copy = connect(f"sqlite:///{path}")
        try:
            with reading(engine) as source, writing(copy, typed=True) as target:
                _copy_rows(source, target, progress)
        finally:
            copy.dispose()
    _settle(path)


def copy_in(path: Path, engine: sa.Engine, *, progress: Progress = lambda done, of: None) -> None:
    """Puts the rows of a copy into a database whose tables are up to date and hold nothing: all of them, or none.

    Raises StoreTrouble if something is in it already.
    """
    copy = connect(f"sqlite:///{path}")
    try:
        with reading(copy) as source, writing(engine, typed=True) as target:
            held = [table.name for table in _tables(target) if _count(target, table)]
            if held:
                raise StoreTrouble(
                    saying(
                        "The database holds something already ({held}); nothing was changed. Name an empty one.",
                        held=", ".join(held[:3]),
                    )
                )
            _copy_rows(source, target, progress)
    finally:
        copy.dispose()


def row_counts(path: Path) -> dict[str, int]:
    """Rows of each table of a copy, after its file was looked through page by page. Raises StoreDamaged."""
    with troubles(), closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as raw:
        if raw.execute("PRAGMA integrity_check(1)").fetchone() != ("ok",):
            raise StoreDamaged(DAMAGED)
        names = raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
        return {
            name: int(raw.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0])  # noqa: S608
            for (name,) in sorted(names.fetchall())
        }


def revision_of(path: Path) -> str:
    """The revision the tables of a copy stand at; empty if it holds no garage."""
    engine = sa.create_engine(f"sqlite:///{path.absolute()}")
    try:
        with troubles(), engine.connect() as connection:
            return stored_revision(connection) or ""
    finally:
        engine.dispose()


def is_of_newer_program(revision: str) -> bool:
    """Whether tables at that revision can only be read by a later fleetcare than this one."""
    return revision > newest_revision()


def _copy_pages(engine: sa.Engine, path: Path, progress: Progress) -> None:
    """SQLite's own online backup: a write in between makes it begin anew, so the copy is of one moment.

    Source: https://sqlite.org/backup.html.
    """
    ends_at = monotonic_s() + 3600.0

    def told(_status: int, remaining: int, total: int) -> None:
        if monotonic_s() > ends_at:
            raise StoreBusy("The copy was not done within an hour; the disk is too slow for it.")
        progress(total - remaining, total)

    with troubles(), engine.connect() as connection:
        raw: object = connection.connection.dbapi_connection
        if not isinstance(raw, sqlite3.Connection):
            raise StoreTrouble("The database cannot be copied.")
        with closing(sqlite3.connect(path)) as target:
            # A read transaction holds the moment still: writers go on beside it, in the write-ahead log.
            raw.execute("BEGIN")
            try:
                raw.execute("SELECT 1 FROM sqlite_master").fetchone()
                raw.backup(target, pages=PAGES_AT_ONCE, progress=told)
            finally:
                raw.execute("ROLLBACK")


def _copy_rows(source: sa.Connection, target: sa.Connection, progress: Progress) -> None:
    tables = _tables(source)
    into = {table.name: table for table in _tables(target)}
    for done, table in enumerate(tables):
        progress(done, len(tables))
        rows = source.execution_options(yield_per=ROWS_AT_ONCE).execute(sa.select(table)).mappings()
        for chunk in rows.partitions():
            target.execute(sa.insert(into[table.name]), [dict(row) for row in chunk])
    if target.dialect.name == "postgresql":
        _numbers_go_on(target)
    progress(len(tables), len(tables))


def _numbers_go_on(target: sa.Connection) -> None:
    """Rows came with their numbers; those that PostgreSQL counts out itself must go on above them."""
    for table in _tables(target):
        for column in table.primary_key.columns:
            name = target.execute(
                sa.text("SELECT pg_get_serial_sequence(:table, :column)"),
                {"table": f'"{table.name}"', "column": column.name},
            ).scalar()
            if name is not None:
                highest = target.execute(sa.select(sa.func.max(column))).scalar()
                if highest is not None:
                    target.execute(sa.text("SELECT setval(:name, :highest)"), {"name": name, "highest": highest})


def _tables(connection: sa.Connection) -> tuple[sa.Table, ...]:
    """Every table but the one of the migrations, those that others refer to first."""
    found = sa.MetaData()
    found.reflect(connection)
    return tuple(table for table in found.sorted_tables if table.name != REVISION_TABLE)


def _count(connection: sa.Connection, table: sa.Table) -> int:
    return connection.execute(sa.select(sa.func.count()).select_from(table)).scalar_one()


def _settle(path: Path) -> None:
    """One file, with no log beside it: it can be carried away as it is."""
    with troubles(), closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("PRAGMA journal_mode=DELETE")
