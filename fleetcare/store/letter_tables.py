"""The tables of letters: what became of each, and its bytes."""

from __future__ import annotations

from typing import ClassVar

from sqlalchemy import Index, LargeBinary, Text, UniqueConstraint
from sqlmodel import Field, SQLModel

from fleetcare.digest.values import DeliveryState, LetterKind
from fleetcare.store.column_kinds import one_of


class DeliveryRow(SQLModel, table=True):
    """A letter in the ledger. (person, kind, period) is there once for ever.

    Its bytes stand in a table of their own: a row is written again with each step of its letter, and they are large.
    """

    __tablename__: ClassVar[str] = "delivery"
    __table_args__ = (
        UniqueConstraint("person", "kind", "period", name="one_letter_a_period"),
        one_of("kind", LetterKind),
        one_of("state", DeliveryState),
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
