"""One row of the interval book: a service, its interval rule, its source."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum

from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.quantities import PrintedDistance


class Status(StrEnum):
    """How well a figure is known."""

    PUBLISHED = "published source"
    SECOND_HAND = "published, second hand"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"
    DOUBTFUL = "doubtful, read it again in its source"
    GARAGE = "set by this garage"


class Mixing(StrEnum):
    """How figures for several duties go together."""

    BLEND = "blend"
    """Shares add up: sum of distance under a duty over the interval for that duty (linear damage)."""
    STRICT = "strict"
    """One severe use puts the whole span on the severe interval."""


class NoWear(StrEnum):
    """In place of a figure for a duty."""

    NO_WEAR = "no wear"
    """Distance under this duty does not count."""


NO_WEAR = "no wear"
"""What is written for a duty under which distance does not count."""


@dataclass(frozen=True, slots=True)
class DutyFigure:
    """What one duty does to the distance interval: a figure of its own, or no wear at all.

    waived_by: fluid grades with which this duty counts like the plain interval.
    """

    duty: str
    distance: PrintedDistance | None
    """None: distance under this duty adds no wear."""
    waived_by: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Limits:
    """Whichever of these comes first. `distance` is the plain figure, for duties without one of their own.

    with_modifier: what takes the place of distance, months and weeks on a component whose fluid has a friction
    modifier, which wears out sooner than the fluid; duties with a longer figure of their own then count by it too.
    """

    distance: PrintedDistance | None = None
    by_duty: tuple[DutyFigure, ...] = ()
    months: int | None = None
    weeks: int | None = None
    hours: Decimal | None = None
    with_modifier: Limits | None = None

    def shortened_by_modifier(self) -> Limits:
        """The limits for a fluid with a friction modifier; the same ones if it makes no difference."""
        shorter = self.with_modifier
        if shorter is None:
            return self
        by_duty = self.by_duty
        if shorter.distance is not None:
            most = shorter.distance
            by_duty = tuple(
                replace(figure, distance=most)
                if figure.distance is not None and figure.distance.in_km > most.in_km
                else figure
                for figure in self.by_duty
            )
        return replace(
            self,
            distance=shorter.distance or self.distance,
            by_duty=by_duty,
            months=shorter.months or self.months,
            weeks=shorter.weeks or self.weeks,
            with_modifier=None,
        )

    @property
    def is_empty(self) -> bool:
        """True if it limits nothing."""
        return not (
            self.distance or any(figure.distance for figure in self.by_duty) or self.months or self.weeks or self.hours
        )


@dataclass(frozen=True, slots=True)
class AfterEvent:
    """Due within so far, so many days or hours after an event (immersion, gears renewed, wheel fitted).

    All of distance, days and hours None: due at once, on the day of the event. `at_each_use` rules are this, with the
    event of the use (`tow`, `track day`).
    """

    event: str
    distance: PrintedDistance | None = None
    days: int | None = None
    hours: Decimal | None = None


@dataclass(frozen=True, slots=True)
class IntervalRule:
    """When a service is due.

    first: limits up to the first time the service is done on a new component; None means `repeat` holds from the start.
    repeat: limits between one time and the next; empty for an event-only service.
    """

    repeat: Limits = field(default_factory=Limits)
    first: Limits | None = None
    after: tuple[AfterEvent, ...] = ()
    mixing: Mixing = Mixing.BLEND


@dataclass(frozen=True, slots=True)
class Override:
    """A change this garage made to a shipped row: which field, what it was, what it is, and why."""

    field: str
    was: str
    now: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BookRow:
    """One row of the interval book."""

    key: str
    """Lower case, digits and hyphens; unique in the book."""
    title: str
    """As a heading: `Rear axle fluid, cover reseal`."""
    short: str
    """At most 24 characters, lower case: `rear axle fluid`."""
    components: tuple[str, ...]
    vehicles: tuple[VehicleKind, ...]
    """Empty: any kind."""
    rule: IntervalRule
    source: str
    status: Status
    action: str = ""
    """What is done, in a few words."""
    note: str = ""
    proposed: bool = True
    """Whether a new component of that kind gets this line without being asked; False for alternatives."""
    give_days: int | None = None
    """Half width of the window of a date-only service; None: 4 % of the interval, at least 7 days."""
    look_first: bool = True
    """With unknown history a look comes first."""
    overrides: tuple[Override, ...] = ()


@dataclass(frozen=True, slots=True)
class IntervalBook:
    """All rows, by key."""

    rows: dict[str, BookRow]

    def proposed_for(self, vehicle: VehicleKind, component: str) -> tuple[BookRow, ...]:
        """Rows a new component of that kind gets without being asked, in order of key."""
        return tuple(
            row
            for key, row in sorted(self.rows.items())
            if row.proposed and component in row.components and (not row.vehicles or vehicle in row.vehicles)
        )
