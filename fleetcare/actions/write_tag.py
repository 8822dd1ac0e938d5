"""A value of a component's tag is written down, or left blank, or taken away; what cannot be is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime

from fleetcare.actions.gather import Rules, garage_of, vehicle_in
from fleetcare.actions.ports import Change, Store
from fleetcare.actions.settle import settle
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.component import Component, TagFact
from fleetcare.fleet.tag import Basis
from fleetcare.fleet.tag_reading import TagDoubt
from fleetcare.fleet.tag_said import said_of
from fleetcare.fleet.tag_words import as_volume
from fleetcare.fleet.vehicle import Vehicle, VehicleKind
from fleetcare.language import saying

CheckTag = Callable[[Component, VehicleKind], tuple[TagDoubt, ...]]
FLUID, CAPACITY = "fluid", "capacity"
"""Names that a component has a field of its own for."""


@dataclass(frozen=True, slots=True)
class Written:
    """A component after its tag was written. doubts: worth a word, the value is kept."""

    vehicle: Vehicle
    component: Component
    doubts: tuple[TagDoubt, ...]


def component_called(vehicle: Vehicle, text: str) -> Component:
    """The component with that key or title, whatever the case. Raises NotFound."""
    wanted = text.strip().casefold()
    for component in vehicle.components:
        if wanted in (component.key.casefold(), component.title.casefold()):
            return component
    names = [name for component in vehicle.components for name in (component.key, component.title)]
    raise NotFound(saying("component on {name}", name=vehicle.name), text, names)


def write_tag(
    store: Store,
    rules: Rules,
    check: CheckTag,
    *,
    vehicle: str,
    component: str,
    name: str,
    value: str | None,
    basis: Basis,
    shown: str | None = None,
    now: datetime,
    who: str,
    base_url: str,
) -> Written:
    """Writes one value. value: empty with the basis unknown for a blank; None takes the value away. shown: what it said
    on the page somebody answered from (`said_of`), None does not ask.

    Dates that hang on the tag (a fluid that waives, a friction modifier) are worked out again. Raises NotFound,
    Clash if it says something else by now than was shown, and BadInput for a value that cannot be; nothing is changed.
    """
    if value == "" and basis is not Basis.UNKNOWN:
        raise BadInput(
            saying("The {name} has no value.", name=name), remedy="Give one, or say that it is unknown.", field="value"
        )
    with store.write(Change(who, f"tag: {name}", now)) as unit:
        garage_of(unit)
        there = vehicle_in(unit, vehicle)
        before = component_called(there, component)
        there_now = said_of(before, name)
        if shown == "" and there_now:
            raise Clash(
                saying(
                    "{title} has a {name} already, {there_now}. Change that one.",
                    title=before.title,
                    name=name,
                    there_now=there_now,
                )
            )
        if shown is not None and shown != there_now:
            raise Clash(
                saying(
                    "Somebody changed the {name} meanwhile. Here it is as it is now: {now}.",
                    name=name,
                    now=there_now or saying("blank"),
                )
            )
        after = _without(before, name) if value is None else _with(before, TagFact(name, value, basis.value))
        doubts = check(after, there.kind)
        for doubt in doubts:
            if doubt.is_fault:
                raise BadInput(doubt.what, remedy=doubt.instead, field="value")
        components = tuple(after if each.key == before.key else each for each in there.components)
        changed = replace(there, components=components)
        unit.put_vehicle(changed)
        unit.log_change(there.mark, f"tag of {before.key}", said_of(before, name), said_of(after, name))
        settle(unit, rules, now=now, base_url=base_url, marks=(there.mark,))
        about = {place for place, fact in enumerate(after.facts) if fact.name.casefold() == name.casefold()} | {-1}
        return Written(changed, after, tuple(doubt for doubt in doubts if doubt.place in about))


def _with(component: Component, fact: TagFact) -> Component:
    """The component with that value in place of the one with its name, else at the end."""
    name = fact.name.casefold()
    facts = [fact if each.name.casefold() == name else each for each in component.facts]
    if fact not in facts:
        facts.append(fact)
    component = replace(component, facts=tuple(facts))
    if name == FLUID:
        return replace(component, fluid_grade=fact.value)
    if name == CAPACITY:
        return replace(component, fluid_capacity_l=as_volume(fact.value))
    return component


def _without(component: Component, name: str) -> Component:
    """Raises NotFound if there is no such value."""
    wanted = name.casefold()
    own = {FLUID: component.fluid_grade, CAPACITY: component.fluid_capacity_l}.get(wanted)
    facts = tuple(each for each in component.facts if each.name.casefold() != wanted)
    if len(facts) == len(component.facts) and not own:
        raise NotFound("value on that tag", name, [each.name for each in component.facts])
    component = replace(component, facts=facts)
    if wanted == FLUID:
        return replace(component, fluid_grade="")
    return replace(component, fluid_capacity_l=None) if wanted == CAPACITY else component
