"""Letters come through with their bytes when these move to a table of their own, and back."""

from __future__ import annotations

from dataclasses import replace

import pytest
import sqlalchemy as sa
from alembic import command

from fleetcare.digest.values import DeliveryState, LetterKind
from fleetcare.store.engine import connect, writing
from fleetcare.store.migrating import configuration
from fleetcare.store.sql_store import open_store
from tests.contracts import karst_ridge as kr
from tests.contracts.karst_ridge import CHANGE, NOW, settle_in


def test_letters_come_through_with_their_bytes_and_their_guards(database_url: str) -> None:
    store = open_store(database_url)
    settle_in(store)
    with store.write(CHANGE) as unit:
        unit.add_delivery(kr.letter(period="one"))
        unit.add_delivery(replace(kr.letter(period="two"), raw=b"", state=DeliveryState.NOTHING))
        unit.add_delivery(replace(kr.letter(), kind=LetterKind.PAST_LATE))
        unit.put_person(replace(unit.people()[0], quiet_from=23, quiet_until=5))
        before, people = unit.deliveries(), unit.people()
    store.close()
    engine = connect(database_url)
    with writing(engine, typed=True) as connection:
        command.downgrade(configuration(connection), "0004")
    with engine.connect() as connection:
        old = connection.execute(sa.text("SELECT period, raw FROM delivery ORDER BY id")).all()
        assert [(period, bytes(raw)) for period, raw in old] == [("one", before[0].raw), ("two", b"")]
        with pytest.raises(sa.exc.DBAPIError, match="as it was"):
            connection.exec_driver_sql("UPDATE delivery SET raw = NULL")
    engine.dispose()
    store = open_store(database_url)
    with store.write(CHANGE) as unit:
        assert unit.deliveries() == before[:2], "a kind that the older program does not know is left out"
        assert unit.people() == (replace(people[0], quiet_from=21, quiet_until=7), *people[1:])
        assert unit.add_delivery(kr.letter(period="one")) is False
        assert unit.add_delivery(kr.letter(period="three")) is True
        taken = unit.lease_delivery(before[0].id or 0, NOW, NOW + kr.MINUTE)
        assert taken is not None
        assert taken.raw == before[0].raw
    store.close()
    engine = connect(database_url)
    for statement in ("UPDATE delivery_body SET delivery_id = 99", "DELETE FROM delivery", "DELETE FROM delivery_body"):
        with engine.connect() as connection, pytest.raises(sa.exc.DBAPIError, match="as it was"):
            connection.exec_driver_sql(statement)
    engine.dispose()
