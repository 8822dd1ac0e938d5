"""The tables of what was reckoned: windows, what they came from, fitted numbers, and why a date moved."""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import BigInteger, CheckConstraint, Index, LargeBinary, Text
from sqlmodel import Field, SQLModel


class WindowRow(SQLModel, table=True):
    """What was last worked out for a line: three days and their cause, or why there are none."""

    __tablename__: ClassVar[str] = "due_window"
    __table_args__ = (
        CheckConstraint("(early IS NULL) = (no_date IS NOT NULL)", name="window_or_reason"),
        CheckConstraint("early <= likely AND likely <= late", name="in_order"),
    )
    mark: str = Field(primary_key=True)
    component: str = Field(primary_key=True)
    service: str = Field(primary_key=True)
    early: str | None
    likely: str | None
    late: str | None
    cause: str | None
    no_date: str | None


class LineInputsRow(SQLModel, table=True):
    """What the dates of a vehicle's lines are worked out from, packed; made from other tables, never the only copy.

    `rules` stands for the book, the duties and the settings it was packed under. `whole`: all its dates follow from it;
    else it holds no more than how far the pace of its meters was worked out.
    """

    __tablename__: ClassVar[str] = "line_inputs"
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    rules: str
    whole: bool
    numbers: bytes = Field(sa_type=LargeBinary)


class FittedRow(SQLModel, table=True):
    """Numbers of the forecast learned from this garage's own readings. Rows are added, never changed.

    `numbers` and `basis` are JSON objects; the newest row is in force.
    """

    __tablename__: ClassVar[str] = "fitted"
    id: int | None = Field(default=None, primary_key=True)
    fitted_at: str
    who: str
    numbers: str = Field(sa_type=Text)
    basis: str = Field(sa_type=Text)


class FactStampRow(SQLModel, table=True):
    """The version in which something was last written about a vehicle."""

    __tablename__: ClassVar[str] = "fact_stamp"
    mark: str = Field(primary_key=True)
    version: int = Field(sa_type=BigInteger)


class LogRow(SQLModel, table=True):
    """Who changed what, when and why. Lines are added, never changed; a trigger sees to it."""

    __tablename__: ClassVar[str] = "log"
    __table_args__ = (Index("log_by_subject", "subject", "id"),)
    id: int | None = Field(default=None, primary_key=True)
    who: str
    why: str = Field(sa_type=Text)
    at: str
    subject: str
    what: str
    before: str = Field(sa_type=Text)
    after: str = Field(sa_type=Text)
    why_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})
    before_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})
    after_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})
