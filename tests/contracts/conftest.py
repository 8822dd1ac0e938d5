"""The three stores, each empty; the databases behind them are made once and emptied or copied, which is quick."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import psycopg
import pytest
import sqlalchemy as sa

from fleetcare.actions.ports import Store
from fleetcare.store.engine import connect
from fleetcare.store.sql_store import SqlStore, open_store
from tests.stand_ins import MemoryStore

if TYPE_CHECKING:
    from tests.store.postgres_server import PostgresServer


@pytest.fixture(scope="session")
def sqlite_with_tables(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database file with tables and nothing in them."""
    path = tmp_path_factory.mktemp("with_tables") / "fleetcare.sqlite3"
    open_store(f"sqlite:///{path}").close()
    return path


@pytest.fixture(scope="session")
def postgres_for_contracts(postgres_server: PostgresServer) -> Iterator[tuple[sa.Engine, str]]:
    """One database on PostgreSQL with its tables for all of these tests, and its address."""
    url = postgres_server.url(postgres_server.new_database("with_tables"))
    engine = connect(url)
    yield engine, url
    engine.dispose()


def _emptied(url: str) -> None:
    with psycopg.connect(url, autocommit=True) as line:
        line.execute("SET session_replication_role = replica")  # past the triggers and the foreign keys
        names = line.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
        for (name,) in names:
            if name != "alembic_version":
                line.execute(f'DELETE FROM "{name}"'.encode())


@pytest.fixture(params=["memory", "sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Store]:
    """An empty store of each kind."""
    if request.param == "memory":
        yield MemoryStore()
    elif request.param == "sqlite":
        path = tmp_path / "fleetcare.sqlite3"
        shutil.copyfile(request.getfixturevalue("sqlite_with_tables"), path)
        opened = open_store(f"sqlite:///{path}")
        yield opened
        opened.close()
    else:
        engine, url = request.getfixturevalue("postgres_for_contracts")
        # A store of its own: what one keeps in mind is of a database that nobody empties beside it.
        yield SqlStore(engine)
        _emptied(url)
