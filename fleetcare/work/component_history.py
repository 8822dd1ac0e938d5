"""Everything that was done on a component and found on it, on whatever vehicle it was at the time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fleetcare.fleet.booking import UseEvent
from fleetcare.language import from_books
from fleetcare.quantities import MeterUnit
from fleetcare.work.found import Found
from fleetcare.work.moves import Move, Stay, stays_of
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing in the life of a component. mark: the vehicle it was on. what: in words. at: what that dial showed."""

    on: date
    mark: str
    what: str
    at: Decimal | None = None
    unit: MeterUnit | None = None
    by: str = ""
    note: str = ""


def component_history(
    mark: str,
    component: str,
    *,
    work: Iterable[WorkDone],
    found: Iterable[Found],
    events: Iterable[UseEvent],
    moves: Iterable[Move],
    titles: dict[str, str],
) -> tuple[Happened, ...]:
    """The life of the component that is at that place now, oldest first.

    work, found, events, moves: of all vehicles. titles: of services by key. Events of a whole vehicle are left out, as
    they say nothing of one component.
    """
    known_moves = tuple(moves)
    stays = stays_of(mark, component, known_moves)
    happened = [
        Happened(stay.first, stay.mark, from_books("came to {mark}", mark=stay.mark))
        for stay in stays[1:]
        if stay.first is not None
    ]
    happened += [
        Happened(
            record.on,
            record.line.mark,
            titles.get(record.line.service, record.line.service.replace("-", " ")),
            record.at,
            record.unit,
            record.by,
            record.note,
        )
        for record in work
        if _is_on(stays, record.line.mark, record.line.component, record.on)
    ]
    happened += [
        Happened(each.on, each.mark, f"found: {each.words}", each.at, each.meter, each.by, each.note)
        for each in found
        if _is_on(stays, each.mark, each.component, each.on)
    ]
    happened += [
        Happened(event.on, event.mark, event.kind, note=event.note)
        for event in events
        if event.component and _is_on(stays, event.mark, event.component, event.on)
    ]
    return tuple(sorted(happened, key=lambda each: (each.on, each.what)))


def _is_on(stays: Iterable[Stay], mark: str, component: str, on: date) -> bool:
    return any(stay.holds(mark, component, on) for stay in stays)
