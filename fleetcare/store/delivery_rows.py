"""Rows of the ledger of letters: read without the bytes of the letters, leased, and told how far they are."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.store import cells, letter_tables, translate_letters
from fleetcare.store.gate import gated
from fleetcare.store.straight import Straight

_TABLE = SQLModel.metadata.tables[str(letter_tables.DeliveryRow.__tablename__)]
BODY = SQLModel.metadata.tables[str(letter_tables.DeliveryBodyRow.__tablename__)]
WHOLE = sa.select(_TABLE, BODY.c.raw).join(BODY, BODY.c.delivery_id == _TABLE.c.id)
"""Letters with their bytes."""
MOST_NAMED = 500
"""People named in one statement; of more, all are read and picked from."""


_DUE, _LEASED = DeliveryState.DUE.value, DeliveryState.LEASED.value
_PROGRESS: dict[str, sa.BindParameter[Any]] = {
    name: sa.bindparam(f"new_{name}")
    for name in ("state", "tries", "next_try_at", "leased_until", "last_answer", "sent_at")
}
_SETTING = sa.update(_TABLE).where(_TABLE.c.id == sa.bindparam("letter")).values(**_PROGRESS)
_SET = Straight(_SETTING)
_END = Straight(_SETTING.where(_TABLE.c.state == _LEASED, _TABLE.c.leased_until == sa.bindparam("held_until")))
_IS_DUE = sa.and_(
    _TABLE.c.state == _DUE, sa.or_(_TABLE.c.next_try_at.is_(None), _TABLE.c.next_try_at <= sa.bindparam("at"))
)
_IS_STALE = sa.and_(
    _TABLE.c.state == _LEASED, sa.or_(_TABLE.c.leased_until.is_(None), _TABLE.c.leased_until <= sa.bindparam("at"))
)
_LEASE = Straight(
    sa.update(_TABLE)
    .where(_TABLE.c.id == sa.bindparam("letter"), sa.or_(_IS_DUE, _IS_STALE))
    .values(state=_LEASED, leased_until=sa.bindparam("until"))
)
_ONE = Straight(WHOLE.where(_TABLE.c.id == sa.bindparam("letter")))
_NUMBER = sa.select(_TABLE.c.id).where(
    _TABLE.c.person == sa.bindparam("whose"),
    _TABLE.c.kind == sa.bindparam("which"),
    _TABLE.c.period == sa.bindparam("when"),
)


def add_body(connection: sa.Connection, letter: Delivery) -> None:
    """The bytes of a letter whose row was just added."""
    given = {"whose": letter.person, "which": letter.kind.value, "when": letter.period}
    number = connection.execute(_NUMBER, given).scalar_one()
    connection.execute(sa.insert(BODY), {"delivery_id": number, "raw": letter.raw})


def set_progress(connection: sa.Connection, letter: Delivery | LetterPlace) -> int:
    """How far a letter is; how many rows that were."""
    return _SET.changed(connection, _progress(letter))


def end_lease(connection: sa.Connection, letter: LetterPlace, held_until: datetime) -> int:
    """The same while that lease holds."""
    given = {**_progress(letter), "held_until": cells.instant_text(held_until)}
    return _END.changed(connection, given)


def lease(connection: sa.Connection, letter: int, now: datetime, until: datetime) -> Delivery | None:
    """The letter, if it is due or its lease is over, and it is leased from now on."""
    given = {"letter": letter, "at": cells.instant_text(now), "until": cells.instant_text(until)}
    if _LEASE.changed(connection, given) != 1:
        return None
    return translate_letters.delivery(_ONE.one(connection, {"letter": letter}))


def _progress(letter: Delivery | LetterPlace) -> dict[str, Any]:
    progress = translate_letters.delivery_progress(letter)
    return {"letter": letter.id, **{f"new_{name}": gated(value) for name, value in progress.items()}}


def places(
    connection: sa.Connection,
    *,
    states: Collection[DeliveryState] | None,
    kinds: Collection[LetterKind] | None,
    people: Collection[str] | None,
    since: datetime | None,
) -> tuple[LetterPlace, ...]:
    """By moment of decision, id."""
    query = sa.select(_TABLE).order_by(_TABLE.c.decided_at, _TABLE.c.id)
    if states is not None:
        query = query.where(_TABLE.c.state.in_(sorted(state.value for state in states)))
    if kinds is not None:
        query = query.where(_TABLE.c.kind.in_(sorted(kind.value for kind in kinds)))
    if since is not None:
        query = query.where(_TABLE.c.decided_at >= cells.instant_text(since))
    wanted = None if people is None else {gated(person) for person in people}
    if wanted is not None and len(wanted) <= MOST_NAMED:
        query = query.where(_TABLE.c.person.in_(sorted(wanted)))
    rows = connection.execute(query)
    return tuple(_place(row) for row in rows if wanted is None or row.person in wanted)


def _place(row: Any) -> LetterPlace:
    return translate_letters.letter_place(row)
