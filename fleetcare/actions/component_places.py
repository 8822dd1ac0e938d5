"""What moving a component and fitting another have in common: the place, what a dial showed, and what goes along."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from functools import partial

from fleetcare.actions.gather import Rules, facts_of, garage_of, vehicle_in
from fleetcare.actions.ports import WriteUnit
from fleetcare.actions.screening import screen
from fleetcare.due.carrying import carried_on
from fleetcare.due.counted_from import lines_of
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import judge_reading
from fleetcare.errors import BadInput, BadReading, BadStep, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.component import Component
from fleetcare.fleet.shelf import SHELF_MARK, is_shelf, new_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.doubt import Doubt, Refusal
from fleetcare.meter.reading import Reading
from fleetcare.work.moves import Move


def place_of(unit: WriteUnit, called: str, on: date) -> Vehicle:
    """The vehicle it goes to, or the shelf, which is made when something first comes there. Raises NotFound."""
    if not is_shelf(called):
        return vehicle_in(unit, called)
    there = unit.vehicles((SHELF_MARK,))
    if there:
        return there[0]
    shelf = new_shelf(garage_of(unit), on)
    unit.put_vehicle(shelf)
    unit.log_change(shelf.mark, "vehicle", "", shelf.name)
    return shelf


def read_dial(
    unit: WriteUnit,
    rules: Rules,
    vehicle: Vehicle,
    value: Decimal | None,
    on: date,
    now: datetime,
    today: date,
    who: str,
    field: str,
    note: str = "a component was moved",
) -> None:
    """Stores what a dial showed, so that what the component takes along is measured. Raises BadInput, BadReading."""
    if value is None:
        return
    meter = vehicle.odometer or vehicle.hour_meter
    if meter is None:
        raise BadInput(saying("{name} has no dial.", name=vehicle.name), remedy="Leave it empty.", field=field)
    reading = Reading(vehicle.mark, meter.key, on, value, meter.unit, now, by=who, note=note)
    verdict = judge_reading(facts_of(unit, (vehicle.mark,))[0], reading, rules.priors, today=today)
    if isinstance(verdict, Refusal | Doubt):
        raise BadReading(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)), field=field
        )
    if unit.add_readings((reading,)):
        unit.log_change(vehicle.mark, "reading", "", f"{value} {meter.unit.value} on {on}")
        screen(unit, rules, facts_of(unit, (vehicle.mark,)))


def moved_away(
    unit: WriteUnit,
    facts: VehicleFacts,
    component: Component,
    to: Vehicle,
    key: str,
    on: date,
    rules: Rules,
    today: date,
    note: str,
) -> Move:
    """The move of a component that is there, with what its lines have behind them; its events go along.

    Raises BadStep (it stands on an open sheet) and BadInput (a component moved there on a later day already).
    """
    mark = facts.vehicle.mark
    for order in unit.orders((mark,)):
        if order.state.is_open and component.key in order.components:
            raise BadStep(
                saying(
                    "{title} of {name} stands on sheet {sheet}.",
                    title=component.title,
                    name=facts.vehicle.name,
                    sheet=order.sheet,
                ),
                remedy="Hand that one in first, or give it up.",
            )
    later = [
        each
        for each in unit.moves((mark, to.mark))
        if each.on > on
        and {(each.from_mark, each.from_component), (each.to_mark, each.to_component)}
        & {(mark, component.key), (to.mark, key)}
    ]
    if later:
        raise BadInput(
            saying("On {on} a component moved there already.", on=later[0].on),
            remedy="Moves are noted in their order.",
            field="on",
        )
    carried = carried_on(facts, component, on, book=rules.book, priors=rules.priors, today=today)
    since = min((each.done_on for each in carried), default=on)
    kinds = {after.event for row, _ in lines_of(facts.vehicle, component, rules.book) for after in row.rule.after}
    unit.add_events(
        [
            # What befell the component on the first vehicle goes along with it, or its services would be forgotten.
            UseEvent(to.mark, event.kind, event.on, key, f"on {mark}")
            for event in facts.events
            if event.kind in kinds
            and event.component in ("", component.key, component.kind)
            and since <= event.on <= on
        ]
    )
    return Move(on, mark, component.key, to.mark, key, carried, note)


def with_lines(component: Component, facts: VehicleFacts, rules: Rules) -> Component:
    """With the lines it had written out, so that the other vehicle's kind does not propose others."""
    return replace(component, lines=tuple(start for _, start in lines_of(facts.vehicle, component, rules.book)))


def component_of(vehicle: Vehicle, called: str) -> Component:
    """The component of that key or title. Raises NotFound."""
    wanted = called.strip().casefold()
    for component in vehicle.components:
        if wanted in (component.key.casefold(), component.title.casefold()):
            return component
    raise NotFound(saying("component on {name}", name=vehicle.name), called, [c.key for c in vehicle.components])
