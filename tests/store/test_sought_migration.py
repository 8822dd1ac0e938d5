"""What was there before words were kept is found as if it had been written after."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import command

from fleetcare.store.engine import connect, writing
from fleetcare.store.migrating import configuration
from fleetcare.store.sql_store import open_store
from tests.contracts.test_store_sought import filled

WORDS = sa.text("SELECT kind, word, thing, mark FROM sought_word")


def test_words_are_filled_from_what_is_there(database_url: str) -> None:
    store = open_store(database_url)
    filled(store)
    store.close()
    engine = connect(database_url)
    with engine.connect() as connection:
        before = sorted(map(tuple, connection.execute(WORDS)))
    with writing(engine, typed=True) as connection:
        command.downgrade(configuration(connection), "0010")
        assert not sa.inspect(connection).has_table("sought_word")
    engine.dispose()
    open_store(database_url).close()
    engine = connect(database_url)
    with engine.connect() as connection:
        assert sorted(map(tuple, connection.execute(WORDS))) == before
    engine.dispose()
    assert {kind for kind, *_ in before} == {"vehicle", "person", "sheet", "finding"}
