"""Databases for every room's tests: SQLite in the test's folder, and a real PostgreSQL started once a session."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from tests.store.postgres_server import PostgresServer

# A law holds on a busy machine too: no example fails because it took long.
settings.register_profile("calm", deadline=None)
settings.load_profile("calm")


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--need-browser`: without a Chromium the browser tests fail instead of being left out."""
    parser.addoption(
        "--need-browser", action="store_true", default=False, help="fail instead of skipping if there is no Chromium"
    )


@pytest.fixture
def sqlite_url(tmp_path: Path) -> str:
    """The address of an SQLite database that is not there yet."""
    return f"sqlite:///{tmp_path / 'fleetcare.sqlite3'}"


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[PostgresServer]:
    """A PostgreSQL server, with a database `with_tables` to copy from."""
    from fleetcare.store.sql_store import open_store
    from tests.store.postgres_server import PostgresServer, installed_programs

    try:
        installed_programs()
    except LookupError as missing:
        pytest.skip(str(missing))
    with PostgresServer() as server:
        server.run("CREATE DATABASE with_tables TEMPLATE template0")
        open_store(server.url("with_tables")).close()
        yield server


@pytest.fixture
def postgres_url(postgres_server: PostgresServer) -> Iterator[str]:
    """The address of a PostgreSQL database with tables and nothing in them."""
    name = postgres_server.new_database("with_tables")
    yield postgres_server.url(name)
    postgres_server.drop_database(name)


@pytest.fixture
def empty_postgres_url(postgres_server: PostgresServer) -> Iterator[str]:
    """The address of a PostgreSQL database without tables."""
    name = postgres_server.new_database()
    yield postgres_server.url(name)
    postgres_server.drop_database(name)


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database_url(request: pytest.FixtureRequest) -> str:
    """The address of an empty database, once of each kind."""
    return str(request.getfixturevalue(f"{request.param}_url"))


@pytest.fixture(scope="session", autouse=True)
def machine_of_no_language() -> Iterator[None]:
    """Commands answer in the language of the machine; that of whoever runs the tests must make no difference."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LC_ALL", "C.UTF-8")
        yield
