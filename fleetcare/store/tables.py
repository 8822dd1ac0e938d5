"""The tables of what a garage says.

Columns and constraints only; values are made of rows in `translate_...`, and nowhere else. What was reckoned, published
and sent has tables of its own (`reckoned_tables.py`, `feed_tables.py`, `letter_tables.py`), written alike.

Days are ISO text (2026-04-14) and instants ISO text in UTC with microseconds, so that both databases sort and compare
them alike and a person can read them. Meter values are whole tenths of their unit, never floats. Where nothing is ever
looked for inside a list (lay-ups, meter changes, tag facts, shares of a split), it is kept as JSON text in its row.
`..._said` is a sentence with its figures (`sentences.py`), beside its English; empty where the English is all there is.
"""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import BigInteger, CheckConstraint, Text, UniqueConstraint
from sqlmodel import Field, SQLModel

from fleetcare.fleet.busy import CalendarOwner
from fleetcare.fleet.component import History
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.store.column_kinds import MOST_TENTHS, one_of


class StandRow(SQLModel, table=True):
    """One row: how many writes there were."""

    __tablename__: ClassVar[str] = "stand"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)
    id: int = Field(primary_key=True)
    version: int = Field(sa_type=BigInteger)


class GarageRow(SQLModel, table=True):
    """One row: the garage."""

    __tablename__: ClassVar[str] = "garage"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"), one_of("unit", DistanceUnit))
    id: int = Field(primary_key=True)
    garage_id: str
    name: str
    zone: str
    unit: str
    list_keeper: str


class PersonRow(SQLModel, table=True):
    """A person."""

    __tablename__: ClassVar[str] = "person"
    __table_args__ = (
        one_of("unit", DistanceUnit),
        CheckConstraint("letter_hour BETWEEN 0 AND 23", name="hour_of_day"),
        CheckConstraint("letter_weekday BETWEEN 0 AND 6", name="day_of_week"),
        CheckConstraint("quiet_from BETWEEN 0 AND 23 AND quiet_until BETWEEN 0 AND 23", name="quiet_hours_of_day"),
    )
    key: str = Field(primary_key=True)
    name: str
    mail: str
    zone: str
    unit: str
    roles: str = Field(sa_type=Text)
    letter_weekday: int | None
    letter_hour: int
    quiet_from: int = Field(default=21, sa_column_kwargs={"server_default": "21"})
    quiet_until: int = Field(default=7, sa_column_kwargs={"server_default": "7"})
    language: str = Field(default="", sa_column_kwargs={"server_default": ""})
    light: str = Field(default="device", sa_column_kwargs={"server_default": "device"})


class VehicleRow(SQLModel, table=True):
    """A vehicle; `position` is its place in the garage's order."""

    __tablename__: ClassVar[str] = "vehicle"
    __table_args__ = (one_of("kind", VehicleKind), one_of("unit", DistanceUnit))
    mark: str = Field(primary_key=True)
    position: int
    name: str
    kind: str
    called: str
    unit: str
    keeper: str
    drivers: str = Field(sa_type=Text)
    description: str = Field(sa_type=Text)
    vin: str
    in_service_on: str | None
    entered_on: str | None
    usual_split: str = Field(sa_type=Text)
    yearly_km: str | None
    laid_up: str = Field(sa_type=Text)
    towed_by: str = Field(sa_type=Text)
    out_of_fleet_on: str | None
    max_km_per_day: str


class MeterRow(SQLModel, table=True):
    """A meter of a vehicle."""

    __tablename__: ClassVar[str] = "meter"
    __table_args__ = (
        one_of("unit", MeterUnit),
        CheckConstraint("digits BETWEEN 1 AND 12", name="digits_of_a_dial"),
    )
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    key: str = Field(primary_key=True)
    position: int
    unit: str
    digits: int
    rolls_over: bool
    changes: str = Field(sa_type=Text)
    delivery_value: str


class ComponentRow(SQLModel, table=True):
    """A component of a vehicle, with its tag."""

    __tablename__: ClassVar[str] = "component"
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    key: str = Field(primary_key=True)
    position: int
    kind: str
    title: str
    fluid_grade: str
    fluid_capacity_l: str | None
    facts: str = Field(sa_type=Text)
    fitted_on: str | None


