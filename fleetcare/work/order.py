"""A work order: some services of one vehicle done in one go, from the plan to the signed sheet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum

from fleetcare.errors import BadInput, BadStep
from fleetcare.fleet.component import LineKey
from fleetcare.language import saying
from fleetcare.quantities import MeterUnit, TorqueUnit

MOST_NUMBER = 9999_9999
LONGEST_TEXT = 4000


class OrderState(StrEnum):
    """Where a work order stands."""

    PLANNED = "planned"
    IN_HAND = "in hand"
    STANDING = "standing"
    """Nobody works on it and it cannot move: something cures, drains or cools."""
    CLOSED = "closed"
    DEFERRED = "deferred"
    ABANDONED = "abandoned"

    @property
    def is_open(self) -> bool:
        """True if there is still something to do on it."""
        return self not in (OrderState.CLOSED, OrderState.ABANDONED)


@dataclass(frozen=True, slots=True)
class OrderedService:
    """A service on the sheet. done: None until the sheet is handed in. left_because: why it was not done.

    recorded: closing the sheet made a record of work that was not there before; putting it back takes that one away.
    """

    line: LineKey
    done: bool | None = None
    left_because: str = ""
    recorded: bool = False


@dataclass(frozen=True, slots=True)
class DialValue:
    """What a dial showed."""

    value: Decimal
    unit: MeterUnit

    def __post_init__(self) -> None:
        if not self.value.is_finite() or self.value < 0 or self.value * 10 != int(self.value * 10):
            raise BadInput(
                saying("{reading} is shown by no dial.", reading=self.value),
                remedy="Type what the dial shows, digits only.",
                field="at",
            )


@dataclass(frozen=True, slots=True)
class Filled:
    """Fluid really filled into a component, and taken out of it if somebody measured it; litres."""

    component: str
    what: str
    litres: Decimal
    taken_out: Decimal | None = None

    def __post_init__(self) -> None:
        for figure in (self.litres, self.taken_out):
            if figure is not None and not (figure.is_finite() and 0 <= figure <= 200):
                raise BadInput(
                    saying("{component}: {figure} L cannot be.", component=self.component, figure=figure),
                    remedy="Give litres, at most 200.",
                    field="fill",
                )


@dataclass(frozen=True, slots=True)
class TorqueSet:
    """A torque that was reached, against its range in the same unit; low and high None where no range is known."""

    component: str
    fastener: str
    value: Decimal
    unit: TorqueUnit
    low: Decimal | None = None
    high: Decimal | None = None
    note: str = ""

    def __post_init__(self) -> None:
        for figure in (self.value, self.low, self.high):
            if figure is not None and not (figure.is_finite() and 0 < figure <= 5000):
                raise BadInput(
                    saying(
                        "{fastener}: {figure} {unit} cannot be.", fastener=self.fastener, figure=figure, unit=self.unit
                    ),
                    remedy="Look at the unit.",
                    field="torque",
                )
        if self.low is not None and self.high is not None and self.low > self.high:
            raise BadInput(
                saying(
                    "{fastener}: from {low} to {high} {unit} is upside down.",
                    fastener=self.fastener,
                    low=self.low,
                    high=self.high,
                    unit=self.unit,
                ),
                remedy="Put the smaller figure first.",
                field="torque",
            )

    @property
    def is_outside(self) -> bool:
        """True if it is under the lowest or over the highest value of its range."""
        return (self.low is not None and self.value < self.low) or (self.high is not None and self.value > self.high)


@dataclass(frozen=True, slots=True)
class PartUsed:
    """A part or consumable that went in. cost: of all of it, in the garage's own money; None if nobody noted it."""

    what: str
    amount: Decimal = Decimal(1)
    unit: str = "pieces"
    cost: Decimal | None = None

    def __post_init__(self) -> None:
        if not self.what.strip():
            raise BadInput("A part has no name.", remedy="Say what it is.", field="part")
        if not (self.amount.is_finite() and 0 < self.amount <= 1_000_000):
            raise BadInput(
                saying("{what}: {amount} is no amount.", what=self.what, amount=self.amount),
                remedy="Give more than nothing.",
                field="part",
            )
        if self.cost is not None and not (self.cost.is_finite() and 0 <= self.cost <= 100_000_000):
            raise BadInput(
                saying("{what}: it cannot cost {cost}.", what=self.what, cost=self.cost),
                remedy="Give nought or more.",
                field="part",
            )


