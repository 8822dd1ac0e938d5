"""A visit to the bay: one vehicle, some services, hands-on and standing in turn, pencilled or inked."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from itertools import pairwise

from fleetcare.errors import BadInput
from fleetcare.fleet.component import LineKey
from fleetcare.language import saying

LONGEST_STRETCH = timedelta(days=14)
"""A coat that cures for two weeks is the longest wait that anybody here has met. Judgement."""
LONGEST_VISIT = timedelta(days=60)
MOST_STRETCHES = 20
MOST_SERVICES = 40


class VisitState(StrEnum):
    """How firm a visit is."""

    PENCILLED = "pencilled"
    """It may still move."""
    INKED = "inked"
    """Somebody has said that it stays."""
    RUBBED_OUT = "rubbed out"
    """It will not take place. It is kept, so that its number is never given again."""


class StretchKind(StrEnum):
    """What a stretch of a visit is."""

    HANDS_ON = "hands-on"
    STANDING = "standing"
    """The vehicle cannot move and nobody works on it: cure, drain, cool-down."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one instant to the next, UTC."""

    kind: StretchKind
    begins_at: datetime
    ends_at: datetime

    @property
    def lasts(self) -> timedelta:
        """How long it is."""
        return self.ends_at - self.begins_at


@dataclass(frozen=True, slots=True)
class BayVisit:
    """One vehicle in the bay.

    number: counts the visits of that vehicle from 1 and is never given twice. lines: services done in it, at least one.
    stretches: without gaps, hands-on first, then in turn; the vehicle is free again at the end of the last one.
    mechanic: key of the person whose hands they are, or empty. reason: why this day, in a sentence, or empty.
    Raises BadInput for what cannot be.
    """

    mark: str
    number: int
    lines: tuple[LineKey, ...]
    stretches: tuple[Stretch, ...]
    state: VisitState = VisitState.PENCILLED
    mechanic: str = ""
    reason: str = ""
    moved_from: date | None = None
    """The garage's day that people had counted on before it was last moved to another; None if there was none."""
    hands_moved_from: date | None = None
    """The day of its next hand before its sheet moved that to another, once it had begun; None if it never did."""

    def __post_init__(self) -> None:
        if self.number < 1:
            raise BadInput("Visits of a vehicle are counted from 1.", field="number")
        if not 1 <= len(self.lines) <= MOST_SERVICES or len(set(self.lines)) < len(self.lines):
            raise BadInput(
                "A visit is for one service or more, each named once.", remedy="Name what is to be done.", field="lines"
            )
        if any(line.mark != self.mark for line in self.lines):
            raise BadInput("A visit is for the services of one vehicle.", remedy="Give each its own.", field="lines")
        _refuse_stretches(self.stretches)

    @property
    def key(self) -> tuple[str, int]:
        """Mark and number."""
        return self.mark, self.number

    @property
    def begins_at(self) -> datetime:
        """The first hand."""
        return self.stretches[0].begins_at

    @property
    def free_at(self) -> datetime:
        """When the vehicle can be driven again."""
        return self.stretches[-1].ends_at

    @property
    def takes_place(self) -> bool:
        """It is not rubbed out."""
        return self.state is not VisitState.RUBBED_OUT

    @property
    def hands_on(self) -> timedelta:
        """Time somebody works on it."""
        return sum((each.lasts for each in self.stretches if each.kind is StretchKind.HANDS_ON), start=timedelta())

    def overlaps(self, other: BayVisit) -> bool:
        """Whether the vehicle would be in twice, or the bay hold both, at one time."""
        return self.begins_at < other.free_at and other.begins_at < self.free_at


def laid_end_to_end(begins_at: datetime, parts: Iterable[tuple[StretchKind, timedelta]]) -> tuple[Stretch, ...]:
    """Stretches one after the other from an instant on."""
    found = []
    at = begins_at
    for kind, lasts in parts:
        found.append(Stretch(kind, at, at + lasts))
        at += lasts
    return tuple(found)


def moved_to(stretches: Sequence[Stretch], begins_at: datetime) -> tuple[Stretch, ...]:
    """The same stretches from another instant on; every wait keeps its length."""
    return laid_end_to_end(begins_at, ((each.kind, each.lasts) for each in stretches))


def stand_of_visit(visit: BayVisit) -> str:
    """Stands for all that is known of a visit, so that a form tells which state it was shown in."""
    return hashlib.sha256(repr(visit).encode()).hexdigest()[:16]


def next_number(visits: Iterable[BayVisit], mark: str) -> int:
    """The number of that vehicle's next visit. visits: all it ever had, rubbed out or not."""
    return max((visit.number for visit in visits if visit.mark == mark), default=0) + 1


def _refuse_stretches(stretches: Sequence[Stretch]) -> None:
    if not 1 <= len(stretches) <= MOST_STRETCHES:
        raise BadInput(
            saying("A visit has 1 to {most_stretches} stretches.", most_stretches=MOST_STRETCHES),
            remedy="Say how long it takes.",
            field="takes",
        )
    if stretches[0].kind is not StretchKind.HANDS_ON:
        raise BadInput("A visit begins with hands on the vehicle.", remedy="Give that first.", field="takes")
    for each in stretches:
        if each.begins_at.tzinfo is None or each.ends_at.tzinfo is None:
            raise ValueError("an instant needs its zone")
        if not timedelta(0) < each.lasts <= LONGEST_STRETCH:
            raise BadInput(
                saying(
                    "A stretch of a visit lasts longer than nothing and at most {days} days.", days=LONGEST_STRETCH.days
                ),
                remedy="Give hours and minutes, such as 2:20.",
                field="takes",
            )
    for before, after in pairwise(stretches):
        if before.ends_at != after.begins_at or before.kind is after.kind:
            raise BadInput(
                "In a visit, hands-on and standing follow each other without a gap.",
                remedy="Put two of one kind together, or name what lies between them.",
                field="takes",
            )
    if stretches[-1].ends_at - stretches[0].begins_at > LONGEST_VISIT:
        raise BadInput(
            saying("A visit of more than {days} days is a lay-up.", days=LONGEST_VISIT.days),
            remedy="Lay it up.",
            field="takes",
        )
