"""The tables. Columns and constraints only; values are made of rows in `translate_...`, and nowhere else.

Days are ISO text (2026-04-14) and instants ISO text in UTC with microseconds, so that both databases sort and compare
them alike and a person can read them. Meter values are whole tenths of their unit, never floats. Where nothing is ever
looked for inside a list (lay-ups, meter changes, tag facts, shares of a split), it is kept as JSON text in its row.
"""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import BigInteger, CheckConstraint, Index, LargeBinary, Text, UniqueConstraint
from sqlmodel import Field, SQLModel

from fleetcare.digest.values import DeliveryState, LetterKind
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.busy import CalendarOwner
from fleetcare.fleet.component import History
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.meter.reading import Door, ReadingState
from fleetcare.quantities import DistanceUnit, MeterUnit

MOST_TENTHS = 10**12


def _one_of(column: str, kind: type, *, or_empty: bool = False) -> CheckConstraint:
    values = [member.value for member in kind]  # type: ignore[attr-defined]
    words = ", ".join(f"'{value}'" for value in ([""] if or_empty else []) + values)
    return CheckConstraint(f"{column} IN ({words})", name=f"{column}_known")


class StandRow(SQLModel, table=True):
    """One row: how many writes there were."""

    __tablename__: ClassVar[str] = "stand"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)
    id: int = Field(primary_key=True)
    version: int = Field(sa_type=BigInteger)


class GarageRow(SQLModel, table=True):
    """One row: the garage."""

    __tablename__: ClassVar[str] = "garage"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"), _one_of("unit", DistanceUnit))
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
        _one_of("unit", DistanceUnit),
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
    __table_args__ = (_one_of("kind", VehicleKind), _one_of("unit", DistanceUnit))
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
        _one_of("unit", MeterUnit),
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
    __table_args__ = (_one_of("history", History),)
    mark: str = Field(primary_key=True, foreign_key="vehicle.mark")
    component: str = Field(primary_key=True)
    service: str = Field(primary_key=True)
    position: int
    history: str
    entered_on: str | None


