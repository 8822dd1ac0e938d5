"""The connection to the database: made one way, with the promises it has to keep asserted at the start.

SQLite: WAL, foreign keys, a busy time-out, BEGIN IMMEDIATE for every write unit; synchronous FULL for what a person
typed. PostgreSQL: one writer at a time over all processes by a transaction lock. On both the driver commits by itself
and every transaction is begun and ended by a statement of ours, because the library's own would begin too late (a unit
that read first and then writes would lose its snapshot).
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError

from fleetcare.clock import monotonic_s
from fleetcare.errors import BadSettings, StoreDamaged, StoreTrouble
from fleetcare.language import saying
from fleetcare.store.migrating import is_up_to_date, migrate
from fleetcare.store.troubles import DAMAGED, troubles

BUSY_TIMEOUT_S = 5.0
_SYNCHRONOUS = "synchronous"
WRITER_LOCK = 4_602_026
"""Names the one writer among the advisory locks of a PostgreSQL database."""
POOLED = {"pool_size": 8, "max_overflow": -1}
"""SQLite connections are cheap, and a write unit that waits for its turn must not keep readers waiting."""


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
            # Nobody is kept waiting, and nobody waits, where there is nothing to do: every command opens the store.
            if not is_up_to_date(connection):
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
            _undo(connection)


@contextmanager
def writing(engine: sa.Engine, *, typed: bool) -> Iterator[sa.Connection]:
    """The one write unit there is at a time. Committed if the block ends well, else undone."""
    with troubles(), engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            wanted = "FULL" if typed else "NORMAL"
            # A connection keeps it from one write to the next, and begins with FULL.
            if connection.info.get(_SYNCHRONOUS, "FULL") != wanted:
                connection.exec_driver_sql(f"PRAGMA synchronous={wanted}")
                connection.info[_SYNCHRONOUS] = wanted
        with _locked(connection, typed=typed):
            yield connection


@contextmanager
def _locked(connection: sa.Connection, *, typed: bool = True) -> Iterator[None]:
    """A transaction that nobody else's write unit can run beside."""
    is_sqlite = connection.dialect.name == "sqlite"
    if is_sqlite:
        # By way of the library: a migration asks it whether it runs inside a transaction.
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        connection.exec_driver_sql("BEGIN ISOLATION LEVEL READ COMMITTED READ WRITE")
    try:
        if not is_sqlite:
            # Whatever the server is set to, what a person typed is on its disk when COMMIT is answered.
            durable = ", set_config('synchronous_commit', 'on', true)" if typed else ""
            connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({WRITER_LOCK}){durable}")
        yield
        _commit(connection)
    except BaseException:
        _undo(connection)
        raise


def _commit(connection: sa.Connection) -> None:
    """Raises StoreTrouble where PostgreSQL would answer a COMMIT with a quiet ROLLBACK, after a statement failed."""
    driver = _driver(connection)
    if connection.dialect.name == "sqlite":
        driver.execute("COMMIT")
        return
    if driver.info.transaction_status.name == "INERROR":
        raise StoreTrouble("A step of that failed, so nothing of it was changed. Try again in a moment.")
    connection.exec_driver_sql("COMMIT")


def _driver(connection: sa.Connection) -> Any:
    """The driver's own connection: what the library does around a statement takes longer than the short ones do."""
    return connection.connection.dbapi_connection


def _undo(connection: sa.Connection) -> None:
    """Ends the transaction unless the database has done so by itself (a full disk, a lost line).

    Never raises: the error that led here is the one to tell. A connection that cannot be brought to rest is not used
    again.
    """
    if connection.invalidated or connection.closed:
        return
    raw: object = _driver(connection)
    if isinstance(raw, sqlite3.Connection) and not raw.in_transaction:
        return
    try:
        connection.exec_driver_sql("ROLLBACK")
    except SQLAlchemyError:
        connection.invalidate()


def _sqlite(address: sa.URL, busy_timeout_s: float) -> sa.Engine:
    if not address.database or address.database == ":memory:":
        raise BadSettings("A database in memory is gone with the program.", remedy="Write sqlite:///PATH.")
    path = Path(address.database)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreTrouble(
            saying("The folder {parent} cannot be made: {strerror}.", parent=path.parent, strerror=error.strerror)
        ) from error
    with troubles():
        _look_it_over(path, busy_timeout_s)
    engine = sa.create_engine(address, isolation_level="AUTOCOMMIT", connect_args={"timeout": busy_timeout_s}, **POOLED)

    @sa.event.listens_for(engine, "connect")
    def _promise(raw: sqlite3.Connection, _record: object) -> None:
        prepare_sqlite(raw, busy_timeout_s)

    return engine


def prepare_sqlite(raw: sqlite3.Connection, busy_timeout_s: float = BUSY_TIMEOUT_S) -> None:
    """What every SQLite connection must have, asserted. Raises StoreTrouble if the file system cannot give it."""
    raw.execute(f"PRAGMA busy_timeout={int(busy_timeout_s * 1000)}")
    mode = _to_wal(raw, busy_timeout_s)
    raw.execute("PRAGMA synchronous=FULL")
    raw.execute("PRAGMA foreign_keys=ON")
    if mode != "wal" or raw.execute("PRAGMA foreign_keys").fetchone()[0] != 1:
        raise StoreTrouble("This disk cannot keep the database safely (no WAL). Choose a folder on a local disk.")


def _to_wal(raw: sqlite3.Connection, busy_timeout_s: float) -> str:
    """The journal mode after asking for WAL. A new file is turned to WAL by one process alone; the others try again.

    SQLite does not wait here by itself: https://sqlite.org/wal.html, section 9.
    """
    ends_at = monotonic_s() + busy_timeout_s
    while True:
        try:
            return str(raw.execute("PRAGMA journal_mode=WAL").fetchone()[0])
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or monotonic_s() >= ends_at:
                raise
            time.sleep(0.01)


def _postgresql(address: sa.URL, busy_timeout_s: float) -> sa.Engine:
    if address.get_backend_name() != "postgresql":
        raise BadSettings(
            saying("{kind} is no database for a garage.", kind=address.get_backend_name()),
            remedy="Write sqlite:///PATH or postgresql://…",
        )
    return sa.create_engine(
        address.set(drivername="postgresql+psycopg"),
        isolation_level="AUTOCOMMIT",
        pool_pre_ping=True,
        connect_args={"options": f"-c lock_timeout={max(1, int(busy_timeout_s * 1000))}"},
    )


def _look_it_over(path: Path, busy_timeout_s: float) -> None:
    """Raises StoreDamaged for a file that is not whole.

    It is looked at before anything opens it for writing: a connection that may write moves what waits in the
    write-ahead log into the file when it is closed, and would so write over a damaged one.
    """
    if path.is_dir():
        raise StoreTrouble(saying("{path} is a folder. Name a file in it as the database.", path=path))
    waiting = path.with_name(path.name + "-wal")
    with suppress(FileNotFoundError):
        if path.stat().st_size == 0:
            if waiting.exists() and waiting.stat().st_size:
                raise StoreDamaged(DAMAGED)  # SQLite would take it for a new file and throw the log away
            return
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=busy_timeout_s)) as raw:
            if raw.execute("PRAGMA quick_check(1)").fetchone() != ("ok",):
                raise StoreDamaged(DAMAGED)
