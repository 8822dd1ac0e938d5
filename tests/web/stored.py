"""Everything a store holds, as one text that can be compared before and after."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from fleetcare.actions.ports import Store
from fleetcare.meter.reading import Reading, ReadingState


def everything(store: Store) -> str:
    """All that is stored, line by line, and the count of writes."""
    with store.read() as view:
        people = view.people()
        parts: list[object] = [
            view.version(),
            view.garage(),
            *people,
            *view.vehicles(),
            *view.readings(),
            *view.work(),
            *view.events(),
            *view.bookings(),
            *view.orders(),
            *view.found(),
            *view.moves(),
            *sorted((str(key), state) for key, state in view.windows().items()),
            *view.keys(),
            *(view.feed(person.key) for person in people),
            *(entry for person in people for entry in view.published(person.key)),
            *view.deliveries(),
            *view.log(),
        ]
    return "\n".join(map(repr, parts))


def used(store: Store, mark: str, meter: str = "odometer") -> list[Reading]:
    """The readings of one meter that count, by day."""
    with store.read() as view:
        readings = view.readings((mark,))
    return [r for r in readings if r.meter == meter and r.state is ReadingState.USED]


def last(store: Store, mark: str, meter: str = "odometer") -> tuple[date, Decimal]:
    """Day and value of the latest reading that counts."""
    latest = max(used(store, mark, meter), key=lambda r: (r.on, r.id or 0))
    return latest.on, latest.value


def reading_of(store: Store, mark: str, value: str) -> Reading:
    """The one reading with that value, in any state."""
    with store.read() as view:
        (found,) = [r for r in view.readings((mark,)) if r.value == Decimal(value)]
    return found
