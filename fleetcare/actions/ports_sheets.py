"""What actions need of a store about work orders, what was found, what moved and what lies on the shelf."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Protocol

from fleetcare.book.shopping import ShelfItem
from fleetcare.fleet.booking import UseEvent
from fleetcare.work.found import Found
from fleetcare.work.moves import Move
from fleetcare.work.order import WorkOrder


class SheetsRead(Protocol):
    """The part of `ReadView` that is about work orders, what was found, what moved and what lies on the shelf."""

    def orders(self, marks: Iterable[str] | None = None) -> tuple[WorkOrder, ...]:
        """Work orders by number."""
        ...

    def order(self, number: int) -> WorkOrder | None: ...

    def newest_sheet(self) -> int:
        """The highest number of a work order, 0 if there is none."""
        ...

    def found(self, marks: Iterable[str] | None = None) -> tuple[Found, ...]:
        """What was found, by sheet and place on it."""
        ...

    def moves(self, marks: Iterable[str] | None = None) -> tuple[Move, ...]:
        """Components that came to or went from these vehicles, by day, then by where they went."""
        ...

    def shelf(self) -> tuple[ShelfItem, ...]:
        """What lies on the shelf, by key."""
        ...

    def drawn(self, sheet: int) -> dict[str, Decimal]:
        """What a sheet took from the shelf: by key, how much in the item's own unit."""
        ...


class SheetsWrite(SheetsRead, Protocol):
    """The part of `WriteUnit` that is about work orders, what was found, what moved and what lies on the shelf."""

    def put_order(self, order: WorkOrder) -> None:
        """New, or in place of the one with that number."""
        ...

    def add_found(self, found: Sequence[Found]) -> int:
        """Stores those that are not there yet (by sheet and place); returns how many were new."""
        ...

    def settle_found(self, found: Found) -> None:
        """Stores how it was settled; the rest never changes. Raises NotFound."""
        ...

    def drop_found(self, sheet: int) -> int:
        """Forgets what was found on a sheet that is put back; returns how many."""
        ...

    def take_back_work(self, ids: Iterable[int]) -> int:
        """Forgets records of work that a sheet made which is put back; returns how many."""
        ...

    def take_back_events(self, events: Iterable[UseEvent]) -> int:
        """Forgets events that a sheet made which is put back; returns how many."""
        ...

    def put_on_shelf(self, items: Iterable[ShelfItem]) -> None:
        """Each new or in place of the one with its key."""
        ...

    def put_drawn(self, sheet: int, amounts: Mapping[str, Decimal]) -> None:
        """What a sheet took, in place of what it took before; nothing takes it away."""
        ...

    def take_off_shelf(self, keys: Iterable[str]) -> int:
        """Forgets items; returns how many were there."""
        ...

    def put_move(self, move: Move) -> None:
        """A component that moved. Raises BadInput if another came to that place on that day."""
        ...