class LineRow(SQLModel, table=True):
    """A service line that a component carries."""

    __tablename__: ClassVar[str] = "line"
    __table_args__ = (one_of("history", History),)
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    component: str = Field(primary_key=True)
    service: str = Field(primary_key=True)
    position: int
    history: str
    entered_on: str | None


class ReadingRow(SQLModel, table=True):
    """A reading. Only `state`, `note` (with `note_said`) and `vouched_by` ever change; a trigger sees to it."""

    __tablename__: ClassVar[str] = "reading"
    __table_args__ = (
        UniqueConstraint("mark", "meter", "day", "value_tenths", "unit", name="one_and_the_same_reading"),
        CheckConstraint(f"value_tenths BETWEEN 0 AND {MOST_TENTHS}", name="value_of_a_dial"),
        one_of("unit", MeterUnit),
        one_of("state", ReadingState),
        one_of("door", Door),
    )
    id: int | None = Field(default=None, primary_key=True)
    mark: str = Field(foreign_key="vehicle.mark")
    meter: str
    day: str
    value_tenths: int = Field(sa_type=BigInteger)
    unit: str
    entered_at: str
    by: str
    door: str
    split: str | None = Field(sa_type=Text)
    state: str
    note: str = Field(sa_type=Text)
    vouched_by: str = Field(default="", sa_column_kwargs={"server_default": ""})
    note_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})


class WorkRow(SQLModel, table=True):
    """Work done on one line. `value_tenths` is -1 where nobody read the dial, so that the same work is one row."""

    __tablename__: ClassVar[str] = "work"
    __table_args__ = (
        UniqueConstraint("mark", "component", "service", "day", "value_tenths", "unit", name="one_and_the_same_work"),
        CheckConstraint(f"value_tenths BETWEEN -1 AND {MOST_TENTHS}", name="value_of_a_dial"),
        one_of("unit", MeterUnit, or_empty=True),
    )
    id: int | None = Field(default=None, primary_key=True)
    mark: str = Field(foreign_key="vehicle.mark")
    component: str
    service: str
    day: str
    value_tenths: int = Field(sa_type=BigInteger)
    unit: str
    by: str
    note: str = Field(sa_type=Text)


class FindingRow(SQLModel, table=True):
    """What was found while working."""

    __tablename__: ClassVar[str] = "finding"
    work_id: int = Field(primary_key=True, foreign_key="work.id")
    position: int = Field(primary_key=True)
    text: str = Field(sa_type=Text)
    look_again_on: str | None
    settled_on: str | None


class EventRow(SQLModel, table=True):
    """Something that happened to a vehicle or a component."""

    __tablename__: ClassVar[str] = "event"
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    day: str = Field(primary_key=True)
    kind: str = Field(primary_key=True)
    component: str = Field(primary_key=True)
    note: str = Field(sa_type=Text)


class BookingRow(SQLModel, table=True):
    """A spell in which vehicles are spoken for; `end_day` is the first day after it."""

    __tablename__: ClassVar[str] = "booking"
    __table_args__ = (
        one_of("unit", DistanceUnit),
        CheckConstraint("end_day > first_day", name="ends_after_it_begins"),
    )
    key: str = Field(primary_key=True)
    title: str
    first_day: str
    end_day: str
    marks: str = Field(sa_type=Text)
    distance: str | None
    unit: str
    duty: str
    event: str


class OutsideCalendarRow(SQLModel, table=True):
    """A calendar that is read by its URL, which is a secret; `last_copy` is JSON, as it was last read whole."""

    __tablename__: ClassVar[str] = "outside_calendar"
    __table_args__ = (
        one_of("owner_kind", CalendarOwner),
        CheckConstraint("failures >= 0", name="failures_count_up"),
    )
    key: str = Field(primary_key=True)
    owner_kind: str
    owner: str
    url: str = Field(sa_type=Text)
    may_be_private: bool
    etag: str = Field(sa_type=Text)
    last_modified: str
    tried_at: str | None
    good_at: str | None
    failures: int
    trouble: str = Field(sa_type=Text)
    last_copy: str | None = Field(sa_type=Text)
    trouble_said: str = Field(default="", sa_type=Text, sa_column_kwargs={"server_default": ""})
