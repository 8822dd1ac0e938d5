"""What is changed about a vehicle that is here: field by field, with what it was and what it is."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields, replace
from datetime import date
from enum import Enum

from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.language import later

CHANGED_MEANWHILE = later("It was changed by somebody else meanwhile. Look at every field again, then save.")


class Same(Enum):
    """Stands for a field that nobody wants to change; None would be a value."""

    SAME = "same"


SAME = Same.SAME


@dataclass(frozen=True, slots=True)
class Changes:
    """The fields of `Vehicle` that may be changed by hand. The mark is for ever, and meters have facts of their own.

    yearly_km: km. Each is `SAME` unless it is to be changed.
    """

    name: str | Same = SAME
    kind: VehicleKind | Same = SAME
    called: str | Same = SAME
    keeper: str | Same = SAME
    drivers: tuple[str, ...] | Same = SAME
    vin: str | Same = SAME
    in_service_on: date | Same | None = SAME
    yearly_km: float | Same | None = SAME
    usual_split: DutySplit | Same = SAME
    towed_by: tuple[str, ...] | Same = SAME
    description: str | Same = SAME


@dataclass(frozen=True, slots=True)
class Changed:
    """One field that is another now. field: as `Vehicle` calls it."""

    field: str
    was: object
    now: object


def changed_vehicle(vehicle: Vehicle, changes: Changes) -> Vehicle:
    """The vehicle with the fields that are to be changed."""
    wanted = {each.name: getattr(changes, each.name) for each in fields(changes)}
    return replace(vehicle, **{name: value for name, value in wanted.items() if value is not SAME})


def differences(before: Vehicle, after: Vehicle) -> tuple[Changed, ...]:
    """What is another now, in the order of `Changes`."""
    return tuple(
        Changed(each.name, getattr(before, each.name), getattr(after, each.name))
        for each in fields(Changes)
        if getattr(before, each.name) != getattr(after, each.name)
    )


def stand_of(vehicle: Vehicle) -> str:
    """Stands for all that is known of a vehicle, so that a form tells which state it was shown in."""
    return hashlib.sha256(repr(vehicle).encode()).hexdigest()[:16]


def value_in_words(value: object) -> str:
    """A value of a field for the log; empty if there is none."""
    if value is None:
        return ""
    if isinstance(value, DutySplit):
        return ", ".join(f"{duty} {share:.4g}" for duty, share in value.shares)
    if isinstance(value, tuple):
        return ", ".join(str(each) for each in value)
    return f"{value:.6g} km" if isinstance(value, float) else str(value)
