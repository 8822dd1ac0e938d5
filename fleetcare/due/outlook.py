"""What is known of a service line and of a vehicle on one day; pages, feeds and letters are made from it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from fleetcare.book.rows import BookRow
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later
from fleetcare.meter.reading import Reading
from fleetcare.quantities import MeterUnit


class Cause(StrEnum):
    """What makes a line due first."""

    DISTANCE = "distance"
    HOURS = "hours"
    DATE = "date"
    EVENT = "event"
    UNKNOWN_HISTORY = "unknown history"


class NoDate(StrEnum):
    """Why a line has no window. Every line has a window or one of these."""

    NO_READING = later("no reading")
    NO_USE = later("no use in sight")
    NO_EVENT = later("waits for its event")
    OUT_OF_FLEET = later("out of the fleet")
    BEYOND = later("not before the year 2200")


@dataclass(frozen=True, slots=True)
class DueWindow:
    """Early, likely and late date: the service falls due before them with 1, 5 and 9 chances in 10."""

    early: date
    likely: date
    late: date
    cause: Cause

    def __post_init__(self) -> None:
        if not self.early <= self.likely <= self.late:
            raise ValueError(f"a due window is in order: {self.early}, {self.likely}, {self.late}")

    def is_open(self, today: date) -> bool:
        """Today lies in the window, ends included."""
        return self.early <= today <= self.late

    def is_past_late(self, today: date) -> bool:
        """Today is after the late date."""
        return today > self.late

    def days_past_late(self, today: date) -> int:
        """Days since the late date, 0 if it is not over."""
        return max(0, (today - self.late).days)


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of a step. value: a number in `unit`, not rounded (the sentence is), or a day with no unit.

    Distances are true km and shares are of the interval (1: all of it), whatever the sentence shows; a dial is in its
    own unit.
    """

    name: str
    value: float | date
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the way from readings to dates: a plain sentence, and the figures in it.

    part: which step it is (`readings`, `pace`, `used`, `left`, `ahead`, `limit`, `window` ...); empty if it only tells.
    """

    text: str
    part: str = ""
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True)
class LineOutlook:
    """One service line on one day.

    q_read: wear share at the last reading (date-only line: today). 1 means due. None if it cannot be said.
    q_now: wear share today on the likely course. per_day: wear share added a day on the likely course, from today on.
    The three describe the limit that is reached first (`window.cause`).
    """

    key: LineKey
    row: BookRow
    component: Component
    today: date
    window: DueWindow | None
    no_date: NoDate | None
    q_read: float | None
    q_now: float | None
    per_day: float | None
    last_done_on: date | None
    steps: tuple[Step, ...] = ()
    counted_on: date | None = None
    """The day this interval is counted from."""
    cut_by: str = ""
    """Key of the finding that cuts this interval short, `0147-1`; empty if none does."""

    def __post_init__(self) -> None:
        if (self.window is None) == (self.no_date is None):
            raise ValueError("a line has a window or a reason why it has none")

    @property
    def q_early(self) -> float | None:
        """Wear share at the early date on the likely course, the near end of the zone on the rod."""
        return self._share_on(self.window.early) if self.window else None

    @property
    def q_late(self) -> float | None:
        """Wear share at the late date on the likely course, the far end of the zone on the rod."""
        return self._share_on(self.window.late) if self.window else None

    def _share_on(self, day: date) -> float | None:
        if self.q_now is None or self.per_day is None:
            return None
        return self.q_now + self.per_day * (day - self.today).days


@dataclass(frozen=True, slots=True)
class ReadingWanted:
    """A reading is wanted: since when, and what the last one was."""

    meter: str
    since: date
    last_on: date | None
    last_value: Decimal | None


@dataclass(frozen=True, slots=True)
class StoodStill:
    """A meter shows the same as before: since the first reading alike, by so many of them, at what value of the dial.

    Nobody has said that the vehicle is laid up in that time.
    """

    meter: str
    since: date
    last_on: date
    readings: int
    value: Decimal
    unit: MeterUnit


@dataclass(frozen=True, slots=True)
class VehicleOutlook:
    """One vehicle on one day.

    basis: in words, what the pace rests on. mix: how its distance divides, as forecast.
    wanted: set when a reading is wanted. held: readings kept aside until somebody settles them.
    standing: set when it seems to stand and nobody has said why. moved: the newest reading that moved in a spell in
    which it is laid up, if it still is.
    """

    vehicle: Vehicle
    today: date
    last_reading: Reading | None
    reckoned_dial: Decimal | None
    """What its odometer shows today by reckoning, whole units of its own dial."""
    pace_km_per_day: float | None
    readings_used: int
    basis: str
    mix: DutySplit
    lines: tuple[LineOutlook, ...]
    wanted: ReadingWanted | None = None
    held: tuple[Reading, ...] = ()
    standing: StoodStill | None = None
    moved: Reading | None = None
