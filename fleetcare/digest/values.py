"""A letter before it is put into an envelope, and its place in the delivery ledger."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class LetterKind(StrEnum):
    """Kinds of letter."""

    GARAGE = "garage letter"
    READING = "reading request"
    READING_AGAIN = "second reading request"
    READING_MISSING = "reading still wanted"
    """To the keeper, after those who were asked have not answered."""
    PAST_LATE = "past late"
    FINDING = "finding"
    BAY_DAY = "bay day"
    BAY_DAY_MOVED = "bay day moved"
    NOT_DELIVERED = "letters not delivered"
    """To who keeps the list: whose letters came back or ran out of time."""
    ABOUT_AN_ANSWER = "about an answer"
    """To who answered a reading request by mail with something that could not simply be taken."""
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
    reply_to: str = ""
    """Where answers go to; empty: to the sender."""


class DeliveryState(StrEnum):
    """Where a letter is on its way."""

    DUE = "due"
    LEASED = "leased"
    SENT = "sent"
    FAILED = "failed"
    EXPIRED = "expired"
    NOTHING = "nothing to say"
    """Decided that there is nothing to write in this period; settled, with an empty message."""

    @property
    def is_lost(self) -> bool:
        """It will not reach its reader any more."""
        return self in (DeliveryState.FAILED, DeliveryState.EXPIRED)


@dataclass(frozen=True, slots=True)
class LetterPlace:
    """How far one letter is, without its bytes: what can be kept of thousands of letters at a time."""

    id: int
    person: str
    kind: LetterKind
    period: str
    message_id: str
    subject: str
    to_mail: str
    decided_at: datetime
    expires_at: datetime
    state: DeliveryState
    tries: int
    next_try_at: datetime | None
    leased_until: datetime | None
    last_answer: str
    sent_at: datetime | None


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

    @property
    def place(self) -> LetterPlace:
        """How far it is, without its bytes; only of a letter that the store has given an id."""
        assert self.id is not None
        return LetterPlace(
            id=self.id,
            person=self.person,
            kind=self.kind,
            period=self.period,
            message_id=self.message_id,
            subject=self.subject,
            to_mail=self.to_mail,
            decided_at=self.decided_at,
            expires_at=self.expires_at,
            state=self.state,
            tries=self.tries,
            next_try_at=self.next_try_at,
            leased_until=self.leased_until,
            last_answer=self.last_answer,
            sent_at=self.sent_at,
        )
