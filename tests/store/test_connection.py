"""The connection: what it promises is set on the very one that writes, and what fails is said in a sentence."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import psycopg
import pytest
import sqlalchemy as sa

from fleetcare.errors import BadInput, BadSettings, Clash, StoreBusy, StoreDamaged, StoreFull, StoreTrouble
from fleetcare.store.engine import WRITER_LOCK, connect, reading, writing
from fleetcare.store.sql_store import open_store
from fleetcare.store.troubles import as_trouble
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, NOW, settle_in

if TYPE_CHECKING:
    from tests.store.postgres_server import PostgresServer

OFF, NORMAL, FULL = 0, 1, 2
"""Source: https://sqlite.org/pragma.html#pragma_synchronous."""


def _path(url: str) -> Path:
    return Path(url.removeprefix("sqlite:///"))


@pytest.mark.parametrize(("typed", "synchronous"), [(True, FULL), (False, NORMAL)])
def test_the_connection_that_writes_has_every_promise_set(sqlite_url: str, typed: bool, synchronous: int) -> None:
    engine = connect(sqlite_url)
    found: list[object] = []
    for before in (not typed, typed):  # the second time on a connection that served for the other kind
        with writing(engine, typed=before) as connection:
            asked = ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            found = [connection.exec_driver_sql(f"PRAGMA {name}").scalar_one() for name in asked]
    assert found == ["wal", synchronous, 1, 5000]
    engine.dispose()


def test_a_write_unit_holds_the_lock_before_it_reads(sqlite_url: str) -> None:
    engine = connect(sqlite_url)
    with writing(engine, typed=True), closing(sqlite3.connect(_path(sqlite_url), timeout=0)) as other:
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("BEGIN IMMEDIATE")
        assert other.execute("SELECT count(*) FROM reading").fetchone() == (0,), "readers are not kept waiting"
    engine.dispose()


@pytest.mark.postgres
def test_on_postgresql_what_a_person_typed_is_on_the_disk_whatever_the_server_is_set_to(postgres_url: str) -> None:
    with psycopg.connect(postgres_url, autocommit=True) as line:
        line.execute("ALTER ROLE fleetcare SET synchronous_commit = off")
    try:
        engine = connect(postgres_url)
        found = []
        for typed in (True, False):
            with writing(engine, typed=typed) as connection:
                found.append(connection.exec_driver_sql("SHOW synchronous_commit").scalar_one())
        assert found == ["on", "off"]
        engine.dispose()
    finally:
        with psycopg.connect(postgres_url, autocommit=True) as line:
            line.execute("ALTER ROLE fleetcare RESET synchronous_commit")


