"""Words that sheets and findings are found by."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.sought import Sought, SoughtKind, words_of
from fleetcare.work.found import Found
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone

_NOTED = "work"


@dataclass(frozen=True, slots=True)
class FindingPlace:
    """Where a finding is kept: on a sheet, or noted with work that was done (then `number` is that record's)."""

    is_noted: bool
    number: int
    position: int


def sought_order(order: WorkOrder) -> Sought:
    """A sheet: by its number with and without noughts, its title, its services and components, and its notes."""
    lines = [f"{line.component} {line.service}" for line in order.lines]
    words = words_of(order.sheet, str(order.number), order.title, order.note, order.told, *lines)
    return Sought(SoughtKind.SHEET, f"{order.number:08d}", order.mark, words)


def sought_found(found: Found) -> Sought:
    """A finding on a sheet: by what was found, where, on which component, and its note."""
    words = words_of(found.words, found.place, found.component, found.kind, found.note, f"{found.order:04d}")
    return Sought(SoughtKind.FINDING, f"{found.on}/{found.order:08d}/{found.position}", found.mark, words)


def sought_notes(work: WorkDone) -> tuple[Sought, ...]:
    """Findings that were noted with work done; the work has its number from the store."""
    line = f"{work.line.component} {work.line.service}"
    return tuple(
        Sought(
            SoughtKind.FINDING, noted_thing(f"{work.on}", work.id or 0, at), work.line.mark, words_of(each.text, line)
        )
        for at, each in enumerate(work.findings)
    )


def noted_thing(on: str, work: int, at: int) -> str:
    """What stands for a finding noted with work of that number, done that day (2026-03-31)."""
    return f"{on}/{_NOTED}/{work}/{at}"


def place_of(thing: str) -> tuple[date, FindingPlace]:
    """The day of a finding and where it is kept, read back from what stands for it."""
    on, *rest = thing.split("/")
    is_noted = rest[0] == _NOTED
    number, position = rest[1:] if is_noted else rest
    return date.fromisoformat(on), FindingPlace(is_noted, int(number), int(position))
