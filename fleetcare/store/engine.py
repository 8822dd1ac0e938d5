"""The connection to the database: made one way, with the promises it has to keep asserted at the start.

SQLite: WAL, foreign keys, a busy time-out, BEGIN IMMEDIATE for every write unit; synchronous FULL for what a person
typed. PostgreSQL: one writer at a time over all processes by a transaction lock. On both the driver commits by itself
and every transaction is begun and ended by a statement of ours, because the library's own would begin too late (a unit
that read first and then writes would lose its snapshot).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from fleetcare.errors import BadInput, BadSettings, FleetcareError, StoreBusy, StoreDamaged, StoreFull, StoreTrouble
from fleetcare.store.migrating import migrate

BUSY_TIMEOUT_S = 5.0
WRITER_LOCK = 4_602_026
"""Names the one writer among the advisory locks of a PostgreSQL database."""

AGAIN = "Try again in a moment."


def connect(url: str, *, busy_timeout_s: float = BUSY_TIMEOUT_S) -> sa.Engine:
    """An engine for that database, its tables up to date.

    Raises BadSettings (an address that is none), StoreDamaged, StoreBusy, StoreFull, StoreTrouble.
    """
    try:
        address = make_url(url)
    except SQLAlchemyError as error:
        raise BadSettings("That is no database address.", remedy="Write sqlite:///PATH or postgresql://…") from error
    if address.get_backend_name() == "sqlite":
        engine = _sqlite(address, busy_timeout_s)
    else:
        engine = _postgresql(address, busy_timeout_s)
    try:
        with troubles(), engine.connect() as connection:
            _look_it_over(connection)
            with _locked(connection):
                migrate(connection)
    except BaseException:
        engine.dispose()
        raise
    return engine


@contextmanager
def reading(engine: sa.Engine) -> Iterator[sa.Connection]:
    """One consistent view of what is committed."""
    is_sqlite = engine.dialect.name == "sqlite"
    begin = "BEGIN" if is_sqlite else "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
    with troubles(), engine.connect() as connection:
        connection.exec_driver_sql(begin)
        try:
            yield connection
        finally:
            connection.exec_driver_sql("ROLLBACK")


@contextmanager
def writing(engine: sa.Engine, *, typed: bool) -> Iterator[sa.Connection]:
    """The one write unit there is at a time. Committed if the block ends well, else undone."""
    with troubles(), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            connection.exec_driver_sql(f"PRAGMA synchronous={'FULL' if typed else 'NORMAL'}")
        with _locked(connection):
            yield connection


@contextmanager
def troubles() -> Iterator[None]:
    """The driver's errors as ours. Errors of ours pass through."""
    try:
        yield
    except FleetcareError:
        raise
    except (DBAPIError, sqlite3.Error) as error:
        raise as_trouble(error) from error
    except UnicodeEncodeError as error:
        raise BadInput("That text holds signs that cannot be kept.", remedy="Type it anew.") from error


def as_trouble(error: Exception) -> FleetcareError:
    """What an error of the driver means for whoever uses the store."""
    inner = error.orig if isinstance(error, DBAPIError) else error
    words = f"{type(inner).__name__}: {inner}".lower()
    state = getattr(inner, "sqlstate", "") or ""
    if "locked" in words or "busy" in words or state in ("55P03", "40001", "40P01", "57014"):
        return StoreBusy(f"Another program holds the database; nothing was changed. {AGAIN}")
    if "full" in words or state in ("53100",):
        return StoreFull("There is no room left on the disk; nothing was changed. Make room and try again.")
    if "malformed" in words or "not a database" in words or "corrupt" in words or state.startswith("XX"):
        return StoreDamaged("The database is damaged; nothing was changed. Bring back the latest whole copy of it.")
    if "readonly" in words or "read-only" in words:
        return StoreTrouble("The database cannot be written. See to the rights of its file and folder.")
    if "unable to open" in words:
        return StoreTrouble("The database cannot be opened. See to the path and the rights of its folder.")
    if state.startswith("22") or ("nul" in words and "0x00" in words):
        return BadInput("That holds something the database does not take.", remedy="Type it anew.")
    if "overflow" in words or "out of range" in words:
        return BadInput("That number is too large to be kept.", remedy="Type it anew.")
    return StoreTrouble(f"The database did not do its part ({type(inner).__name__}); nothing was changed. {AGAIN}")


@contextmanager
def _locked(connection: sa.Connection) -> Iterator[None]:
    """A transaction that nobody else's write unit can run beside."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        connection.exec_driver_sql("BEGIN")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})")
    try:
        yield
    except BaseException:
        connection.exec_driver_sql("ROLLBACK")
        raise
    connection.exec_driver_sql("COMMIT")


def _sqlite(address: sa.URL, busy_timeout_s: float) -> sa.Engine:
    if not address.database or address.database == ":memory:":
        raise BadSettings("A database in memory is gone with the program.", remedy="Write sqlite:///PATH.")
    path = Path(address.database)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreTrouble(f"The folder {path.parent} cannot be made: {error.strerror}.") from error
    engine = sa.create_engine(address, isolation_level="AUTOCOMMIT", connect_args={"timeout": busy_timeout_s})

    @sa.event.listens_for(engine, "connect")
    def _promise(raw: sqlite3.Connection, _record: object) -> None:
        prepare_sqlite(raw, busy_timeout_s)

    return engine


def prepare_sqlite(raw: sqlite3.Connection, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
    """What every SQLite connection must have, asserted. Raises StoreTrouble if the file system cannot give it."""
    raw.execute(f"PRAGMA busy_timeout={int(busy_timeout_s * 1000)}")
    mode = raw.execute("PRAGMA journal_mode=WAL").fetchone()[0]
    raw.execute("PRAGMA synchronous=FULL")
    raw.execute("PRAGMA foreign_keys=ON")
    if mode != "wal" or raw.execute("PRAGMA foreign_keys").fetchone()[0] != 1:
        raise StoreTrouble("This disk cannot keep the database safely (no WAL). Choose a folder on a local disk.")


def _postgresql(address: sa.URL, busy_timeout_s: float) -> sa.Engine:
    if address.get_backend_name() != "postgresql":
        raise BadSettings(
            f"{address.get_backend_name()} is no database for a garage.",
            remedy="Write sqlite:///PATH or postgresql://…",
        )
    return sa.create_engine(
        address.set(drivername="postgresql+psycopg"),
        isolation_level="AUTOCOMMIT",
        pool_pre_ping=True,
        connect_args={"options": f"-c lock_timeout={int(busy_timeout_s * 1000)}"},
    )


def _look_it_over(connection: sa.Connection) -> None:
    """A damaged file is noticed before anything is written to it."""
    if connection.dialect.name != "sqlite":
        return
    answer = connection.exec_driver_sql("PRAGMA quick_check(1)").scalar_one()
    if answer != "ok":
        raise StoreDamaged("The database is damaged; nothing was changed. Bring back the latest whole copy of it.")
