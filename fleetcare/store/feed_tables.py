"""The tables of keys and of what was published in calendars."""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import BigInteger, CheckConstraint, Index, LargeBinary, Text
from sqlmodel import Field, SQLModel

from fleetcare.fleet.access import Purpose
from fleetcare.store.column_kinds import one_of


class KeyRow(SQLModel, table=True):
    """A key for links: its hash alone."""

    __tablename__: ClassVar[str] = "access_key"
    __table_args__ = (one_of("purpose", Purpose), Index("access_key_by_purpose", "purpose", "person"))
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


class FarewellRow(SQLModel, table=True):
    """What a replaced address answers with until its key runs out."""

    __tablename__: ClassVar[str] = "farewell"
    hash: str = Field(primary_key=True)
    etag: str
    modified_at: str
    body: bytes = Field(sa_type=LargeBinary)
