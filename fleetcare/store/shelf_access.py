"""What lies on the shelf, in the database: its table, and how it is read and written."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import Text
from sqlmodel import Field, SQLModel

from fleetcare.book.shopping import ShelfItem
from fleetcare.store.cells import Columns
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import RowReads
from fleetcare.store.row_writes import RowWrites


class ShelfRow(SQLModel, table=True):
    """Something on the shelf. Amounts are decimal figures as text, exact on both databases."""

    __tablename__: ClassVar[str] = "shelf"
    key: str = Field(primary_key=True)
    what: str
    amount: str
    unit: str
    pack: str | None
    note: str = Field(sa_type=Text)


class ShelfDrawRow(SQLModel, table=True):
    """What a sheet took from the shelf, so that putting it back puts it there again."""

    __tablename__: ClassVar[str] = "shelf_draw"
    sheet: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    key: str = Field(primary_key=True)
    amount: str


SHELF = SQLModel.metadata.tables["shelf"]
DRAW = SQLModel.metadata.tables["shelf_draw"]


class ShelfReads(RowReads):
    """The part of `ReadView` that is about the shelf."""

    def shelf(self) -> tuple[ShelfItem, ...]:
        """By key."""
        return tuple(_item(row) for row in self._all(SHELF, SHELF.c.key))

    def drawn(self, sheet: int) -> dict[str, Decimal]:
        """By key."""
        query = sa.select(DRAW.c.key, DRAW.c.amount).where(DRAW.c.sheet == sheet)
        return {row.key: Decimal(row.amount) for row in self._connection.execute(query)}


class ShelfWrites(RowWrites, ShelfReads):
    """The part of `WriteUnit` that is about the shelf."""

    def put_on_shelf(self, items: Iterable[ShelfItem]) -> None:
        """Each new or in place of the one with its key."""
        rows = {item.key: _columns(item) for item in items}
        self._put(SHELF, *(rows[key] for key in sorted(rows)))

    def take_off_shelf(self, keys: Iterable[str]) -> int:
        """Forgets items; how many were there."""
        return self._run(sa.delete(SHELF).where(SHELF.c.key.in_(sorted(gated(key) for key in keys))))

    def put_drawn(self, sheet: int, amounts: Mapping[str, Decimal]) -> None:
        """In place of what that sheet took before."""
        self._run(sa.delete(DRAW).where(DRAW.c.sheet == sheet))
        rows: list[Columns] = [
            {"sheet": sheet, "key": key, "amount": f"{amount:f}"} for key, amount in sorted(amounts.items())
        ]
        self._put(DRAW, *rows)


def _columns(item: ShelfItem) -> Columns:
    return {
        "key": item.key,
        "what": item.what,
        "amount": f"{item.amount:f}",
        "unit": item.unit,
        "pack": None if item.pack is None else f"{item.pack:f}",
        "note": item.note,
    }


def _item(row: Any) -> ShelfItem:
    pack = None if row.pack is None else Decimal(row.pack)
    return ShelfItem(row.what, Decimal(row.amount), row.unit, pack, row.note)
