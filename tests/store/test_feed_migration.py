"""Feeds that were published before revisions were shared go on as they were: same bytes, same counts, same memory."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa
from alembic import command

from fleetcare.store.engine import connect, writing
from fleetcare.store.migrating import configuration
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, MINUTE, NOW, settle_in

OLD = "0003"


def _shape(connection: sa.Connection) -> dict[str, list[str]]:
    seen = sa.inspect(connection)
    return {name: [column["name"] for column in seen.get_columns(name)] for name in sorted(seen.get_table_names())}


def _to(url: str, revision: str) -> None:
    engine = connect(url)
    with writing(engine, typed=True) as connection:
        config = configuration(connection)
        if revision == "head":
            command.upgrade(config, revision)
        else:
            command.downgrade(config, revision)
    engine.dispose()


def test_feeds_come_through_with_their_bytes_and_what_was_withdrawn(database_url: str) -> None:
    store = open_store(database_url)
    settle_in(store)
    with store.write(CHANGE) as unit:
        first, second, gone = unit.add_revisions([kr.published("a"), kr.published("b", 4), kr.published("c", 7)])
        unit.put_feed(replace(kr.contents(entries=(first, second)), gone=((gone, NOW + MINUTE),)))
        unit.put_feed(kr.contents("teo", head=b"BEGIN:VCALENDAR\r\nNAME:Teo\r\n", entries=(second,)))
        unit.put_key(kr.key())
        before = [unit.published(person) for person in ("ines", "teo")]
        bodies = [unit.feed(person) for person in ("ines", "teo")]
    store.close()
    _to(database_url, OLD)
    engine = sa.create_engine(database_url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.connect() as connection:
        old = connection.execute(sa.text("SELECT person, body FROM feed ORDER BY person")).all()
        counts = connection.execute(sa.text("SELECT uid, sequence FROM published ORDER BY person, uid")).all()
    engine.dispose()
    assert [(person, bytes(body)) for person, body in old] == [(b.person, b.body) for b in bodies if b]
    assert [tuple(row) for row in counts] == [("a", 0), ("b", 4), ("c", 7), ("b", 4)]
    store = open_store(database_url)
    with store.read() as view:
        for person, was, body in zip(("ines", "teo"), before, bodies, strict=True):
            now = view.published(person)
            assert [(e.uid, e.sequence, e.modified_at, e.withdrawn_at, e.body) for e in now] == [
                (e.uid, e.sequence, e.modified_at, e.withdrawn_at, e.body) for e in was
            ]
            served = view.feed(person)
            assert served is not None
            assert body is not None
            assert (served.body, served.modified_at) == (body.body, body.modified_at)
        key = view.key("aa11")
        assert key is not None
        assert key.name == ""
    opened = store.feed_by_key("aa11", NOW)
    assert opened is not None
    assert bodies[0] is not None
    assert opened.body == bodies[0].body
    store.close()


@pytest.mark.parametrize("times", [1, 2])
def test_going_back_and_forth_leaves_the_same_tables(database_url: str, times: int) -> None:
    open_store(database_url).close()
    engine = connect(database_url)
    with engine.connect() as connection:
        before = _shape(connection)
    engine.dispose()
    for _ in range(times):
        _to(database_url, OLD)
        open_store(database_url).close()
    engine = connect(database_url)
    with engine.connect() as connection:
        assert _shape(connection) == before
    engine.dispose()
