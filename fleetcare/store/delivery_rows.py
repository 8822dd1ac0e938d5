"""Rows of the ledger of letters, read without the bytes of the letters."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.digest.values import DeliveryState, LetterKind, LetterPlace
from fleetcare.store import tables, translate
from fleetcare.store.gate import gated

_TABLE = SQLModel.metadata.tables[str(tables.DeliveryRow.__tablename__)]
_LIGHT = tuple(column for column in _TABLE.c if column.name != "raw")
MOST_NAMED = 500
"""People named in one statement; of more, all are read and picked from."""


def places(
    connection: sa.Connection,
    *,
    states: Collection[DeliveryState] | None,
    kinds: Collection[LetterKind] | None,
    people: Collection[str] | None,
    since: datetime | None,
) -> tuple[LetterPlace, ...]:
    """By moment of decision, id."""
    query = sa.select(*_LIGHT).order_by(_TABLE.c.decided_at, _TABLE.c.id)
    if states is not None:
        query = query.where(_TABLE.c.state.in_(sorted(state.value for state in states)))
    if kinds is not None:
        query = query.where(_TABLE.c.kind.in_(sorted(kind.value for kind in kinds)))
    if since is not None:
        query = query.where(_TABLE.c.decided_at >= translate.instant_text(since))
    wanted = None if people is None else {gated(person) for person in people}
    if wanted is not None and len(wanted) <= MOST_NAMED:
        query = query.where(_TABLE.c.person.in_(sorted(wanted)))
    rows = connection.execute(query)
    return tuple(_place(row) for row in rows if wanted is None or row.person in wanted)


def _place(row: Any) -> LetterPlace:
    return translate.letter_place(row)
