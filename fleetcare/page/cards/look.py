"""How pages look to whoever reads them: kilometres or miles, by day or by night."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleetcare.fleet.people import Garage, Light, Person
from fleetcare.language import later, tr
from fleetcare.page.cards.frame import LOOK_URL, Frame, full_frame
from fleetcare.quantities import DistanceUnit

UNIT_FIELD, LIGHT_FIELD = "unit", "light"
_UNITS = ((DistanceUnit.KM.value, later("Kilometres")), (DistanceUnit.MI.value, later("Miles")))
_OF_GARAGE = later("As the garage has them")
_LIGHTS = (
    (Light.DEVICE.value, later("As this device")),
    (Light.DAY.value, later("By day: black on paper")),
    (Light.NIGHT.value, later("By night: pale on dark")),
)


@dataclass(frozen=True, slots=True)
class Pick:
    """One thing to choose."""

    field: str
    legend: str
    options: tuple[tuple[str, str], ...]
    chosen: str


@dataclass(frozen=True, slots=True)
class LookCard:
    """The page. told: for whom it holds, and where. problem: why what was sent could not be taken."""

    frame: Frame
    told: str
    picks: tuple[Pick, ...]
    saved: bool
    problem: str


def look_card(
    *,
    garage: Garage,
    reader: Person | None,
    today: date,
    unit: DistanceUnit | None,
    light: Light,
    can_enter: bool,
    saved: bool = False,
    typed: Mapping[str, str] | None = None,
    problem: str = "",
) -> LookCard:
    """The page for a person, or for who did not come in. unit: None for none chosen; typed: what was sent, by field."""
    given = typed or {}
    units = tuple((value, tr(text)) for value, text in _UNITS)
    if reader is None:
        units = (("", tr(_OF_GARAGE)), *units)
        told = tr("It holds on this device, for a year. Come in, and it holds wherever you come in.")
    else:
        told = tr(
            "It holds for {name}, on every device, in letters and in the calendar. "
            "A dial is still read off in its own unit.",
            name=reader.first_name,
        )
    return LookCard(
        frame=full_frame(
            tr("Units and light"), garage=garage, reader=reader, today=today, here=LOOK_URL, can_enter=can_enter
        ),
        told=told,
        picks=(
            Pick(UNIT_FIELD, tr("Distances are shown in"), units, given.get(UNIT_FIELD, unit.value if unit else "")),
            Pick(
                LIGHT_FIELD,
                tr("Pages are shown"),
                tuple((value, tr(text)) for value, text in _LIGHTS),
                given.get(LIGHT_FIELD, light.value),
            ),
        ),
        saved=saved,
        problem=problem,
    )
