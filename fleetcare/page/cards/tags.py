"""Component tags: what is stamped on a component or printed for it, as a small plate."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.fleet.component import Component
from fleetcare.fleet.vehicle import Vehicle

_BASIS = {"manual": "", "stamped": "stamped", "measured": "measured", "unknown": "source unknown"}
"""What is said behind a value's name; values from a manual are the usual ones."""
BLANK = "still blank"
"""Where a value was asked for and nobody knows it; a printed sheet leaves a line to fill in."""
_FIRST = ("ratio", "capacity", "fluid", "friction modifier", "limited slip")


@dataclass(frozen=True, slots=True)
class PlateValue:
    """One value on a plate under its name."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Tag:
    """The tag of one component: its title and what is known of it, never empty."""

    title: str
    values: tuple[PlateValue, ...]


def component_tags(vehicle: Vehicle) -> tuple[Tag, ...]:
    """A tag for every component of which anything is known, in the vehicle's order."""
    tags = (Tag(component.title, tag_values(component)) for component in vehicle.components)
    return tuple(tag for tag in tags if tag.values)


def tag_values(component: Component) -> tuple[PlateValue, ...]:
    """Ratio, capacity, fluid, friction modifier, limited slip if they are there, then everything else as entered.

    A fact of its own called capacity or fluid says more than the bare figure and stands in its place.
    """
    found: dict[str, PlateValue] = {}
    if component.fluid_capacity_l is not None:
        found["capacity"] = PlateValue("capacity", f"{component.fluid_capacity_l.normalize():f} L")
    if component.fluid_grade:
        found["fluid"] = PlateValue("fluid", component.fluid_grade)
    seen: dict[str, int] = {}
    for fact in component.facts:
        basis = _BASIS.get(fact.basis, fact.basis)
        seen[fact.name] = seen.get(fact.name, 0) + 1
        key = fact.name if seen[fact.name] == 1 else f"{fact.name} {seen[fact.name]}"
        found[key] = PlateValue(f"{fact.name}, {basis}" if basis else fact.name, fact.value or BLANK)
    order = {name: place for place, name in enumerate(_FIRST)}
    return tuple(found[key] for key in sorted(found, key=lambda key: order.get(key, len(order))))
