"""The shape of garage.toml, people.toml and vehicles.toml: what each table may hold, checked key by key."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError

from fleetcare.errors import BadInput, shown
from fleetcare.fleet.calendar_address import calendar_address
from fleetcare.fleet.component import History
from fleetcare.fleet.entering import checked_mark
from fleetcare.fleet.people import Light, Role
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.intake.dates import FIRST_YEAR, LAST_YEAR
from fleetcare.intake.text import LIMITS, clean_text
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit, MeterUnit
from fleetcare.wording import WEEKDAYS

NEVER = "never"
WEEKDAY_WORDS = tuple(day.casefold() for day in WEEKDAYS)

_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def is_key(text: str) -> bool:
    """Lower case letters, digits and single hyphens, not too long."""
    return len(text) <= LIMITS["key"] and _KEY.fullmatch(text) is not None


def mail_address(text: str) -> str:
    """An address as mail programs take it, or an empty text. Raises BadInput."""
    clean = clean_text(text, field="mail")
    name, _, place = clean.rpartition("@")
    odd = set(clean) & set('<>(),;:"\\ ') or not clean.isascii()
    if clean and (odd or not name or "@" in name or "." not in place.strip(".")):
        raise BadInput(
            saying("{clean} is no mail address.", clean=shown(clean, 60)),
            remedy="Write it as ines@example.org.",
            field="mail",
        )
    return clean


def _said(what: str, instead: str) -> PydanticCustomError:
    return PydanticCustomError("said", "{what}", {"what": what, "instead": instead})


def _gate(field: str, *, required: bool = False) -> AfterValidator:
    def check(text: str) -> str:
        try:
            return mail_address(text) if field == "mail" else clean_text(text, field=field, required=required)
        except BadInput as bad:
            raise _said(bad.what, bad.remedy) from None

    return AfterValidator(check)


def _a_key(text: str) -> str:
    if not is_key(text):
        instead = "Use lower case letters, digits and hyphens, such as rear-axle."
        raise _said(saying("{text_} cannot be a key.", text_=shown(text, 40)), instead)
    return text


def _a_mark(text: str) -> str:
    try:
        return checked_mark(text)
    except BadInput as bad:
        raise _said(bad.what, bad.remedy) from None


def _whole_as_decimal(value: Any) -> Any:
    return Decimal(value) if type(value) is int else value


def _bare_service(value: Any) -> Any:
    return {"row": value} if isinstance(value, str) else value


def _an_address(text: str) -> str:
    try:
        return calendar_address(text)
    except BadInput as bad:
        raise _said(bad.what, bad.remedy) from None


CalendarAddress = Annotated[str, AfterValidator(_an_address)]
"""A secret: no fault ever repeats it."""
Key = Annotated[str, AfterValidator(_a_key)]
Mark = Annotated[str, AfterValidator(_a_mark)]
Name = Annotated[str, _gate("name", required=True)]
Label = Annotated[str, _gate("title")]
Note = Annotated[str, _gate("description")]
Number = Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(ge=0, le=1_000_000_000_000)]
Day = Annotated[date, Field(ge=date(FIRST_YEAR, 1, 1), le=date(LAST_YEAR, 12, 31))]
Unit = Annotated[DistanceUnit, Field(strict=False)]


class Strict(BaseModel):
    """Unknown keys are refused, nothing is converted."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class GarageIn(Strict):
    """[garage]"""

    name: Name
    zone: str
    unit: Unit
    list_keeper: str = ""
    id: Label = ""


class PersonIn(Strict):
    """[[person]]"""

    key: Key
    name: Name
    mail: Annotated[str, _gate("mail")] = ""
    zone: str | None = None
    unit: Unit | None = None
    roles: list[Annotated[Role, Field(strict=False)]] = [Role.DRIVER]
    letter_weekday: Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "never"] = (
        "monday"
    )
    letter_hour: Annotated[int, Field(ge=0, le=23)] = 7
    quiet_from: Annotated[int, Field(ge=0, le=23)] = 21
    quiet_until: Annotated[int, Field(ge=0, le=23)] = 7
    language: Annotated[str, Field(pattern="^(?:[a-z]{2,3})?$")] = ""
    light: Annotated[Light, Field(strict=False)] = Light.DEVICE
    calendar: CalendarAddress | None = None


class ChangeIn(Strict):
    """One entry of `changes`: a meter was replaced."""

    on: Day
    old_end: Number
    new_start: Number = Decimal(0)


class MeterIn(Strict):
    """[[vehicle.meter]]"""

    key: Key
    unit: Annotated[MeterUnit, Field(strict=False)]
    digits: Annotated[int, Field(ge=3, le=9)] = 6
    rolls_over: bool = False
    delivery_value: Number = Decimal(0)
    changes: list[ChangeIn] = []


class FactIn(Strict):
    """One entry of `facts`: a value of the tag."""

    name: Annotated[str, _gate("fact", required=True)]
    value: Annotated[str, _gate("fact")]
    basis: Literal["stamped", "manual", "measured", "unknown"] = "manual"


class ServiceIn(Strict):
    """One entry of `services`; a bare text is the row alone, with unknown history."""

    row: Key
    history: Annotated[History, Field(strict=False)] = History.UNKNOWN
    entered_on: Day | None = None


class ComponentIn(Strict):
    """[[vehicle.component]]"""

    key: Key
    kind: Annotated[str, _gate("title", required=True)]
    title: Annotated[str, _gate("title", required=True)]
    fluid_grade: Annotated[str, _gate("fluid_grade")] = ""
    fluid_capacity_l: Annotated[Number, Field(le=10_000)] | None = None
    fitted_on: Day | None = None
    facts: list[FactIn] = []
    services: list[Annotated[ServiceIn, BeforeValidator(_bare_service)]] | None = None


class SpanIn(Strict):
    """One entry of `laid_up`: the first and the last day."""

    first: Day
    last: Day


class VehicleIn(Strict):
    """[[vehicle]]"""

    mark: Mark
    name: Name
    kind: Annotated[VehicleKind, Field(strict=False)]
    called: Label | None = None
    unit: Unit | None = None
    keeper: str = ""
    drivers: list[str] = []
    description: Note = ""
    vin: Annotated[str, _gate("vin")] = ""
    in_service_on: Day | None = None
    entered_on: Day | None = None
    yearly_distance: Annotated[Number, Field(le=10_000_000)] | None = None
    usual_split: dict[str, Number] | None = None
    laid_up: list[SpanIn] = []
    towed_by: list[str] = []
    out_of_fleet_on: Day | None = None
    max_distance_per_day: Annotated[Number, Field(gt=0, le=10_000)] | None = None
    calendar: CalendarAddress | None = None
    meter: list[MeterIn] = []
    component: list[ComponentIn] = []
