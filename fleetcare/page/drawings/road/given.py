"""What the strip is drawn from: plain values of one lane, days and instants of the garage's own clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class WindowGiven:
    """One window. name: the service's short name. number: its place in the list under the strip, counted from 1.

    past_late: how long it is past late in words, empty if it is not. visits: numbers of the visits that cover it.
    """

    early: date
    likely: date
    late: date
    name: str
    number: int
    past_late: str = ""
    visits: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class VisitGiven:
    """One bay day of the vehicle. stands: it cannot be driven for a while in which nobody works on it."""

    number: int
    begins: datetime
    free: datetime
    is_inked: bool
    stands: bool
    label: str


@dataclass(frozen=True, slots=True)
class SpokenFor:
    """It is wanted elsewhere from the first to the last day, both included."""

    first: date
    last: date
    name: str


@dataclass(frozen=True, slots=True)
class LaneGiven:
    """One vehicle. under: a line below its name. wants: that line says that a reading is wanted.

    looks: days on which something found wants another look.
    """

    mark: str
    name: str
    url: str
    under: str
    wants: bool = False
    windows: tuple[WindowGiven, ...] = ()
    visits: tuple[VisitGiven, ...] = ()
    spoken: tuple[SpokenFor, ...] = ()
    looks: tuple[date, ...] = ()
