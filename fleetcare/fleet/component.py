"""Components of a vehicle, the facts stamped on them, and the service lines they carry."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple


class History(StrEnum):
    """What is known of a service line before its first record here."""

    NEW = "new"
    """Counts from the component's first day and first distance."""
    UNKNOWN = "unknown"
    """Nobody knows; a look at it is the first thing due."""
    RECORDED = "recorded"
    """There is a work record (in `work.csv` or by `fleetcare done`)."""


class LineKey(NamedTuple):
    """One service on one component of one vehicle. Sorts by vehicle, component, service."""

    mark: str
    component: str
    service: str

    def __str__(self) -> str:
        return "/".join(self)


@dataclass(frozen=True, slots=True)
class TagFact:
    """One value of a tag, as stamped or printed, with where it is from: stamped, manual, measured or unknown."""

    name: str
    value: str
    basis: str = "manual"


@dataclass(frozen=True, slots=True)
class LineStart:
    """A service line that this component carries, and what is known of it before its first record."""

    service: str
    """Key of the interval book row."""
    history: History = History.UNKNOWN
    entered_on: date | None = None
    """Day the line was set up here; the look at an unknown line is counted from it."""


@dataclass(frozen=True, slots=True)
class Component:
    """An assembly that is serviced by itself."""

    key: str
    """Unique on its vehicle, for example `rear-axle`."""
    kind: str
    """What the interval book goes by: `engine`, `rear axle`, `hubs` ..."""
    title: str
    fluid_grade: str = ""
    fluid_capacity_l: Decimal | None = None
    facts: tuple[TagFact, ...] = ()
    lines: tuple[LineStart, ...] = field(default=())
    fitted_on: date | None = None
    """First day of this component; None means it came with the vehicle."""
