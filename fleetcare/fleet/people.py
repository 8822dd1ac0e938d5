"""People: who keeps, drives or works on what, and how they want to hear of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fleetcare.quantities import DistanceUnit


class Role(StrEnum):
    """What a person does in the garage."""

    KEEPER = "keeper"
    MECHANIC = "mechanic"
    DRIVER = "driver"
    ONLOOKER = "onlooker"
    """Sees what the others see, and enters nothing, whatever else stands down for them."""


class Light(StrEnum):
    """In what light pages are shown to a person."""

    DEVICE = "device"
    """As the device asks."""
    DAY = "day"
    NIGHT = "night"


@dataclass(frozen=True, slots=True)
class Person:
    """One person. Which vehicles are theirs stands in the vehicles (`keeper`, `drivers`)."""

    key: str
    name: str
    mail: str = ""
    zone: str = "UTC"
    """IANA time zone name."""
    unit: DistanceUnit = DistanceUnit.KM
    roles: tuple[Role, ...] = (Role.DRIVER,)
    letter_weekday: int | None = 0
    """0 Monday ... 6 Sunday; None: no weekly letter."""
    letter_hour: int = 7
    quiet_from: int = 21
    quiet_until: int = 7
    """Between these hours of the person's own day no letter is begun that has no hour of its own; alike: never."""
    language: str = ""
    """Code of the language they chose, such as `de`; empty: as the browser asks, and the garage's own in letters."""
    light: Light = Light.DEVICE

    @property
    def first_name(self) -> str:
        """What the person is called in sentences."""
        return self.name.split()[0] if self.name.split() else self.name

    @property
    def has_left(self) -> bool:
        """Does nothing here any more; the name stays for what was done."""
        return not self.roles


@dataclass(frozen=True, slots=True)
class Garage:
    """The garage as a whole."""

    name: str
    zone: str
    unit: DistanceUnit
    id: str = ""
    """Made once when the home is made; entries of its feeds are named after it."""
    list_keeper: str = ""
    """Key of the person who keeps the list, addressed when something is wrong."""
