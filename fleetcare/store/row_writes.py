"""How rows are written: put together once, handed over in blocks, counted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from fleetcare.store.cells import Columns
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import RowReads

BLOCK = 10_000
"""Rows handed to the driver at a time."""

_TEXTS: dict[tuple[str, str, str, tuple[str, ...]], tuple[str, tuple[str, ...] | None]] = {}
"""Statements as drivers take them, with the order of their values; None where the driver takes names."""


class RowWrites(RowReads):
    """Writes rows on one connection inside one transaction."""

    wrote = False
    """Whether anything was written; putting the same value again counts."""

    def _run(self, statement: sa.Update | sa.Delete) -> int:
        rows = self._connection.execute(statement).rowcount
        self.wrote = self.wrote or rows > 0
        return rows

    def _add(self, table: sa.Table, rows: Sequence[Columns]) -> None:
        if rows:
            self._run_many("add", table, rows)
            self.wrote = True

    def _add_new(self, table: sa.Table, rows: Sequence[Columns]) -> int:
        """Rows that do not collide with one that is there; how many."""
        new = self._run_many("add new", table, rows) if rows else 0
        self.wrote = self.wrote or new > 0
        return new

    def _put(self, table: sa.Table, *rows: Columns) -> None:
        """Rows, each new or in place of the one with that key."""
        if rows:
            self._run_many("put", table, rows)
            self.wrote = True

    def _run_many(self, how: str, table: sa.Table, rows: Sequence[Columns]) -> int:
        """Hands rows to the driver; how many it took.

        The statement is put together once in a process: the library's own way costs as much again as the rows.
        """
        kept = (self._connection.dialect.name, how, table.name, tuple(rows[0]))
        if kept not in _TEXTS:
            made = self._insert_of(how, table, list(rows[0])).compile(
                dialect=self._connection.dialect, column_keys=list(rows[0])
            )
            _TEXTS[kept] = (made.string, tuple(made.positiontup) if made.positional else None)
        text, places = _TEXTS[kept]
        took = 0
        for start in range(0, len(rows), BLOCK):
            block = [gated_row(row) for row in rows[start : start + BLOCK]]
            given: Any = block if places is None else [tuple(row[name] for name in places) for row in block]
            took += self._connection.exec_driver_sql(
                text, given, execution_options={"preserve_rowcount": True}
            ).rowcount
        return took

    def _insert_of(self, how: str, table: sa.Table, columns: Sequence[str]) -> Any:
        insert = self._insert(table)
        if how == "add new":
            return insert.on_conflict_do_nothing()
        if how == "put":
            keys = [column.name for column in table.primary_key]
            others = {name: insert.excluded[name] for name in columns if name not in keys}
            return insert.on_conflict_do_update(index_elements=keys, set_=others)
        return insert

    def _insert(self, table: sa.Table) -> Any:
        if self._connection.dialect.name == "sqlite":
            from sqlalchemy.dialects.sqlite import insert as sqlite_insert

            return sqlite_insert(table)
        from sqlalchemy.dialects.postgresql import insert as postgresql_insert

        return postgresql_insert(table)


def gated_row(row: Columns) -> Columns:
    """A row as it is. Raises BadInput for a value that no database takes."""
    for value in row.values():
        gated(value)
    return row
