"""Work orders, findings and moves in the database: what a view reads of them, and what a unit writes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlmodel import SQLModel

from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.sought import SoughtKind
from fleetcare.language import saying
from fleetcare.store import translate_work, work_rows
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import RowReads
from fleetcare.store.sought_access import SoughtWrites
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder
from fleetcare.work.sought import noted_thing, sought_found, sought_order


class WorkReads(RowReads):
    """The part of `ReadView` that is about work orders."""

    def orders(self, marks: Iterable[str] | None = None) -> tuple[WorkOrder, ...]:
        """By number."""
        return tuple(map(translate_work.order, work_rows.order_rows(self._connection, _gated(marks))))

    def order(self, number: int) -> WorkOrder | None:
        """The one with that number."""
        if not 0 < number < 2**31:
            return None
        row = work_rows.order_row(self._connection, number)
        return None if row is None else translate_work.order(row)

    def newest_sheet(self) -> int:
        """The highest number."""
        return work_rows.newest_number(self._connection)

    def found(self, marks: Iterable[str] | None = None) -> tuple[Found, ...]:
        """By sheet and place on it."""
        order = (work_rows.FOUND.c.sheet, work_rows.FOUND.c.place_on_sheet)
        wanted = None if marks is None else frozenset(gated(mark) for mark in marks)
        return tuple(map(translate_work.found, self._of_marks(work_rows.FOUND, wanted, *order)))

    def moves(self, marks: Iterable[str] | None = None) -> tuple[Move, ...]:
        """By day, then by where it went."""
        return tuple(map(translate_work.move, work_rows.move_rows(self._connection, _gated(marks))))


class WorkWrites(SoughtWrites, WorkReads):
    """The part of `WriteUnit` that is about work orders."""

    if TYPE_CHECKING:

        def _vehicles_are_there(self, marks: set[str]) -> None: ...

        def _inputs_are_old(self, marks: set[str]) -> None: ...

    def put_order(self, order: WorkOrder) -> None:
        """New, or in place of the one with that number."""
        self._vehicles_are_there({order.mark})
        self._put(work_rows.ORDER, translate_work.order_columns(order))
        self._keep_words([sought_order(order)])

    def add_found(self, found: Sequence[Found]) -> int:
        """Those that are not there yet; how many were new."""
        for each in found:
            if self.order(each.order) is None:
                raise NotFound("sheet", str(each.order))
        new = self._add_new(work_rows.FOUND, [translate_work.found_columns(each) for each in found])
        self._inputs_are_old({each.mark for each in found} if new else set())
        if new:
            self._keep_words(map(sought_found, self._of_sheets({each.order for each in found})))
        return new

    def settle_found(self, found: Found) -> None:
        """How it was settled; nothing else of it changes. Raises NotFound."""
        table = work_rows.FOUND
        columns = translate_work.found_columns(found)
        told = {name: gated(columns[name]) for name in ("settled_on", "settled_by", "settled_note", "settled_said")}
        same = (table.c.sheet == found.order, table.c.place_on_sheet == found.position)
        if not self._run(sa.update(table).where(*same).values(**told)):
            raise NotFound("finding", f"{found.order:04d}-{found.position}")
        self._inputs_are_old({found.mark})

    def drop_found(self, sheet: int) -> int:
        """Forgets what was found on a sheet that is put back; how many."""
        table = work_rows.FOUND
        same = table.c.sheet == sheet
        marks = set(self._connection.execute(sa.select(table.c.mark).where(same)).scalars())
        self._inputs_are_old(marks)
        self._forget_words(SoughtKind.FINDING, [sought_found(each).thing for each in self._of_sheets({sheet})])
        return self._run(sa.delete(table).where(same))

    def take_back_work(self, ids: Iterable[int]) -> int:
        """Forgets records of work with what was found with them; how many."""
        wanted = sorted(ids)
        work, finding = (SQLModel.metadata.tables[name] for name in ("work", "finding"))
        rows = self._connection.execute(
            sa.select(work.c.mark, work.c.id, work.c.day).where(work.c.id.in_(wanted))
        ).all()
        self._inputs_are_old({row.mark for row in rows})
        places = self._connection.execute(
            sa.select(finding.c.work_id, finding.c.position).where(finding.c.work_id.in_(wanted))
        ).all()
        days = {row.id: row.day for row in rows}
        noted = [noted_thing(days[row.work_id], row.work_id, row.position) for row in places]
        self._forget_words(SoughtKind.FINDING, noted)
        self._run(sa.delete(finding).where(finding.c.work_id.in_(wanted)))
        return self._run(sa.delete(work).where(work.c.id.in_(wanted)))

    def take_back_events(self, events: Iterable[UseEvent]) -> int:
        """Forgets events; how many."""
        table: Any = SQLModel.metadata.tables["event"]
        gone = 0
        for event in events:
            same = (
                table.c.mark == gated(event.mark),
                table.c.day == event.on.isoformat(),
                table.c.kind == gated(event.kind),
                table.c.component == gated(event.component),
            )
            gone += self._run(sa.delete(table).where(*same))
            self._inputs_are_old({event.mark})
        return gone

    def _of_sheets(self, sheets: set[int]) -> list[Found]:
        query = sa.select(work_rows.FOUND).where(work_rows.FOUND.c.sheet.in_(sorted(sheets)))
        return [translate_work.found(row) for row in self._connection.execute(query)]

    def put_move(self, move: Move) -> None:
        """New; a second one to the same place on the same day is refused."""
        self._vehicles_are_there({move.from_mark, move.to_mark})
        if not self._add_new(work_rows.MOVE, [translate_work.move_columns(move)]):
            raise BadInput(
                saying("Something was fitted there on {on} already.", on=move.on),
                remedy="Give another day.",
                field="on",
            )
        self._inputs_are_old({move.from_mark, move.to_mark})


def _gated(marks: Iterable[str] | None) -> list[str] | None:
    return None if marks is None else [gated(mark) for mark in marks]
