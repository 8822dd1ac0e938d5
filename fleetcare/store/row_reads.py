"""What every part of a view stands on: a connection inside one transaction, and rows in an order of their own."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.store import feed_tables, letter_tables, reckoned_tables, tables
from fleetcare.store.gate import gated

Rows = Sequence[Any]


def table_of(row: type[SQLModel]) -> sa.Table:
    """The table of a row class."""
    table = SQLModel.metadata.tables[str(row.__tablename__)]
    assert isinstance(table, sa.Table)
    return table


STAND = table_of(tables.StandRow)
GARAGE = table_of(tables.GarageRow)
PERSON = table_of(tables.PersonRow)
VEHICLE = table_of(tables.VehicleRow)
METER = table_of(tables.MeterRow)
COMPONENT = table_of(tables.ComponentRow)
LINE = table_of(tables.LineRow)
READING = table_of(tables.ReadingRow)
WORK = table_of(tables.WorkRow)
FINDING = table_of(tables.FindingRow)
EVENT = table_of(tables.EventRow)
BOOKING = table_of(tables.BookingRow)
OUTSIDE_CALENDAR = table_of(tables.OutsideCalendarRow)
WINDOW = table_of(reckoned_tables.WindowRow)
LINE_INPUTS = table_of(reckoned_tables.LineInputsRow)
FACT_STAMP = table_of(reckoned_tables.FactStampRow)
KEY = table_of(feed_tables.KeyRow)
DELIVERY = table_of(letter_tables.DeliveryRow)
LOG = table_of(reckoned_tables.LogRow)
FITTED = table_of(reckoned_tables.FittedRow)

MOST_MARKS = 500
"""Marks named in one statement; a longer list reads the whole table and picks."""


class RowReads:
    """Reads rows on one connection inside one transaction."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection

    def _order(self, *columns: sa.ColumnElement[Any]) -> list[sa.ColumnElement[Any]]:
        """Text sorts by its code points on either database, whatever language the server was set to."""
        if self._connection.dialect.name == "sqlite":
            return list(columns)
        return [c.collate("C") if isinstance(c.type, sa.String) else c for c in columns]

    def _all(self, table: sa.Table, *order: sa.ColumnElement[Any]) -> Rows:
        return self._connection.execute(sa.select(table).order_by(*self._order(*order))).all()

    def _of_marks(self, table: sa.Table, wanted: frozenset[str] | None, *order: sa.ColumnElement[Any]) -> Rows:
        if wanted is not None and 1 < len(wanted) <= MOST_MARKS:
            query = sa.select(table).order_by(*self._order(*order))
            return self._connection.execute(query.where(table.c.mark.in_(sorted(wanted)))).all()
        one = wanted is not None and len(wanted) == 1
        text = self._kept_text(table, order, one=one)
        if wanted is not None and one:
            (mark,) = wanted
            given: Any = (mark,) if self._connection.dialect.name == "sqlite" else {"mark_1": mark}
            return self._connection.exec_driver_sql(text, given).all()
        rows = self._connection.exec_driver_sql(text).all()
        return rows if wanted is None else [row for row in rows if row.mark in wanted]

    def _kept_text(self, table: sa.Table, order: tuple[sa.ColumnElement[Any], ...], *, one: bool) -> str:
        """The statement as the driver takes it, put together once: it is asked with every reading that is typed."""
        dialect = self._connection.dialect
        key = (dialect.name, table.name, tuple(str(column) for column in order), one)
        if key not in _TEXTS:
            query = sa.select(table).order_by(*self._order(*order))
            if one:
                query = query.where(table.c.mark == sa.bindparam("mark_1"))
            _TEXTS[key] = query.compile(dialect=dialect).string
        return _TEXTS[key]


_TEXTS: dict[tuple[str, str, tuple[str, ...], bool], str] = {}


def named_marks(marks: Iterable[str] | None) -> frozenset[str] | None:
    """The marks that are asked for; None asks for all."""
    return None if marks is None else frozenset(gated(mark) for mark in marks)
