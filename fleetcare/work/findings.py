"""What may be found on a component, how it is graded, and what follows from each grade: the book of findings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum

from fleetcare.book.rows import Status
from fleetcare.errors import BadFinding, NotFound, shown
from fleetcare.fleet.component import Component
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit

LONGEST_AHEAD_DAYS = 3660
"""Ten years: a look further ahead is no look."""


class FollowKind(StrEnum):
    """What follows from a finding."""

    NOTHING = "nothing"
    LOOK_AGAIN = "look again"
    SHORTEN = "shorten the next interval"
    HOLD = "do not drive"
    """The vehicle stays where it is until the finding is settled."""


@dataclass(frozen=True, slots=True)
class Follow:
    """What follows from a finding.

    distance in `unit`, days: of a look, whichever comes first; at least one of them. factor: what the next interval of
    the lines done with it is multiplied by, more than 0 and less than 1. todo: what to do, in a few words.
    """

    kind: FollowKind
    distance: Decimal | None = None
    unit: DistanceUnit = DistanceUnit.KM
    days: int | None = None
    factor: Decimal | None = None
    todo: str = ""

    def __post_init__(self) -> None:
        looks = self.kind is FollowKind.LOOK_AGAIN
        if looks != (self.distance is not None or self.days is not None):
            raise BadFinding(
                saying("“{kind}” needs a distance or days.", kind=self.kind.value)
                if looks
                else saying("“{kind}” has a distance or days.", kind=self.kind.value),
                remedy="Give by when to look again." if looks else "Leave them out.",
                field="follow",
            )
        if (self.kind is FollowKind.SHORTEN) != (self.factor is not None):
            raise BadFinding(
                saying("“{kind}” needs a factor.", kind=self.kind.value)
                if self.factor is None
                else saying("“{kind}” has no factor.", kind=self.kind.value),
                remedy="Only a shorter interval has a factor, and needs one.",
                field="factor",
            )
        if self.factor is not None and not 0 < self.factor < 1:
            raise BadFinding(
                saying("An interval cannot be shortened to {factor} of itself.", factor=self.factor),
                remedy="Give a factor between 0 and 1.",
                field="factor",
            )
        if self.distance is not None and not 0 < self.distance <= 1_000_000:
            raise BadFinding(
                saying("{distance} {unit} is no distance to look again after.", distance=self.distance, unit=self.unit),
                remedy="Give more than nothing and at most a million.",
                field="distance",
            )
        if self.days is not None and not 0 <= self.days <= LONGEST_AHEAD_DAYS:
            raise BadFinding(
                saying("{days} days ahead is no day to look again on.", days=self.days),
                remedy="Give at most ten years.",
                field="days",
            )

    def look_by(self, found_on: date) -> date | None:
        """The day by which to look again, None if only a distance says when."""
        return None if self.days is None else found_on + timedelta(days=self.days)


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade of a finding. means: what it says, without a remedy that fits one design alone.

    source, status: of what follows, where it is not that of the whole kind.
    """

    key: str
    words: str
    follow: Follow
    means: str = ""
    source: str = ""
    status: Status | None = None


class Worse(StrEnum):
    """In which direction a measured value gets worse."""

    SMALLER = "smaller"
    LARGER = "larger"
    OUTSIDE = "outside"
    """Of a range that the tag gives."""


GOOD, NEAR, PAST = "good", "near", "past"
"""Keys of the three grades a measured value may have."""


@dataclass(frozen=True, slots=True)
class Measure:
    """How a finding is measured.

    tag_name: name of the tag's fact that holds the limit or the range. limit: in `unit`, where the tag says nothing
    and the law or a published source does. near: how far from the limit a value is `near`. most: larger values are
    typed wrong.
    """

    unit: str
    worse: Worse
    tag_name: str
    limit: Decimal | None = None
    near: Decimal = Decimal(0)
    most: Decimal = Decimal(1000)


