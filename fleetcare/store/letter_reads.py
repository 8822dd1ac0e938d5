"""Letters and how they fared, read."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.store import delivery_rows, translate_letters
from fleetcare.store.gate import gated
from fleetcare.store.row_reads import DELIVERY, RowReads


class LetterReads(RowReads):
    """The part of `ReadView` that is about letters."""

    def deliveries(self, state: DeliveryState | None = None) -> tuple[Delivery, ...]:
        """By moment of decision, id."""
        query = delivery_rows.WHOLE
        if state is not None:
            query = query.where(DELIVERY.c.state == state.value)
        ordered = query.order_by(*self._order(DELIVERY.c.decided_at, DELIVERY.c.id))
        return tuple(translate_letters.delivery(row) for row in self._connection.execute(ordered))

    def delivery(self, person: str, kind: LetterKind, period: str) -> Delivery | None:
        """That letter, whatever its state."""
        row = self._connection.execute(
            delivery_rows.WHOLE.where(
                DELIVERY.c.person == gated(person),
                DELIVERY.c.kind == kind.value,
                DELIVERY.c.period == gated(period),
            )
        ).first()
        return None if row is None else translate_letters.delivery(row)

    def letter_places(
        self,
        *,
        states: Collection[DeliveryState] | None = None,
        kinds: Collection[LetterKind] | None = None,
        people: Collection[str] | None = None,
        since: datetime | None = None,
    ) -> tuple[LetterPlace, ...]:
        """By moment of decision, id; without their bytes."""
        return delivery_rows.places(self._connection, states=states, kinds=kinds, people=people, since=since)