class ReadingRow(SQLModel, table=True):
    """A reading. Only `state`, `note` and `vouched_by` ever change; a trigger sees to it."""

    __tablename__: ClassVar[str] = "reading"
    __table_args__ = (
        UniqueConstraint("mark", "meter", "day", "value_tenths", "unit", name="one_and_the_same_reading"),
        CheckConstraint(f"value_tenths BETWEEN 0 AND {MOST_TENTHS}", name="value_of_a_dial"),
        _one_of("unit", MeterUnit),
        _one_of("state", ReadingState),
        _one_of("door", Door),
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


class WorkRow(SQLModel, table=True):
    """Work done on one line. `value_tenths` is -1 where nobody read the dial, so that the same work is one row."""

    __tablename__: ClassVar[str] = "work"
    __table_args__ = (
        UniqueConstraint("mark", "component", "service", "day", "value_tenths", "unit", name="one_and_the_same_work"),
        CheckConstraint(f"value_tenths BETWEEN -1 AND {MOST_TENTHS}", name="value_of_a_dial"),
        _one_of("unit", MeterUnit, or_empty=True),
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
        _one_of("unit", DistanceUnit),
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
        _one_of("owner_kind", CalendarOwner),
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


class KeyRow(SQLModel, table=True):
    """A key for links: its hash alone."""

    __tablename__: ClassVar[str] = "access_key"
    __table_args__ = (_one_of("purpose", Purpose), Index("access_key_by_purpose", "purpose", "person"))
    hash: str = Field(primary_key=True)
    purpose: str
    person: str
    mark: str
    made_at: str
    expires_at: str | None
    revoked_at: str | None
    name: str = Field(default="", sa_column_kwargs={"server_default": ""})
    replaced_at: str | None
    scope: str = Field(default="all", sa_column_kwargs={"server_default": "all"})


class FetchRow(SQLModel, table=True):
    """When a feed was last fetched by a key; written once an hour at most."""

    __tablename__: ClassVar[str] = "feed_fetch"
    hash: str = Field(primary_key=True)
    at: str
    reader: str


class FeedRow(SQLModel, table=True):
    """What stands in one feed. `entries`, `aside` and `gone` hold ids of revisions."""

    __tablename__: ClassVar[str] = "feed"
    person: str = Field(primary_key=True)
    mark: str = Field(primary_key=True)
    etag: str
    modified_at: str
    head: bytes = Field(sa_type=LargeBinary)
    form: str = Field(sa_type=Text)
    marks: str = Field(sa_type=Text)
    entries: str = Field(sa_type=Text)
    aside: str = Field(sa_type=Text)
    gone: str = Field(sa_type=Text)


class RevisionRow(SQLModel, table=True):
    """An entry as it was published in one or more feeds. Never changed; dropped when no feed remembers it.

    `id` follows from its bytes.
    """

    __tablename__: ClassVar[str] = "revision"
    __table_args__ = (CheckConstraint("sequence >= 0", name="sequence_counts_up"), Index("revision_by_uid", "uid"))
    id: int = Field(primary_key=True, sa_type=BigInteger, sa_column_kwargs={"autoincrement": False})
    uid: str
    sequence: int
    created_at: str
    modified_at: str
    content_hash: str
    time_hash: str
    digest: str
    size: int
    sort_key: str
    mark: str
    body: bytes = Field(sa_type=LargeBinary)


class ShownLineRow(SQLModel, table=True):
    """What calendars say of a line, apart from what is reckoned."""

    __tablename__: ClassVar[str] = "shown_line"
    mark: str = Field(primary_key=True)
    component: str = Field(primary_key=True)
    service: str = Field(primary_key=True)
    early: str
    likely: str
    late: str
    cause: str
    worn: str | None
    pace: str | None


class FeedChoiceRow(SQLModel, table=True):
    """What a person wants in their calendar; a person who never chose has no row."""

    __tablename__: ClassVar[str] = "feed_choice"
    person: str = Field(primary_key=True)
    topics: str = Field(sa_type=Text)
    dates: str = Field(sa_type=Text)
    marks: str = Field(sa_type=Text)
    alarms: str = Field(sa_type=Text)


class FeedEraRow(SQLModel, table=True):
    """One row: how often the feeds were taken up again after a restore from a backup."""

    __tablename__: ClassVar[str] = "feed_era"
    __table_args__ = (CheckConstraint("id = 1", name="one_row"),)
    id: int = Field(primary_key=True)
    era: int


class FeedOwedRow(SQLModel, table=True):
    """A vehicle whose change stands in no calendar yet."""

    __tablename__: ClassVar[str] = "feed_owed"
    mark: str = Field(primary_key=True)


class FactStampRow(SQLModel, table=True):
    """The version in which something was last written about a vehicle."""

    __tablename__: ClassVar[str] = "fact_stamp"
    mark: str = Field(primary_key=True)
    version: int = Field(sa_type=BigInteger)


class FarewellRow(SQLModel, table=True):
    """What a replaced address answers with until its key runs out."""

    __tablename__: ClassVar[str] = "farewell"
    hash: str = Field(primary_key=True)
    etag: str
    modified_at: str
    body: bytes = Field(sa_type=LargeBinary)


class DeliveryRow(SQLModel, table=True):
    """A letter in the ledger. (person, kind, period) is there once for ever.

    Its bytes stand in a table of their own: a row is written again with each step of its letter, and they are large.
    """

    __tablename__: ClassVar[str] = "delivery"
    __table_args__ = (
        UniqueConstraint("person", "kind", "period", name="one_letter_a_period"),
        _one_of("kind", LetterKind),
        _one_of("state", DeliveryState),
        Index("delivery_by_state", "state"),
    )
    id: int | None = Field(default=None, primary_key=True)
    person: str
    kind: str
    period: str
    message_id: str
    subject: str = Field(sa_type=Text)
    to_mail: str
    decided_at: str
    expires_at: str
    state: str
    tries: int
    next_try_at: str | None
    leased_until: str | None
    last_answer: str = Field(sa_type=Text)
    sent_at: str | None


class DeliveryBodyRow(SQLModel, table=True):
    """The bytes of a letter, written with its row and never changed."""

    __tablename__: ClassVar[str] = "delivery_body"
    delivery_id: int = Field(primary_key=True, foreign_key="delivery.id", sa_column_kwargs={"autoincrement": False})
    raw: bytes = Field(sa_type=LargeBinary)


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