@dataclass(frozen=True, slots=True)
class FindingKind:
    """Something that may be found.

    components: kinds of component it is found on; empty: any. places: where on the component; empty: the component
    itself says where. grades: by key, the best first. measure: how it is measured, None if it is only graded.
    """

    key: str
    title: str
    grades: tuple[Grade, ...]
    source: str
    status: Status
    components: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    measure: Measure | None = None
    note: str = ""

    def __post_init__(self) -> None:
        keys = [grade.key for grade in self.grades]
        if len(set(keys)) != len(keys) or not keys:
            raise BadFinding(
                saying("{key} has no grade.", key=self.key)
                if not keys
                else saying("{key} has a grade twice.", key=self.key),
                remedy="Give each grade once.",
                field="grades",
            )
        if self.measure is not None and set(keys) != {GOOD, NEAR, PAST}:
            raise BadFinding(
                saying(
                    "{key} is measured, so its grades are {good}, {near} and {past}.",
                    key=self.key,
                    good=GOOD,
                    near=NEAR,
                    past=PAST,
                ),
                remedy="Give exactly these.",
                field="grades",
            )

    def grade(self, key: str) -> Grade:
        """The grade with that key or those words. Raises BadFinding that names them all."""
        wanted = key.strip().casefold()
        for grade in self.grades:
            if wanted in (grade.key.casefold(), grade.words.casefold()):
                return grade
        known = ", ".join(grade.key for grade in self.grades)
        raise BadFinding(
            saying("{title} is not graded {key}.", title=self.title, key=shown(key)),
            remedy=saying("It is {known}.", known=known),
            field="grade",
        )

    def fits(self, component: Component) -> bool:
        """Whether it may be found on that component."""
        return not self.components or component.kind in self.components

    def place(self, given: str, component: Component) -> str:
        """Where on the component it is, as the book writes it. Raises BadFinding if it does not say, or cannot be."""
        if not self.fits(component):
            raise BadFinding(
                saying("{title} is not found on {component}.", title=self.title, component=component.title),
                remedy=saying("It is found on: {components}.", components=", ".join(self.components)),
                field="place",
            )
        wanted = given.strip().casefold()
        if not self.places:
            if wanted:
                raise BadFinding(
                    saying(
                        "{title} has no places on {component}; {given} cannot be one.",
                        title=self.title,
                        component=component.title,
                        given=shown(given),
                    ),
                    remedy="Name the component alone.",
                    field="place",
                )
            return ""
        found = next((place for place in self.places if place.casefold() == wanted), None)
        if found is None:
            what = (
                saying("{given} is no place of {title}.", given=shown(given), title=self.title)
                if wanted
                else saying("{title}: where is not said.", title=self.title)
            )
            raise BadFinding(what, remedy=saying("Say one of: {places}.", places=", ".join(self.places)), field="place")
        return found


@dataclass(frozen=True, slots=True)
class FindingBook:
    """All kinds of finding, by key."""

    kinds: dict[str, FindingKind]

    def kind(self, key: str) -> FindingKind:
        """The kind with that key or title. Raises NotFound with what comes near."""
        wanted = key.strip().casefold()
        for kind in self.kinds.values():
            if wanted in (kind.key, kind.title.casefold()):
                return kind
        raise NotFound("kind of finding", key, self.kinds)

    def for_component(self, component: Component) -> tuple[FindingKind, ...]:
        """What may be found on that component, in the order of the book."""
        return tuple(kind for kind in self.kinds.values() if kind.fits(component))


@dataclass(frozen=True, slots=True)
class LimitKnown:
    """The limit, or the range from `low` to `high`, that a measured value is judged by, and where it is from."""

    low: Decimal | None
    high: Decimal | None
    source: str

    @property
    def words(self) -> str:
        """The limit in a sentence, without its unit."""
        if self.low is not None and self.high is not None:
            return f"{self.low} to {self.high}"
        return f"not under {self.low}" if self.low is not None else f"not over {self.high}"


def measured_grade(measure: Measure, value: Decimal, limit: LimitKnown | None) -> str:
    """Key of the grade of a measured value; empty if no limit is known, for then nobody may say that it is good.

    Raises BadFinding for a value that no such part has.
    """
    if not value.is_finite() or value < 0 or value > measure.most:
        raise BadFinding(
            saying("{value} {unit} cannot be.", value=value, unit=measure.unit),
            remedy=saying("Give it in {unit}.", unit=measure.unit),
            field="value",
        )
    if limit is None:
        return ""
    inside = [
        *([value - limit.low] if limit.low is not None else []),
        *([limit.high - value] if limit.high is not None else []),
    ]
    to_go = min(inside)
    if to_go < 0:
        return PAST
    return NEAR if to_go < measure.near else GOOD
