"""The shape of an interval book file: what a row may hold, checked key by key."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from fleetcare.book.rows import NO_WEAR, Mixing, Status
from fleetcare.errors import shown
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.language import saying
from fleetcare.quantities import DistanceUnit

_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_SPACES = "\u00a0\u2009\u202f\u2007"


def wrong(what: str, instead: str) -> PydanticCustomError:
    """What a validator raises to be heard in its own words."""
    return PydanticCustomError("said", "{what}", {"what": what, "instead": instead})


def is_key(text: str) -> bool:
    """Lower case, digits and single hyphens, at most 60 characters."""
    return len(text) <= 60 and _KEY.fullmatch(text) is not None


def _one_line(text: str) -> str:
    if any(not (sign.isprintable() or sign in _SPACES) for sign in text):
        raise wrong("The text holds a line break or a sign that cannot be seen.", "Write it on one line.")
    return text.strip()


def _whole_as_decimal(value: Any) -> Any:
    return Decimal(value) if type(value) is int else value


Line = Annotated[str, Field(max_length=400), AfterValidator(_one_line)]
Figure = Annotated[Decimal, BeforeValidator(_whole_as_decimal), Field(gt=0, le=10_000_000)]
Count = Annotated[int, Field(gt=0, le=12_000)]


class Strict(BaseModel):
    """Unknown keys are refused, nothing is converted."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class DistanceIn(Strict):
    """A printed distance: one figure, or a pair with its primary one."""

    km: Figure | None = None
    mi: Figure | None = None
    primary: Annotated[DistanceUnit, Field(strict=False)] | None = None

    @model_validator(mode="after")
    def _one_is_primary(self) -> DistanceIn:
        if self.km is None and self.mi is None:
            raise wrong("A distance needs a figure.", "Write { km = 80000 } or { mi = 50000 }.")
        if self.km is not None and self.mi is not None and self.primary is None:
            raise wrong("A pair of figures needs its primary one.", 'Add primary = "km" or primary = "mi".')
        if self.primary is not None and getattr(self, self.primary.value) is None:
            raise wrong(
                saying("The primary figure ({primary}) is missing.", primary=self.primary),
                saying("Add {primary} = ...", primary=self.primary),
            )
        return self


class DutyFigureIn(Strict):
    """What one duty does to the distance. `no_wear` is how the words `no wear` are held; nobody writes it."""

    km: Figure | None = None
    mi: Figure | None = None
    primary: Annotated[DistanceUnit, Field(strict=False)] | None = None
    waived_by: list[Line] = []

    @property
    def no_wear(self) -> bool:
        """True if distance under this duty does not count."""
        return self.km is None and self.mi is None


def _words_for_no_wear(value: Any) -> Any:
    if value == NO_WEAR:
        return DutyFigureIn()
    if isinstance(value, str):
        raise wrong(
            saying("A duty cannot be {value}.", value=shown(value, 40)),
            'Write "no wear", or a table such as { mi = 25000 }.',
        )
    if isinstance(value, dict) and not {"km", "mi"} & value.keys():
        raise wrong("The duty has no figure.", 'Write { km = ... }, { mi = ... } or "no wear".')
    if isinstance(value, dict) and {"km", "mi"} <= value.keys() and "primary" not in value:
        raise wrong("A pair of figures needs its primary one.", 'Add primary = "km" or primary = "mi".')
    if isinstance(value, dict) and value.get("primary") in ("km", "mi") and value["primary"] not in value:
        raise wrong(
            saying("The primary figure ({value}) is missing.", value=value["primary"]),
            saying("Add {value} = ...", value=value["primary"]),
        )
    return value


class ModifierIn(Strict):
    """What takes the place of these limits where the fluid has a friction modifier."""

    distance: DistanceIn | None = None
    months: Count | None = None
    weeks: Count | None = None

    @model_validator(mode="after")
    def _says_something(self) -> ModifierIn:
        if self.distance is None and self.months is None and self.weeks is None:
            raise wrong("The limits with a friction modifier are empty.", "Give distance, months or weeks.")
        return self


class LimitsIn(Strict):
    """Limits of one interval; what is absent is not changed, or not limited."""

    distance: DistanceIn | None = None
    months: Count | None = None
    weeks: Count | None = None
    hours: Figure | None = None
    by_duty: dict[str, Annotated[DutyFigureIn, BeforeValidator(_words_for_no_wear)]] = {}
    with_modifier: ModifierIn | None = None


class AfterIn(Strict):
    """Due within so much after an event; with no figure at all, at once."""

    event: Annotated[str, Field(min_length=1, max_length=60), AfterValidator(_one_line)]
    km: Figure | None = None
    mi: Figure | None = None
    primary: Annotated[DistanceUnit, Field(strict=False)] | None = None
    days: Annotated[int, Field(ge=0, le=36_500)] | None = None
    hours: Figure | None = None

    @model_validator(mode="after")
    def _one_is_primary(self) -> AfterIn:
        if self.km is not None and self.mi is not None and self.primary is None:
            raise wrong("A pair of figures needs its primary one.", 'Add primary = "km" or primary = "mi".')
        if self.primary is not None and getattr(self, self.primary.value) is None:
            raise wrong(
                saying("The primary figure ({primary}) is missing.", primary=self.primary),
                saying("Add {primary} = ...", primary=self.primary),
            )
        return self


class RowIn(Strict):
    """One row as a file gives it; of a changed row only what is changed."""

    title: Annotated[str, Field(min_length=1, max_length=120), AfterValidator(_one_line)] | None = None
    short: Annotated[str, Field(min_length=1, max_length=24), AfterValidator(_one_line)] | None = None
    components: Annotated[list[Line], Field(min_length=1)] | None = None
    vehicles: list[Annotated[VehicleKind, Field(strict=False)]] | None = None
    action: Line | None = None
    source: Line | None = None
    status: Annotated[Status, Field(strict=False)] | None = None
    note: Annotated[str, Field(max_length=2000), AfterValidator(_one_line)] | None = None
    proposed: bool | None = None
    look_first: bool | None = None
    give_days: Annotated[int, Field(ge=1, le=3650)] | None = None
    mixing: Annotated[Mixing, Field(strict=False)] | None = None
    repeat: LimitsIn | None = None
    first: LimitsIn | None = None
    after: list[AfterIn] | None = None
    reason: Line | None = None

    @model_validator(mode="after")
    def _short_is_lower_case(self) -> RowIn:
        if self.short is not None and self.short[:1].isupper() and self.short[1:2].islower():
            raise wrong(
                saying("The short name “{short}” begins with a capital.", short=self.short),
                saying("Write “{short}”.", short=self.short.lower()),
            )
        return self
