"""The shape of orders.toml: work orders with what was found on their sheets, and components that moved."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from fleetcare.intake.toml_models import Strict
from fleetcare.quantities import DistanceUnit, MeterUnit, TorqueUnit
from fleetcare.work.findings import FollowKind
from fleetcare.work.order import OrderState


def _as_decimal(value: Any) -> Any:
    return Decimal(value) if type(value) is int else value


Figure = Annotated[Decimal, BeforeValidator(_as_decimal)]
Line = Annotated[str, Field(max_length=2000)]
Instant = Annotated[datetime, Field(strict=True)]


class DialIn(Strict):
    """What a dial showed."""

    value: Figure
    unit: Annotated[MeterUnit, Field(strict=False)]


class ServiceIn(Strict):
    """A service on a sheet; without `done` it is still to be done."""

    component: str
    service: str
    done: bool | None = None
    left_because: Line = ""
    recorded: bool = False


class StageIn(Strict):
    """A stage that was begun."""

    job: str
    stage: str
    at: Instant


class FillIn(Strict):
    """Fluid that went in, and came out."""

    component: str
    what: Line = ""
    litres: Figure
    taken_out: Figure | None = None


class TorqueIn(Strict):
    """A torque that was reached."""

    component: str
    fastener: Line
    value: Figure
    unit: Annotated[TorqueUnit, Field(strict=False)]
    low: Figure | None = None
    high: Figure | None = None
    note: Line = ""


class PartIn(Strict):
    """A part that went in."""

    what: Line
    amount: Figure = Decimal(1)
    unit: Line = "pieces"
    cost: Figure | None = None


class HandsIn(Strict):
    """Minutes one person worked."""

    person: str
    minutes: int


class EventIn(Strict):
    """An event that closing the sheet noted."""

    kind: str
    component: str = ""


class FoundIn(Strict):
    """Something that was found."""

    place_on_sheet: Annotated[int, Field(gt=0, le=999)]
    component: str
    kind: str
    grade: str = ""
    words: Line
    on: date
    place: str = ""
    value: Figure | None = None
    unit: str = ""
    low: Figure | None = None
    high: Figure | None = None
    dial: DialIn | None = None
    follows: Annotated[FollowKind, Field(strict=False)]
    distance: Figure | None = None
    distance_unit: Annotated[DistanceUnit, Field(strict=False)] = DistanceUnit.KM
    days: int | None = None
    factor: Figure | None = None
    todo: Line = ""
    by: str = ""
    note: Line = ""
    decided: Line = ""
    photos: tuple[str, ...] = Field(default=(), strict=False)
    settled_on: date | None = None
    settled_by: str = ""
    settled_note: Line = ""


class OrderIn(Strict):
    """[[order]]"""

    number: Annotated[int, Field(gt=0, le=99_999_999)]
    vehicle: str
    state: Annotated[OrderState, Field(strict=False)]
    title: Line = ""
    opened_on: date
    opened_by: str = ""
    planned_on: date | None = None
    visit: Annotated[int, Field(ge=0, le=1_000_000)] = 0
    bay: Line = ""
    mechanics: tuple[str, ...] = Field(default=(), strict=False)
    started_at: Instant | None = None
    stands_until: Instant | None = None
    until: date | None = None
    reason: Line = ""
    start: DialIn | None = None
    end: DialIn | None = None
    closed_on: date | None = None
    closed_at: Instant | None = None
    services: tuple[ServiceIn, ...] = Field(min_length=1, strict=False)
    stages: tuple[StageIn, ...] = Field(default=(), strict=False)
    fills: tuple[FillIn, ...] = Field(default=(), strict=False)
    torques: tuple[TorqueIn, ...] = Field(default=(), strict=False)
    parts: tuple[PartIn, ...] = Field(default=(), strict=False)
    hands: tuple[HandsIn, ...] = Field(default=(), strict=False)
    events: tuple[EventIn, ...] = Field(default=(), strict=False)
    found: tuple[FoundIn, ...] = Field(default=(), strict=False)
    note: str = Field(default="", max_length=8000)
    told: str = Field(default="", max_length=8000)
    signed_by: Line = ""
    handed_in: str = ""
    photos: tuple[str, ...] = Field(default=(), strict=False)
    was: Annotated[OrderState, Field(strict=False)] | None = None


class CarriedIn(Strict):
    """What one line had behind it when its component moved."""

    service: str
    done_on: date
    km_by_duty: dict[str, Figure] | None = None
    hours: Figure | None = None
    is_first: bool = False
    known: bool = True


class MoveIn(Strict):
    """[[component_move]]"""

    on: date
    from_vehicle: str
    from_component: str
    to_vehicle: str
    to_component: str
    note: Line = ""
    carried: tuple[CarriedIn, ...] = Field(default=(), strict=False)
