"""A reading as somebody gave it. Value and unit are never edited."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.duty import DutySplit
from fleetcare.quantities import MeterUnit


class ReadingState(StrEnum):
    """Whether a reading is used."""

    USED = "used"
    HELD = "held"
    """Does not fit; kept and shown, not used until somebody settles it."""
    SUPERSEDED = "superseded"
    """Another reading stands in its place."""
    TAKEN_BACK = "taken back"


class Door(StrEnum):
    """The way a reading came in."""

    COMMAND = "command"
    FILE = "file"
    API = "api"
    PHONE = "phone"
    MAIL = "mail"


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of one meter.

    value: as the dial shows it, in `unit`, at most one decimal.
    on: the day, local to the garage. entered_at: the instant it was given, UTC.
    split: how the distance since the reading before divides over duties; None means the usual split.
    Two readings are the same if vehicle, meter, day, value and unit are the same.
    """

    mark: str
    meter: str
    on: date
    value: Decimal
    unit: MeterUnit
    entered_at: datetime
    by: str = ""
    door: Door = Door.COMMAND
    split: DutySplit | None = None
    state: ReadingState = ReadingState.USED
    note: str = ""
    vouched_by: str = ""
    """Who said that it is right although it does not fit the others; empty if nobody was asked."""
    id: int | None = None
    """Given by the store."""

    @property
    def identity(self) -> tuple[str, str, date, Decimal, MeterUnit]:
        """What makes it one and the same reading however often it is given."""
        return (self.mark, self.meter, self.on, self.value, self.unit)
