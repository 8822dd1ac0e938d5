"""Letters and how they fared as rows, and back."""

from __future__ import annotations

from typing import Any

from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.store.cells import Columns, instant_of, instant_of_or_none, instant_or_none, instant_text


def delivery_progress(delivery: Delivery | LetterPlace) -> Columns:
    """What may change of a letter."""
    return {
        "state": delivery.state.value,
        "tries": delivery.tries,
        "next_try_at": instant_or_none(delivery.next_try_at),
        "leased_until": instant_or_none(delivery.leased_until),
        "last_answer": delivery.last_answer,
        "sent_at": instant_or_none(delivery.sent_at),
    }


def delivery_columns(delivery: Delivery) -> Columns:
    """A letter on its way in, without its bytes."""
    return {
        "person": delivery.person,
        "kind": delivery.kind.value,
        "period": delivery.period,
        "message_id": delivery.message_id,
        "subject": delivery.subject,
        "to_mail": delivery.to_mail,
        "decided_at": instant_text(delivery.decided_at),
        "expires_at": instant_text(delivery.expires_at),
        **delivery_progress(delivery),
    }


def delivery(row: Any) -> Delivery:
    """A letter on its way out, of a row with its bytes."""
    return Delivery(
        person=row.person,
        kind=LetterKind(row.kind),
        period=row.period,
        message_id=row.message_id,
        subject=row.subject,
        to_mail=row.to_mail,
        raw=bytes(row.raw),
        decided_at=instant_of(row.decided_at),
        expires_at=instant_of(row.expires_at),
        state=DeliveryState(row.state),
        tries=row.tries,
        next_try_at=instant_of_or_none(row.next_try_at),
        leased_until=instant_of_or_none(row.leased_until),
        last_answer=row.last_answer,
        sent_at=instant_of_or_none(row.sent_at),
        id=row.id,
    )


def letter_place(row: Any) -> LetterPlace:
    """How far a letter is, of a row without its bytes."""
    return LetterPlace(
        id=row.id,
        person=row.person,
        kind=LetterKind(row.kind),
        period=row.period,
        message_id=row.message_id,
        subject=row.subject,
        to_mail=row.to_mail,
        decided_at=instant_of(row.decided_at),
        expires_at=instant_of(row.expires_at),
        state=DeliveryState(row.state),
        tries=row.tries,
        next_try_at=instant_of_or_none(row.next_try_at),
        leased_until=instant_of_or_none(row.leased_until),
        last_answer=row.last_answer,
        sent_at=instant_of_or_none(row.sent_at),
    )
