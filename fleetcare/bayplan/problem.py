"""A bay problem as values: vehicles and their services, shifts of people, bays, and what each choice costs.

Day 0 is a Monday. Instants are whole minutes since the start of day 0, money is whole cents, chances are parts per
million: two programs that add a plan up come to the same cent.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying

DAY_MIN = 1_440
MOST_MINUTES = 100_000_000
"""No duration and no wait in a problem is longer; some hundred and ninety years."""
MOST_CENTS = 10**11
MOST_DAYS = 4_000


@dataclass(frozen=True, slots=True)
class SetUp:
    """Work that several services of one visit share: wheels off, under-tray off, on stands, fluid drained."""

    name: str
    minutes: int
    cents: int


@dataclass(frozen=True, slots=True)
class Depot:
    """A workshop with its bays. open_by_day: (day, cents) where a day costs something other than `open_cents`."""

    name: str
    bays: int
    open_cents: int
    open_by_day: tuple[tuple[int, int], ...] = ()

    def opening_cents(self, day: int) -> int:
        """What it costs to work there on that day at all."""
        return next((cents for on, cents in self.open_by_day if on == day), self.open_cents)


@dataclass(frozen=True, slots=True)
class Hand:
    """A person who works in one depot, and what he or she may do."""

    name: str
    depot: str
    skills: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """A stretch of one day in which people are there. start, end: minutes of that day."""

    name: str
    depot: str
    day: int
    start: int
    end: int
    people: tuple[str, ...]
    premium_cents_per_min: int = 0

    @property
    def starts_at(self) -> int:
        """Its first minute, since day 0."""
        return self.day * DAY_MIN + self.start

    @property
    def ends_at(self) -> int:
        """The minute after its last, since day 0."""
        return self.day * DAY_MIN + self.end

    @property
    def length(self) -> int:
        """Minutes from start to end."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class PlanVehicle:
    """A vehicle as the plan sees it. away: half-open (from, to) in minutes since day 0, when it cannot stand still."""

    name: str
    depot: str
    arrive_min: int
    arrive_cents: int
    out_cents_per_hour: int
    away: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Stage:
    """Hands-on work without a break, in minutes; with `skill`, only by somebody who has it."""

    minutes: int
    skill: str = ""


@dataclass(frozen=True, slots=True)
class Wait:
    """Minutes between the end of one stage and the start of the next (curing, cooling, dripping): least and most."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class After:
    """This service comes after another of the same vehicle: its first day at least `gap_days` after the other's
    last."""

    service: str
    gap_days: int


@dataclass(frozen=True, slots=True)
class Published:
    """The day people have on their phones, and what moving it costs: once, and for each day (30 at most)."""

    day: int
    move_cents: int
    per_day_cents: int


@dataclass(frozen=True, slots=True)
class BayService:
    """One service that is due.

    due: (day, chance in ppm that it is due on or before that day), days and chances rising, the last 1 000 000;
    straight lines between. early_cents_per_day: life thrown away. late_cents_per_day, overdue_cents: harm of being
    late, by the day and at all. cost_by_day: instead of all these, the price of each day. not_before, not_after: days.
    after: every one of them holds.
    """

    name: str
    vehicle: str
    stages: tuple[Stage, ...]
    due: tuple[tuple[int, int], ...] = ()
    waits: tuple[Wait, ...] = ()
    setups: tuple[str, ...] = ()
    early_cents_per_day: int = 0
    late_cents_per_day: int = 0
    overdue_cents: int = 0
    not_before: int = 0
    not_after: int = MOST_DAYS
    is_required: bool = True
    skip_cents: int = 0
    after: tuple[After, ...] = ()
    published: Published | None = None
    cost_by_day: tuple[int, ...] = ()

    @property
    def minutes(self) -> int:
        """Hands-on minutes of all stages."""
        return sum(stage.minutes for stage in self.stages)


@dataclass(frozen=True, slots=True)
class BayProblem:
    """Everything a plan is made from. Checked when made: raises BadInput with the place of the fault in `field`."""

    name: str
    days: int
    max_visit_min: int
    setups: tuple[SetUp, ...]
    depots: tuple[Depot, ...]
    people: tuple[Hand, ...]
    shifts: tuple[Shift, ...]
    vehicles: tuple[PlanVehicle, ...]
    services: tuple[BayService, ...]
    setup_by_name: dict[str, SetUp] = field(init=False, repr=False, compare=False)
    depot_by_name: dict[str, Depot] = field(init=False, repr=False, compare=False)
    hand_by_name: dict[str, Hand] = field(init=False, repr=False, compare=False)
    shift_by_name: dict[str, Shift] = field(init=False, repr=False, compare=False)
    vehicle_by_name: dict[str, PlanVehicle] = field(init=False, repr=False, compare=False)
    service_by_name: dict[str, BayService] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for attribute, what, things in (
            ("setup_by_name", "setups", self.setups),
            ("depot_by_name", "depots", self.depots),
            ("hand_by_name", "people", self.people),
            ("shift_by_name", "shifts", self.shifts),
            ("vehicle_by_name", "vehicles", self.vehicles),
            ("service_by_name", "services", self.services),
        ):
            object.__setattr__(self, attribute, _by_name(what, things))
        from fleetcare.bayplan.problem_faults import check_problem

        check_problem(self)

    def skills_of(self, shift: Shift) -> frozenset[str]:
        """Every skill that somebody of the shift has."""
        return frozenset(skill for name in shift.people for skill in self.hand_by_name[name].skills)


def _by_name(what: str, things: Iterable[object]) -> dict[str, object]:
    found: dict[str, object] = {}
    for place, thing in enumerate(things):
        name = str(getattr(thing, "name", ""))
        if not name:
            raise BadInput("A name is empty.", remedy="Give it an id.", field=f"{what}[{place}].id")
        if name in found:
            raise BadInput(
                saying("Two of the {what} are called {name}.", what=what, name=shown(name)),
                remedy="Give each its own.",
                field=f"{what}[{place}].id",
            )
        found[name] = thing
    return found