@pytest.fixture
def held(database_url: str) -> Iterator[str]:
    """The address of a database that another program is writing to."""
    store = open_store(database_url)
    settle_in(store)
    store.close()
    if database_url.startswith("sqlite"):
        with closing(sqlite3.connect(_path(database_url), isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            yield database_url
            other.execute("ROLLBACK")
    else:
        with psycopg.connect(database_url) as line:
            line.execute(f"SELECT pg_advisory_xact_lock({WRITER_LOCK})".encode())
            yield database_url


def test_a_database_held_for_too_long_is_busy_and_nothing_is_changed(held: str) -> None:
    store = open_store(held, busy_timeout_s=0.05)  # opening waits for nobody
    for _ in range(20):  # more often than there are connections in any pool
        with pytest.raises(StoreBusy, match=r"nothing was changed\. Try again"), store.write(CHANGE) as unit:
            unit.add_readings([kr.reading()])
        assert store.feed_by_key("aa11", NOW) is None
    with store.read() as view:
        assert view.version() == 1
        assert view.readings() == ()
    store.close()


def test_after_a_busy_moment_the_same_store_writes_again(database_url: str) -> None:
    store = open_store(database_url, busy_timeout_s=0.05)
    settle_in(store)
    other = open_store(database_url)
    with other.write(CHANGE):
        for _ in range(20):
            with pytest.raises(StoreBusy), store.write(CHANGE):
                pass
    other.close()
    with store.write(CHANGE) as unit:
        assert unit.add_readings([kr.reading()]) == 1
    store.close()


def test_a_full_disk_is_said_to_be_full_and_the_store_works_again_once_there_is_room(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    settle_in(store)
    many = [kr.reading(str(number)) for number in range(5_000)]
    engine = connect(sqlite_url)
    raised: list[BaseException] = []
    try:
        with writing(engine, typed=True) as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
            connection.exec_driver_sql(f"PRAGMA max_page_count={pages + 3}")
            connection.exec_driver_sql("CREATE TABLE bulk (x)")
            connection.exec_driver_sql("INSERT INTO bulk VALUES (randomblob(1000000))")
    except StoreFull as full:
        raised.append(full)
    assert "no room left" in str(raised[0])
    with writing(engine, typed=True) as connection:
        connection.exec_driver_sql("PRAGMA max_page_count=1000000")
        assert not sa.inspect(connection).has_table("bulk"), "nothing was changed"
    with store.write(CHANGE) as unit:
        assert unit.add_readings(many) == 5_000
    engine.dispose()
    store.close()


@pytest.mark.postgres
def test_a_failed_step_that_somebody_swallows_is_never_taken_for_stored(postgres_url: str) -> None:
    engine = connect(postgres_url)
    with pytest.raises(StoreTrouble, match="nothing of it was changed"), writing(engine, typed=True) as connection:  # noqa: PT012
        connection.exec_driver_sql("INSERT INTO stand VALUES (1, 1)")
        with pytest.raises(sa.exc.IntegrityError):
            connection.exec_driver_sql("INSERT INTO stand VALUES (2, 1)")
    with reading(engine) as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM stand").scalar_one() == 0
    engine.dispose()


@pytest.mark.postgres
def test_a_restarted_server_costs_the_unit_that_ran_and_nothing_else(
    postgres_server: PostgresServer, postgres_url: str
) -> None:
    store = open_store(postgres_url)
    settle_in(store)
    with pytest.raises(StoreTrouble, match="does not answer"), store.write(CHANGE) as unit:  # noqa: PT012
        unit.add_readings([kr.reading("1")])
        postgres_server.restart()
        unit.add_readings([kr.reading("2")])
    with store.write(CHANGE) as unit:
        assert unit.add_readings([kr.reading("3")]) == 1
        assert [one.value for one in unit.readings()] == [3]
    store.close()


@pytest.mark.postgres
def test_a_server_that_is_not_there_is_said_to_be_away(tmp_path: Path) -> None:
    with pytest.raises(StoreTrouble, match="does not answer"):
        open_store(f"postgresql://fleetcare@/garage?host={tmp_path}")


def test_a_database_server_without_the_database_says_so(postgres_server: PostgresServer) -> None:
    with pytest.raises(StoreTrouble):
        open_store(postgres_server.url("no_such_database"))


@pytest.mark.parametrize(
    ("state", "expected"),
    [
        (psycopg.errors.LockNotAvailable, StoreBusy),
        (psycopg.errors.SerializationFailure, StoreBusy),
        (psycopg.errors.DeadlockDetected, StoreBusy),
        (psycopg.errors.QueryCanceled, StoreBusy),
        (psycopg.errors.DiskFull, StoreFull),
        (psycopg.errors.DataCorrupted, StoreDamaged),
        (psycopg.errors.IndexCorrupted, StoreDamaged),
        (psycopg.errors.UniqueViolation, Clash),
        (psycopg.errors.NumericValueOutOfRange, BadInput),
        (psycopg.errors.CharacterNotInRepertoire, BadInput),
        (psycopg.errors.ReadOnlySqlTransaction, StoreTrouble),
        (psycopg.errors.InsufficientPrivilege, StoreTrouble),
        (psycopg.errors.InvalidPassword, StoreTrouble),
        (psycopg.errors.AdminShutdown, StoreTrouble),
        (psycopg.errors.TooManyConnections, StoreTrouble),
        (psycopg.errors.UndefinedTable, StoreTrouble),
    ],
)
def test_what_postgresql_says_becomes_a_sentence(state: type[psycopg.Error], expected: type[Exception]) -> None:
    """Codes: PostgreSQL manual, appendix A, as psycopg lists them."""
    said = as_trouble(state("database is locked, full and malformed, says the note"))
    assert type(said) is expected
    assert str(said).endswith(".")


def test_words_that_were_typed_are_never_taken_for_the_kind_of_error() -> None:
    said = as_trouble(sqlite3.OperationalError("no such column: full locked malformed readonly"))
    assert type(said) is StoreTrouble


@pytest.mark.parametrize("address", ["", "nonsense", "sqlite://", "sqlite:///:memory:", "mysql://x/y", "postgres"])
def test_an_address_that_is_none_is_refused(address: str) -> None:
    with pytest.raises(BadSettings):
        open_store(address)


def test_a_missing_folder_is_made(tmp_path: Path) -> None:
    open_store(f"sqlite:///{tmp_path}/a/b c/garage ä.sqlite3").close()
    assert (tmp_path / "a" / "b c" / "garage ä.sqlite3").exists()


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StoreTrouble, match="cannot be made"):
        open_store(f"sqlite:///{tmp_path}/file/below/garage.sqlite3")
    with pytest.raises(StoreTrouble, match="cannot be"):
        open_store(f"sqlite:///{tmp_path}/file/garage.sqlite3")
    with pytest.raises(StoreTrouble, match="is a folder"):
        open_store(f"sqlite:///{tmp_path}")


@pytest.mark.skipif(os.geteuid() == 0, reason="root writes everywhere")
def test_a_folder_that_is_closed_to_us_is_said_to_be(sqlite_url: str) -> None:
    store = open_store(sqlite_url)
    settle_in(store)
    store.close()
    path = _path(sqlite_url)
    for closed, rights in ((path, 0o400), (path.parent, 0o500)):
        before = closed.stat().st_mode
        closed.chmod(rights)
        try:
            with pytest.raises(StoreTrouble, match="See to the"):  # noqa: PT012
                shut = open_store(sqlite_url)
                try:
                    settle_in(shut)
                finally:
                    shut.close()
        finally:
            closed.chmod(before)
    shutil.rmtree(path.parent)


def test_what_a_person_typed_is_synced_whatever_was_written_before_it(sqlite_url: str) -> None:
    """One connection serves every unit in turn, so each has to set what it needs."""
    engine = connect(sqlite_url)
    found = []
    for typed in (False, True, False, False, True, True):
        with writing(engine, typed=typed) as connection:
            found.append(connection.exec_driver_sql("PRAGMA synchronous").scalar_one())
    engine.dispose()
    assert found == [NORMAL, FULL, NORMAL, NORMAL, FULL, FULL]
