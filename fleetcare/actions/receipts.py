"""What was sent under one key is stored once, and answered once: the answer is kept beside the facts it is about.

Not an action: `record_reading` uses it inside its own write unit, so that a reading and its answer are stored together
or not at all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Generic, TypeVar

from fleetcare.actions.ports import ReadView, Receipt, WriteUnit
from fleetcare.errors import Clash

T = TypeVar("T")

RECEIPT_TIME = timedelta(days=60)
"""So long an answer is kept. A phone that was without signal for longer finds its reading by what it says."""
SENT_BEFORE = "That was sent before, with something else in it, and was stored then. Nothing was changed now."


@dataclass(frozen=True, slots=True)
class Answer:
    """What was answered: an HTTP status and the body."""

    status: int
    body: bytes


@dataclass(frozen=True, slots=True)
class Once(Generic[T]):
    """What makes sending twice count once.

    key: stands for the sender and the key that came along, as a hash. body: stands for everything that was sent, as a
    hash. answer_of: the answer, worked out before anybody is told, in the same write.
    """

    key: str
    body: str
    answer_of: Callable[[T], Answer]


def answered_before(view: ReadView, once: Once[T]) -> Answer | None:
    """What was answered to the same under that key, or None. Raises Clash if something else was sent under it."""
    receipt = view.receipt(once.key)
    if receipt is None:
        return None
    if receipt.body != once.body:
        raise Clash(SENT_BEFORE)
    return Answer(receipt.status, receipt.answer)


def keep_answer(unit: WriteUnit, once: Once[T], recorded: T, now: datetime) -> Answer:
    """Works the answer out and keeps it; answers that are older than `RECEIPT_TIME` are forgotten."""
    answer = once.answer_of(recorded)
    unit.drop_receipts(now - RECEIPT_TIME)
    unit.put_receipt(Receipt(once.key, once.body, now, answer.status, answer.body))
    return answer
