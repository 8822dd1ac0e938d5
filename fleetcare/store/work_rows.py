"""The tables of work orders, of what was found, and of components that moved; and how they are read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, Text
from sqlmodel import Field, SQLModel

from fleetcare.store.column_kinds import one_of
from fleetcare.work.findings import FollowKind
from fleetcare.work.order import OrderState


class WorkOrderRow(SQLModel, table=True):
    """A work order. Lists (services, stages, fills, torques, parts, hands) are JSON, looked for by nobody."""

    __tablename__: ClassVar[str] = "work_order"
    __table_args__ = (
        CheckConstraint("number > 0", name="number_of_a_sheet"),
        CheckConstraint("(state = 'closed') = (closed_on IS NOT NULL)", name="closed_on_a_day"),
        one_of("state", OrderState),
        Index("work_order_by_mark", "mark", "number"),
    )
    number: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    mark: str = Field(foreign_key="vehicle.mark")
    state: str
    title: str
    opened_on: str
    opened_by: str
    planned_on: str | None
    bay: str
    mechanics: str = Field(sa_type=Text)
    started_at: str | None
    stands_until: str | None
    until_day: str | None
    reason: str = Field(sa_type=Text)
    start_dial: str | None
    end_dial: str | None
    closed_on: str | None
    closed_at: str | None
    services: str = Field(sa_type=Text)
    stages: str = Field(sa_type=Text)
    fills: str = Field(sa_type=Text)
    torques: str = Field(sa_type=Text)
    parts: str = Field(sa_type=Text)
    hands: str = Field(sa_type=Text)
    note: str = Field(sa_type=Text)
    told: str = Field(sa_type=Text)
    signed_by: str
    handed_in: str
    photos: str = Field(sa_type=Text)
    was: str | None
    visit: int = Field(default=0, sa_column_kwargs={"server_default": "0"})
    events: str = Field(sa_type=Text)


class FoundRow(SQLModel, table=True):
    """A finding on a sheet; only how it was settled ever changes."""

    __tablename__: ClassVar[str] = "found"
    __table_args__ = (
        CheckConstraint("sheet > 0 AND place_on_sheet > 0", name="stands_on_a_sheet"),
        one_of("follow", FollowKind),
        Index("found_by_mark", "mark", "component"),
    )
    sheet: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False}, foreign_key="work_order.number")
    place_on_sheet: int = Field(primary_key=True, sa_column_kwargs={"autoincrement": False})
    mark: str = Field(foreign_key="vehicle.mark")
    component: str
    kind: str
    grade: str
    words: str = Field(sa_type=Text)
    day: str
    place: str
    value: str | None
    unit: str
    limit_low: str | None
    limit_high: str | None
    at_dial: str | None
    follow: str
    follow_distance: str | None
    follow_unit: str
    follow_days: int | None
    follow_factor: str | None
    todo: str = Field(sa_type=Text)
    by: str
    note: str = Field(sa_type=Text)
    decided: str = Field(sa_type=Text)
    photos: str = Field(sa_type=Text)
    settled_on: str | None
    settled_by: str
    settled_note: str = Field(sa_type=Text)
    settled_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})


class ComponentMoveRow(SQLModel, table=True):
    """A component that went from one vehicle to another. `carried` is JSON: by service, what was used of it by then."""

    __tablename__: ClassVar[str] = "component_move"
    to_mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    to_component: str = Field(primary_key=True)
    day: str = Field(primary_key=True)
    from_mark: str = Field(foreign_key="vehicle.mark")
    from_component: str
    carried: str = Field(sa_type=Text)
    note: str = Field(sa_type=Text)


def _table(row: type[SQLModel]) -> sa.Table:
    return SQLModel.metadata.tables[str(row.__tablename__)]


ORDER = _table(WorkOrderRow)
FOUND = _table(FoundRow)
MOVE = _table(ComponentMoveRow)


def order_rows(connection: sa.Connection, marks: Iterable[str] | None) -> list[Any]:
    """Rows of the work orders of these vehicles (all if None), by number."""
    query = sa.select(ORDER).order_by(ORDER.c.number)
    if marks is not None:
        query = query.where(ORDER.c.mark.in_(sorted(marks)))
    return list(connection.execute(query))


def order_row(connection: sa.Connection, number: int) -> Any | None:
    """The row of one work order, or None."""
    return connection.execute(sa.select(ORDER).where(ORDER.c.number == number)).first()


def newest_number(connection: sa.Connection) -> int:
    """The highest number of a sheet, 0 if there is none."""
    return connection.execute(sa.select(sa.func.max(ORDER.c.number))).scalar_one_or_none() or 0


def move_rows(connection: sa.Connection, marks: Iterable[str] | None) -> list[Any]:
    """Rows of components that came to or went from these vehicles (all if None), by day."""
    # Asked with every reading that is typed, and nearly always there is none.
    if connection.exec_driver_sql("SELECT 1 FROM component_move LIMIT 1").first() is None:
        return []
    query = sa.select(MOVE)
    if marks is not None:
        named = sorted(marks)
        query = query.where(sa.or_(MOVE.c.to_mark.in_(named), MOVE.c.from_mark.in_(named)))
    return sorted(connection.execute(query), key=lambda row: (row.day, row.to_mark, row.to_component))
