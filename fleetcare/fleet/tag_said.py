"""What a tag says of one value, in words, whichever of its fields holds it."""

from __future__ import annotations

from fleetcare.fleet.component import Component
from fleetcare.fleet.tag import Basis


def said_of(component: Component, name: str) -> str:
    """`ratio: 4.10, as stamped`; empty if the tag says nothing of it."""
    wanted = name.casefold()
    fact = next((each for each in component.facts if each.name.casefold() == wanted), None)
    if fact is not None:
        return f"{name}: {fact.value or 'blank'}, {Basis(fact.basis).words}"
    capacity = component.fluid_capacity_l
    litres = "" if capacity is None else f"{capacity.normalize():f} L"
    own = {"fluid": component.fluid_grade, "capacity": litres}.get(wanted)
    return f"{name}: {own}" if own else ""
