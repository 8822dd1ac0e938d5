"""The three stores, each empty; the databases behind them are made once and emptied or copied, which is quick."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import psycopg
import pytest

from fleetcare.actions.ports import Store
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
def postgres_for_contracts(postgres_server: PostgresServer) -> Iterator[tuple[SqlStore, str]]:
    """One store on PostgreSQL for all of these tests, and its address."""
    url = postgres_server.url(postgres_server.new_database("with_tables"))
    opened = open_store(url)
    yield opened, url
    opened.close()


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
        kept, url = request.getfixturevalue("postgres_for_contracts")
        yield kept
        _emptied(url)
