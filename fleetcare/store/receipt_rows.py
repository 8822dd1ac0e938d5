"""Receipts in the database: what was answered to what was sent under a key."""

from __future__ import annotations

import zlib
from datetime import datetime
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, LargeBinary
from sqlmodel import Field, SQLModel

from fleetcare.actions.ports import Receipt
from fleetcare.store.cells import instant_text
from fleetcare.store.translate_feeds import instant


class ReceiptRow(SQLModel, table=True):
    """An answer that was given, compressed; forgotten after a while."""

    __tablename__: ClassVar[str] = "receipt"
    __table_args__ = (
        CheckConstraint("status BETWEEN 200 AND 299", name="answered_well"),
        Index("receipt_by_age", "made_at"),
    )
    key: str = Field(primary_key=True)
    body: str
    made_at: str
    status: int
    answer: bytes = Field(sa_type=LargeBinary)


RECEIPT = SQLModel.metadata.tables[str(ReceiptRow.__tablename__)]


def receipt(connection: sa.Connection, key: str) -> Receipt | None:
    """The receipt of that key, or None."""
    row = connection.execute(sa.select(RECEIPT).where(RECEIPT.c.key == key)).first()
    if row is None:
        return None
    return Receipt(row.key, row.body, instant(row.made_at), row.status, zlib.decompress(bytes(row.answer)))


def columns(given: Receipt) -> dict[str, Any]:
    """A receipt as a row."""
    return {
        "key": given.key,
        "body": given.body,
        "made_at": instant_text(given.made_at),
        "status": given.status,
        "answer": zlib.compress(given.answer),
    }


def before(instant_of: datetime) -> sa.ColumnElement[bool]:
    """Receipts that were made before an instant."""
    return RECEIPT.c.made_at < instant_text(instant_of)