@dataclass(frozen=True, slots=True)
class Hands:
    """Time one person worked on it."""

    person: str
    minutes: int

    def __post_init__(self) -> None:
        if not 0 < self.minutes <= 60 * 24 * 60:
            raise BadInput(
                saying("Nobody works {minutes} minutes on one sheet.", minutes=self.minutes),
                remedy="Give the minutes each person worked, at most sixty days of them.",
                field="hands",
            )


@dataclass(frozen=True, slots=True)
class StageBegun:
    """A stage of a job that was begun, and when; the instant has its zone."""

    job: str
    stage: str
    at: datetime


@dataclass(frozen=True, slots=True)
class WorkOrder:
    """A work order as it stands. Its sheet is known by `number`.

    services: on components of one vehicle, in order, each once. planned_on, bay: when and where. mechanics: keys of
    persons. stages: those begun so far. stands_until: while it stands, before that instant no hand goes on. until and
    reason: of a deferral; reason alone: of giving it up. start, end: what the dial showed. closed_on: the day the work
    was done. note: of whoever opened or began it; told: handed in with it. handed_in: stands for what was handed in, so
    that the same sheet counts once. was: where it stood before it was closed. events: kinds of event that closing it
    noted, each with its component.
    """

    number: int
    mark: str
    services: tuple[OrderedService, ...]
    opened_on: date
    state: OrderState = OrderState.PLANNED
    title: str = ""
    opened_by: str = ""
    planned_on: date | None = None
    bay: str = ""
    mechanics: tuple[str, ...] = ()
    started_at: datetime | None = None
    stages: tuple[StageBegun, ...] = ()
    stands_until: datetime | None = None
    until: date | None = None
    reason: str = ""
    start: DialValue | None = None
    end: DialValue | None = None
    closed_on: date | None = None
    closed_at: datetime | None = None
    fills: tuple[Filled, ...] = ()
    torques: tuple[TorqueSet, ...] = ()
    parts: tuple[PartUsed, ...] = ()
    hands: tuple[Hands, ...] = ()
    note: str = ""
    told: str = ""
    signed_by: str = ""
    handed_in: str = ""
    photos: tuple[str, ...] = ()
    was: OrderState | None = None
    events: tuple[tuple[str, str], ...] = ()
    visit: int = 0
    """The number of the vehicle's bay visit in which it is done; 0: none."""

    def __post_init__(self) -> None:
        lines = [service.line for service in self.services]
        if not lines:
            raise BadStep("A work order has no service.", remedy="Name at least one.", field="services")
        if len(set(lines)) != len(lines):
            raise BadStep("A service stands on the sheet twice.", remedy="Name each once.", field="services")
        if any(line.mark != self.mark for line in lines):
            raise BadStep("A work order is about one vehicle.", remedy="Open one for each vehicle.", field="services")
        if not 0 < self.number <= MOST_NUMBER:
            raise BadStep(saying("There is no sheet number {number}.", number=self.number), field="number")

    @property
    def sheet(self) -> str:
        """The number as people say it: `0147`."""
        return f"{self.number:04d}"

    @property
    def lines(self) -> tuple[LineKey, ...]:
        """The lines of its services, in order."""
        return tuple(service.line for service in self.services)

    @property
    def components(self) -> tuple[str, ...]:
        """Keys of the components it is about, each once, in order."""
        return tuple(dict.fromkeys(line.component for line in self.lines))

    @property
    def done(self) -> tuple[LineKey, ...]:
        """The lines that were done."""
        return tuple(service.line for service in self.services if service.done)

    @property
    def minutes(self) -> int:
        """Minutes all persons worked on it together."""
        return sum(each.minutes for each in self.hands)

    @property
    def cost(self) -> Decimal | None:
        """What the parts cost together; None if no cost was noted."""
        known = [part.cost for part in self.parts if part.cost is not None]
        return sum(known, Decimal(0)) if known else None


def sheets_by_visit(orders: Iterable[WorkOrder]) -> dict[tuple[str, int], int]:
    """Numbers of sheets by the visit they were made from, mark and number; of several that were not given up, the last.

    orders: by number.
    """
    made = (order for order in orders if order.visit and order.state is not OrderState.ABANDONED)
    return {(order.mark, order.visit): order.number for order in made}
