"""Whether the figures of a tag can be: plausible bands, and which slip explains a figure outside them.

A band is wide on purpose. It is not there to know better than the manual but to catch pints taken as litres and pound
inches taken as newton metres. A garage with something unusual widens the band in its own file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fleetcare.errors import BadInput
from fleetcare.fleet.component import Component
from fleetcare.fleet.gear_oil import FILLED_WITH_IT, GearOils
from fleetcare.fleet.tag import Entry, Tag
from fleetcare.fleet.tag_reading import KNOWN_NAMES, TagDoubt, sentence_name, tag_doubts, tag_of
from fleetcare.fleet.vehicle import VehicleKind
from fleetcare.language import saying
from fleetcare.quantities import L_PER, MM_PER, TorqueUnit, nm_from
from fleetcare.wording import joined

UNITS = ("L", "mL", "mm", "N·m", "")
"""What the two ends of a band may be in; without a unit it is a ratio."""

_SLIPS: dict[str, dict[str, float]] = {
    "L": {unit: L_PER[unit] for unit in ("US pt", "US qt", "mL", "US gal")},
    "mL": {"US fl oz": L_PER["US fl oz"] * 1000, "L": 1000.0},
    "mm": {"in": MM_PER["in"], "cm": MM_PER["cm"]},
    "N·m": {str(unit): nm_from(1, unit) for unit in (TorqueUnit.LBF_FT, TorqueUnit.LBF_IN, TorqueUnit.KGF_M)},
}
"""Units that are taken for that of the band, with how much of it one of them is."""


@dataclass(frozen=True, slots=True)
class TagBand:
    """Between which ends a value plausibly lies, for some kinds of component and vehicle (empty: any).

    names: of facts (`capacity`, `cover bolts`). low and high are in `unit`. Raises BadInput for a band that is none.
    """

    key: str
    names: tuple[str, ...]
    low: Decimal
    high: Decimal
    unit: str
    source: str
    status: str
    components: tuple[str, ...] = ()
    vehicles: tuple[VehicleKind, ...] = ()

    def __post_init__(self) -> None:
        if self.unit not in UNITS:
            units = joined([unit for unit in UNITS if unit], "or")
            raise BadInput(
                saying("Band {key} is in {unit}.", key=self.key, unit=self.unit),
                remedy=saying("Write {units}, or nothing for a ratio.", units=units),
                field="unit",
            )
        if not 0 <= self.low < self.high:
            raise BadInput(
                saying("Band {key} from {low} to {high} is upside down.", key=self.key, low=self.low, high=self.high),
                remedy="Put the smaller figure first.",
                field="low",
            )
        if not self.source:
            raise BadInput(
                saying("Band {key} has no source.", key=self.key), remedy="Say where it is from.", field="source"
            )

    def fits(self, name: str, component: str, vehicle: VehicleKind) -> bool:
        """Whether it is meant for that value."""
        return (
            name in self.names
            and (not self.components or component in self.components)
            and (not self.vehicles or vehicle in self.vehicles)
        )

    def holds(self, value: float) -> bool:
        """Whether a value in the band's unit lies in it."""
        return float(self.low) <= value <= float(self.high)

    @property
    def words(self) -> str:
        """Its two ends."""
        return f"{self.low.normalize():f} to {self.high.normalize():f}{' ' if self.unit else ''}{self.unit}"


def checked_tag(
    component: Component, vehicle: VehicleKind, bands: tuple[TagBand, ...], oils: GearOils | None = None
) -> tuple[TagDoubt, ...]:
    """Everything wrong with a component's tag: words that cannot be read, values that cannot be or are off a band.

    oils: the grades of gear oil, to hold those of axles and transfer cases against; an odd one is no fault.
    """
    places = {fact.name.casefold(): place for place, fact in reversed(list(enumerate(component.facts)))}
    found = list(tag_doubts(component))
    for name, values, unit in _measured(tag_of(component)):
        band = next((band for band in bands if band.unit == unit and band.fits(name, component.kind, vehicle)), None)
        if band is not None and not all(band.holds(value) for value in values):
            found.append(TagDoubt(places.get(name, -1), *_outside(name, values, band, component.kind), is_fault=True))
    if oils is not None and component.kind in FILLED_WITH_IT:
        fluids = [(places[name], component.facts[places[name]].value) for name in ("fluid",) if name in places]
        for place, fluid in [*fluids, (-1, component.fluid_grade)]:
            if odd := oils.doubt(fluid):
                found.append(TagDoubt(place, odd, "It is kept as it stands; look at the manual again."))
    return tuple(sorted(found, key=lambda doubt: doubt.place))


def _measured(tag: Tag) -> Iterator[tuple[str, tuple[float, ...], str]]:
    """Each figure of a tag with its name and the unit it is in here."""
    for field, unit in (("ratio", ""), ("ring_gear_mm", "mm"), ("capacity_l", "L"), ("refill_l", "L")):
        entry: Entry[Any] | None = getattr(tag, field)
        if entry is not None and entry.value is not None:
            yield _NAME_OF[field], (float(entry.value),), unit
    modifier = tag.friction_modifier
    if modifier is not None and modifier.value is not None and modifier.value.amount_ml is not None:
        yield "friction modifier", (float(modifier.value.amount_ml),), "mL"
    if tag.backlash_mm is not None and tag.backlash_mm.value is not None:
        low, high = tag.backlash_mm.value
        yield "backlash", (float(low), float(high)), "mm"
    for name, torque in tag.torques.items():
        if torque.value is not None:
            yield name, (torque.value.low_nm, torque.value.high_nm), "N·m"


_NAME_OF = {known.field: name for name, known in KNOWN_NAMES.items()}


def _outside(name: str, values: tuple[float, ...], band: TagBand, component: str) -> tuple[str, str]:
    """What is said about values outside their band, with the slip that would explain them."""
    said = " to ".join(_short(value) for value in dict.fromkeys(values))
    unit = f" {band.unit}" if band.unit else ""
    what = saying(
        "{name}: {value}{unit} is not what a {component} has ({band}).",
        name=sentence_name(name),
        value=said,
        unit=unit,
        component=component,
        band=band.words,
    )
    for slip, factor in _SLIPS.get(band.unit, {}).items():
        if all(band.holds(value * factor) for value in values):
            really = " to ".join(_short(value * factor) for value in dict.fromkeys(values))
            instead = saying(
                "If it is {value} {slip}, write {really}{unit}; otherwise look at it again.",
                value=said,
                slip=slip,
                really=really,
                unit=unit,
            )
            return what, instead
    return what, saying("Look at it again; if it is right, widen that band in the home's own tag_bands.toml.")


def _short(value: float) -> str:
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"
