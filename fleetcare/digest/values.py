"""A letter before it is put into an envelope, and its place in the delivery ledger."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class LetterKind(StrEnum):
    """Kinds of letter."""

    GARAGE = "garage letter"
    READING = "reading request"
    COME_IN = "come in"


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter to one person: subject, the plain text that is complete by itself, and its HTML twin."""

    kind: LetterKind
    to_name: str
    to_mail: str
    subject: str
    plain: str
    html: str
    stop_url: str = ""
    """Where one POST stops letters of this kind (RFC 8058); empty for letters that were asked for."""


class DeliveryState(StrEnum):
    """Where a letter is on its way."""

    DUE = "due"
    LEASED = "leased"
    SENT = "sent"
    FAILED = "failed"
    EXPIRED = "expired"
    NOTHING = "nothing to say"
    """Decided that there is nothing to write in this period; settled, with an empty message."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """One letter in the ledger. (person, kind, period) is unique for ever, so a restart sends nothing twice.

    period: what it is for, in the person's own calendar: `2026-W16`, or `2026-04/BE` for a reading request.
    raw: the whole message, frozen when the letter was decided.
    """

    person: str
    kind: LetterKind
    period: str
    message_id: str
    subject: str
    to_mail: str
    raw: bytes
    decided_at: datetime
    expires_at: datetime
    state: DeliveryState = DeliveryState.DUE
    tries: int = 0
    next_try_at: datetime | None = None
    leased_until: datetime | None = None
    last_answer: str = ""
    sent_at: datetime | None = None
    id: int | None = None
    """Given by the store."""
