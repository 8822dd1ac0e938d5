"""Component tags: what is stamped on a component or printed for it, as a small plate."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.fleet.component import Component
from fleetcare.fleet.tag import Tag as TypedTag
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book

_BASIS = {"manual": "", "stamped": later("stamped"), "measured": later("measured"), "unknown": later("source unknown")}
"""What is said behind a value's name; values from a manual are the usual ones."""
_FIRST = ("ratio", "capacity", "fluid", "friction modifier", "limited slip")


@dataclass(frozen=True, slots=True)
class PlateValue:
    """One value on a plate under its name."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Tag:
    """The tag of one component: its title and what is known of it, never empty. blanks: what nobody knows yet."""

    title: str
    values: tuple[PlateValue, ...]
    blanks: tuple[str, ...] = ()


def component_tags(vehicle: Vehicle) -> tuple[Tag, ...]:
    """A tag for every component of which anything is known, in the vehicle's order."""
    tags = (Tag(tr_book(each.title), tag_values(each), still_blank(each)) for each in vehicle.components)
    return tuple(tag for tag in tags if tag.values)


def tag_values(component: Component) -> tuple[PlateValue, ...]:
    """Ratio, capacity, fluid, friction modifier, limited slip if they are there, then everything else as entered.

    A fact of its own called capacity or fluid says more than the bare figure and stands in its place.
    """
    found: dict[str, PlateValue] = {}
    tag = tag_of(component)
    if component.fluid_capacity_l is not None:
        found["capacity"] = PlateValue(tr("capacity"), f"{component.fluid_capacity_l.normalize():f} L")
    if component.fluid_grade:
        found["fluid"] = PlateValue(tr("fluid"), component.fluid_grade)
    seen: dict[str, int] = {}
    for fact in component.facts:
        basis = tr(_BASIS.get(fact.basis, fact.basis))
        seen[fact.name] = seen.get(fact.name, 0) + 1
        key = fact.name if seen[fact.name] == 1 else f"{fact.name} {seen[fact.name]}"
        if not fact.value:
            continue  # asked for and not known: it stands among the blanks
        found[key] = PlateValue(
            f"{_called(fact.name)}, {basis}" if basis else _called(fact.name), _with_aim(fact.name, fact.value, tag)
        )
    order = {name: place for place, name in enumerate(_FIRST)}
    return tuple(found[key] for key in sorted(found, key=lambda key: order.get(key, len(order))))


def _with_aim(name: str, value: str, tag: TypedTag) -> str:
    """A torque range with the middle to aim for behind it; any other value as it was written."""
    entry = tag.torques.get(name.casefold())
    torque = entry.value if entry is not None else None
    if torque is None or torque.low == torque.high:
        return value
    return tr("{value}; aim {normalize} {unit}", value=value, normalize=f"{torque.aim.normalize():f}", unit=torque.unit)


def still_blank(component: Component) -> tuple[str, ...]:
    """Values that a component of its kind ought to have, or that were asked for, and that nobody knows."""
    asked = [fact.name for fact in component.facts if not fact.value]
    return tuple(dict.fromkeys([*tag_of(component).blanks, *asked]))


_NAMES = frozenset(
    (
        later("ratio"),
        later("capacity"),
        later("fluid"),
        later("friction modifier"),
        later("limited slip"),
        later("cover"),
        later("closure"),
        later("vent"),
        later("magnet"),
    )
)


def _called(name: str) -> str:
    """The name of a fact; one that somebody made up stays as it is."""
    return tr(name) if name in _NAMES else name
