"""What actions need of a store about letters."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Protocol

from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace


class LettersRead(Protocol):
    """The part of `ReadView` that is about letters."""

    def deliveries(self, state: DeliveryState | None = None) -> tuple[Delivery, ...]:
        """By moment of decision, id."""
        ...

    def delivery(self, person: str, kind: LetterKind, period: str) -> Delivery | None: ...

    def letter_places(
        self,
        *,
        states: Collection[DeliveryState] | None = None,
        kinds: Collection[LetterKind] | None = None,
        people: Collection[str] | None = None,
        since: datetime | None = None,
    ) -> tuple[LetterPlace, ...]:
        """Letters without their bytes, by moment of decision, id. since: decided then or later; None asks for all."""
        ...


class LettersWrite(LettersRead, Protocol):
    """The part of `WriteUnit` that is about letters."""

    def add_delivery(self, delivery: Delivery) -> bool:
        """False, and nothing stored, if (person, kind, period) is there already."""
        ...

    def set_delivery(self, delivery: Delivery | LetterPlace) -> None:
        """Stores state, tries, times and last answer of one that has an id; the rest never changes."""
        ...

    def end_lease(self, letter: LetterPlace, leased_until: datetime) -> bool:
        """As `set_delivery`, but only while the lease until then is the one that holds; False if it is another's."""
        ...

    def lease_delivery(self, delivery_id: int, now: datetime, until: datetime) -> Delivery | None:
        """Takes a due (or stale leased) letter for sending; None if somebody else has it or it is settled."""
        ...
