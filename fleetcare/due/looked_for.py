"""What words led to: vehicles, services, sheets, findings and people."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Generic, TypeVar

from fleetcare.book.rows import BookRow
from fleetcare.due.outlook import DueWindow, NoDate
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.order import WorkOrder

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Hits(Generic[T]):
    """What was found of one kind, best first. has_more: there is more than is told."""

    rows: tuple[T, ...] = ()
    has_more: bool = False


@dataclass(frozen=True, slots=True)
class LineHit:
    """A service on a vehicle. state: what was last worked out for it, None if nothing was."""

    vehicle: Vehicle
    line: LineKey
    row: BookRow
    state: DueWindow | NoDate | None


@dataclass(frozen=True, slots=True)
class FindingHit:
    """A finding. sheet: its number, 0 if it was noted without one. is_settled: nobody has to look any more."""

    vehicle: Vehicle
    on: date
    words: str
    sheet: int
    is_settled: bool


@dataclass(frozen=True, slots=True)
class LookedFor:
    """What the words led to. words: as they were understood."""

    garage: Garage
    today: date
    words: tuple[str, ...]
    vehicles: Hits[Vehicle] = Hits()
    services: Hits[BookRow] = Hits()
    lines: Hits[LineHit] = Hits()
    sheets: Hits[tuple[WorkOrder, Vehicle]] = Hits()
    findings: Hits[FindingHit] = Hits()
    people: Hits[Person] = Hits()

    @property
    def is_empty(self) -> bool:
        """Nothing was found."""
        found = (self.vehicles, self.services, self.lines, self.sheets, self.findings, self.people)
        return not any(hits.rows for hits in found)
