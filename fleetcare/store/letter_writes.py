"""Letters and how they fare, written."""

from __future__ import annotations

from datetime import datetime

from fleetcare.digest.values import Delivery, LetterPlace
from fleetcare.errors import NotFound
from fleetcare.store import delivery_rows, translate_letters
from fleetcare.store.letter_reads import LetterReads
from fleetcare.store.row_reads import DELIVERY
from fleetcare.store.row_writes import RowWrites


class LetterWrites(RowWrites, LetterReads):
    """The part of `WriteUnit` that is about letters."""

    def add_delivery(self, delivery: Delivery) -> bool:
        """False, and nothing stored, if that letter is there already."""
        is_new = self._add_new(DELIVERY, [translate_letters.delivery_columns(delivery)]) == 1
        if is_new:
            delivery_rows.add_body(self._connection, delivery)
        return is_new

    def set_delivery(self, delivery: Delivery | LetterPlace) -> None:
        """How far a letter is; what it says never changes. Raises NotFound."""
        if not is_number(delivery.id) or delivery_rows.set_progress(self._connection, delivery) != 1:
            raise NotFound("letter", str(delivery.id))
        self.wrote = True

    def end_lease(self, letter: LetterPlace, leased_until: datetime) -> bool:
        """How far a letter is, if the lease until then still holds; True if it did."""
        held = delivery_rows.end_lease(self._connection, letter, leased_until) == 1
        self.wrote = self.wrote or held
        return held

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        """Takes a letter for sending if nobody else has it and it is due."""
        taken = delivery_rows.lease(self._connection, delivery_id, now, until) if is_number(delivery_id) else None
        self.wrote = self.wrote or taken is not None
        return taken


def is_number(given: int | None) -> bool:
    """True if a row can have that number. Addresses hold what people type, and no driver takes a larger one."""
    return given is not None and 0 < given < 2**31
