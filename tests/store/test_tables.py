"""The tables: what the migrations make is what the code believes, on either database."""

from __future__ import annotations

import re

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlmodel import SQLModel

from fleetcare.errors import Clash, StoreTrouble
from fleetcare.meter.reading import ReadingState
from fleetcare.store.engine import connect, writing
from fleetcare.store.migrating import configuration, newest_revision, stored_revision
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, settle_in

BOTH = pytest.mark.parametrize(
    "database", ["sqlite_url", pytest.param("empty_postgres_url", marks=pytest.mark.postgres)]
)


@pytest.fixture
def url(request: pytest.FixtureRequest, database: str) -> str:
    """The address of a database without tables."""
    return str(request.getfixturevalue(database))


def _shape(connection: sa.Connection) -> dict[str, list[str]]:
    """Columns by table, in order."""
    seen = sa.inspect(connection)
    return {name: [column["name"] for column in seen.get_columns(name)] for name in sorted(seen.get_table_names())}


def _words(condition: str) -> set[str]:
    """Texts that a condition names; PostgreSQL quotes numbers too."""
    return {word for word in re.findall(r"'([^']*)'", condition) if not re.fullmatch(r"-?\d+", word)}


@BOTH
def test_migrating_makes_the_tables_the_code_believes_in(url: str) -> None:
    engine = connect(url)
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []
        seen = sa.inspect(connection)
        for table in SQLModel.metadata.tables.values():
            wanted = {c.name: str(c.sqltext) for c in table.constraints if isinstance(c, sa.CheckConstraint)}
            found = {str(c["name"]): c["sqltext"] for c in seen.get_check_constraints(table.name)}
            assert found.keys() == wanted.keys(), table.name
            if connection.dialect.name == "sqlite":  # PostgreSQL spells them in its own way
                assert found == wanted, table.name
            else:
                assert {n: _words(t) for n, t in found.items()} == {n: _words(t) for n, t in wanted.items()}
    engine.dispose()


@BOTH
def test_opening_again_changes_nothing_and_keeps_what_is_there(url: str) -> None:
    store = open_store(url)
    settle_in(store)
    store.close()
    engine = connect(url)
    with engine.connect() as connection:
        before = _shape(connection)
        assert stored_revision(connection) == newest_revision()
        command.upgrade(configuration(connection), "head")
        assert _shape(connection) == before
    engine.dispose()
    store = open_store(url)
    with store.read() as view:
        assert view.version() == 1
        assert len(view.vehicles()) == 3
    store.close()


@BOTH
def test_the_tables_can_be_taken_away_and_made_again(url: str) -> None:
    engine = connect(url)
    with engine.connect() as connection:
        before = _shape(connection)
        command.downgrade(configuration(connection), "base")
        assert set(_shape(connection)) == {"alembic_version"}
        assert stored_revision(connection) is None
    engine.dispose()
    engine = connect(url)
    with engine.connect() as connection:
        assert _shape(connection) == before
    engine.dispose()


@BOTH
def test_tables_of_a_newer_program_are_refused_with_a_sentence_and_left_alone(url: str) -> None:
    engine = connect(url)
    with engine.connect() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    engine.dispose()
    with pytest.raises(StoreTrouble, match="newer fleetcare"):
        open_store(url)
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.connect() as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar_one() == "9999"
    engine.dispose()


@BOTH
def test_tables_of_another_program_are_refused_with_a_sentence_and_left_alone(url: str) -> None:
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE other (n INTEGER)")
    with pytest.raises(StoreTrouble, match="another program"):
        open_store(url)
    with engine.connect() as connection:
        assert list(_shape(connection)) == ["other"]
    engine.dispose()


@BOTH
def test_a_migration_that_fails_half_way_leaves_nothing_behind(url: str) -> None:
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"), isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql("CREATE TABLE reading (in_the_way INTEGER)")
    with pytest.raises(StoreTrouble):
        open_store(url)
    with engine.connect() as connection:
        assert set(_shape(connection)) == {"reading"}
        connection.exec_driver_sql("DROP TABLE reading")
    engine.dispose()
    open_store(url).close()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE log SET after = 'else'",
        "DELETE FROM log",
        "DELETE FROM reading",
        "DELETE FROM delivery",
        "UPDATE delivery_body SET raw = NULL",
        "DELETE FROM delivery_body",
        "UPDATE delivery SET message_id = 'another'",
        "UPDATE reading SET value_tenths = 1",
        "UPDATE reading SET mark = 'BE'",
        "UPDATE reading SET meter = 'hours'",
        "UPDATE reading SET day = '2020-01-01'",
        "UPDATE reading SET unit = 'km'",
        "UPDATE reading SET entered_at = ''",
        "UPDATE reading SET \"by\" = 'ines'",
        "UPDATE reading SET door = 'file'",
        "UPDATE reading SET split = NULL",
        "UPDATE fitted SET who = 'ines'",
        "UPDATE fitted SET numbers = '{}'",
        "DELETE FROM fitted",
    ],
)
def test_the_log_only_grows_and_readings_and_letters_stay_as_they_were_given(database_url: str, statement: str) -> None:
    store = open_store(database_url)
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_readings([kr.reading()])
        unit.log_change("AN", "reading", "", "84 210.5 mi")
        unit.add_delivery(kr.letter())
        unit.add_fit(kr.fit())
        before = unit.readings(), unit.log(), unit.deliveries(), unit.newest_fit()
    engine = connect(database_url)
    with engine.connect() as connection, pytest.raises(sa.exc.DBAPIError, match=r"only grows|as it was"):
        connection.exec_driver_sql(statement)
    engine.dispose()
    with store.write(CHANGE) as unit:
        assert (unit.readings(), unit.log(), unit.deliveries(), unit.newest_fit()) == before
        unit.set_reading_state(unit.readings()[0].id or 0, ReadingState.TAKEN_BACK, "typed twice")
    store.close()


@pytest.mark.postgres
@pytest.mark.parametrize("table", ["log", "reading", "delivery", "delivery_body", "fitted"])
def test_no_table_that_only_grows_can_be_emptied_at_a_stroke(postgres_url: str, table: str) -> None:
    open_store(postgres_url).close()
    engine = connect(postgres_url)
    with engine.connect() as connection, pytest.raises(sa.exc.DBAPIError, match="as it was given"):
        connection.exec_driver_sql(f"TRUNCATE {table} CASCADE")
    engine.dispose()


@pytest.mark.parametrize(
    "statement",
    [
        "INSERT INTO stand VALUES (2, 1)",
        "UPDATE vehicle SET kind = 'boat'",
        "UPDATE person SET letter_hour = 24",
        "INSERT INTO line VALUES ('ZZ', 'a', 'b', 0, 'new', NULL)",
        "INSERT INTO due_window VALUES ('AN', 'a', 'b', NULL, NULL, NULL, NULL, NULL)",
        "INSERT INTO due_window VALUES ('AN', 'a', 'b', '2026-01-02', '2026-01-01', '2026-01-03', 'date', NULL)",
        "DELETE FROM vehicle",
    ],
)
def test_the_database_itself_refuses_what_cannot_be(database_url: str, statement: str) -> None:
    store = open_store(database_url)
    settle_in(store)
    engine = connect(database_url)
    with pytest.raises(Clash, match="nothing was changed"), writing(engine, typed=True) as connection:
        connection.exec_driver_sql(statement)
    engine.dispose()
    store.close()
