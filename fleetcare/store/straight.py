"""Statements that run for every letter: put together once for each kind of database, and handed straight to its driver.

What the library does around a statement costs several times what these take; nothing else about them is different.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import SimpleNamespace
from typing import Any

import sqlalchemy as sa

from fleetcare.store.troubles import as_trouble

_Text = tuple[str, tuple[str, ...] | None, dict[str, Any]]
"""As the driver takes it, the order of its values (None: by name), and the values that stand fast."""


class Straight:
    """One statement of named values, all of them text, numbers or octets."""

    def __init__(
        self, statement: sa.Insert | sa.Update | sa.TextClause | sa.Select[Any], *, columns: Sequence[str] | None = None
    ) -> None:
        """columns: those that an insert gives."""
        self._statement, self._columns = statement, columns
        self._texts: dict[str, _Text] = {}
        shown = statement.selected_columns if isinstance(statement, sa.Select) else ()
        self._names = [str(column.key) for column in shown]

    def changed(self, connection: sa.Connection, given: Mapping[str, Any]) -> int:
        """How many rows an insert or update changed. Raises as `troubles`."""
        return int(self._run(connection, given).rowcount)

    def one(self, connection: sa.Connection, given: Mapping[str, Any]) -> Any:
        """The row that a select finds, by the names of its columns. Raises as `troubles`."""
        row = self._run(connection, given).fetchone()
        return SimpleNamespace(**dict(zip(self._names, row, strict=True)))

    def _run(self, connection: sa.Connection, given: Mapping[str, Any]) -> Any:
        dialect = connection.dialect
        if dialect.name not in self._texts:
            made = self._statement.compile(dialect=dialect, column_keys=self._columns)
            order = tuple(made.positiontup or ()) if made.positional else None
            self._texts[dialect.name] = (made.string, order, dict(made.params))
        text, order, fast = self._texts[dialect.name]
        values = {**fast, **given}
        raw: Any = connection.connection.dbapi_connection
        try:
            return raw.execute(text, values if order is None else [values[name] for name in order])
        except dialect.loaded_dbapi.Error as error:
            raise as_trouble(error) from error
