"""Visits to the bay in the database, and between their rows and values."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Text
from sqlmodel import Field, SQLModel

from fleetcare.fleet.bay_visit import BayVisit, Stretch, StretchKind, VisitState
from fleetcare.fleet.component import LineKey
from fleetcare.store.cells import Columns, day_text, instant_text
from fleetcare.store.sentences import kept_text, told_again


class BayVisitRow(SQLModel, table=True):
    """A visit to the bay. `lines` is JSON: component and service of each; `stretches` too: kind, begin, end of each.

    Visits that were rubbed out stay, so that no number is given twice.
    """

    __tablename__: ClassVar[str] = "bay_visit"
    __table_args__ = (
        CheckConstraint(f"state IN ({', '.join(repr(state.value) for state in VisitState)})", name="state_known"),
        CheckConstraint("number >= 1", name="counted_from_one"),
        CheckConstraint("free_at > begins_at", name="ends_after_it_begins"),
    )
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    number: int = Field(primary_key=True)
    state: str
    begins_at: str
    free_at: str
    mechanic: str
    reason: str = Field(sa_type=Text)
    lines: str = Field(sa_type=Text)
    stretches: str = Field(sa_type=Text)
    moved_from: str | None
    hands_moved_from: str | None
    reason_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})


_FOUND = SQLModel.metadata.tables[BayVisitRow.__tablename__]
assert isinstance(_FOUND, sa.Table)
BAY_VISIT: sa.Table = _FOUND


def visit_columns(visit: BayVisit) -> Columns:
    """A visit on its way in."""
    return {
        "mark": visit.mark,
        "number": visit.number,
        "state": visit.state.value,
        "begins_at": instant_text(visit.begins_at),
        "free_at": instant_text(visit.free_at),
        "mechanic": visit.mechanic,
        "reason": str(visit.reason),
        "reason_said": kept_text(visit.reason),
        "moved_from": day_text(visit.moved_from),
        "hands_moved_from": day_text(visit.hands_moved_from),
        "lines": _json([[line.component, line.service] for line in visit.lines]),
        "stretches": _json(
            [[each.kind.value, instant_text(each.begins_at), instant_text(each.ends_at)] for each in visit.stretches]
        ),
    }


def visit(row: Any) -> BayVisit:
    """A visit on its way out."""
    return BayVisit(
        mark=row.mark,
        number=row.number,
        lines=tuple(LineKey(row.mark, component, service) for component, service in json.loads(row.lines)),
        stretches=tuple(
            Stretch(StretchKind(kind), datetime.fromisoformat(begins), datetime.fromisoformat(ends))
            for kind, begins, ends in json.loads(row.stretches)
        ),
        state=VisitState(row.state),
        mechanic=row.mechanic,
        reason=told_again(row.reason, row.reason_said),
        moved_from=_day(row.moved_from),
        hands_moved_from=_day(row.hands_moved_from),
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
