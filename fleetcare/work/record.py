"""A record of work done on one service line."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fleetcare.fleet.component import LineKey
from fleetcare.quantities import MeterUnit


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found, and by when somebody wants to look again."""

    text: str
    look_again_on: date | None = None
    settled_on: date | None = None


@dataclass(frozen=True, slots=True)
class WorkDone:
    """One service done on one line. It restarts the line from the measured meter value, or from the day alone.

    at: what the dial showed, in `unit`; None if nobody read it.
    """

    line: LineKey
    on: date
    at: Decimal | None = None
    unit: MeterUnit | None = None
    by: str = ""
    note: str = ""
    findings: tuple[Finding, ...] = ()
    id: int | None = None
    """Given by the store."""
