"""A component goes from one vehicle to another and takes along what it has behind it; or two change places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from functools import partial

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, vehicle_in
from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.book.rows import IntervalBook
from fleetcare.due.carrying import carried_on, moved_component
from fleetcare.due.counted_from import lines_of
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import judge_reading
from fleetcare.errors import BadInput, BadReading, BadStep, Clash, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.component import Component
from fleetcare.fleet.shelf import SHELF_MARK, free_key, is_shelf, new_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import CHANGED_MEANWHILE, stand_of
from fleetcare.language import saying
from fleetcare.meter.doubt import Doubt, Refusal
from fleetcare.meter.reading import Reading
from fleetcare.work.component_history import Happened, component_history
from fleetcare.work.moves import Move


@dataclass(frozen=True, slots=True)
class Moving:
    """A component to be moved. to: a vehicle, or the shelf. key: what it is called there, empty for the same.

    swap: the one there comes back. dial, dial_there: what the usual dials of the two showed on that day, each in their$
    unit; None if nobody read it. stand: what `stand_of` said of the vehicle that was looked at, empty if nobody looked.
    """

    vehicle: str
    component: str
    to: str
    on: date | None = None
    key: str = ""
    swap: bool = False
    note: str = ""
    dial: Decimal | None = None
    dial_there: Decimal | None = None
    stand: str = ""


def move_component(
    store: Store, rules: Rules, given: Moving, *, now: datetime, who: str, base_url: str
) -> tuple[tuple[Move, ...], Settled]:
    """Moves it, in one transaction; its lines go on where they were.

    Raises NotFound (vehicle, component), BadInput (a day to come, one before the last move, a place that is taken),
    BadReading (a dial that cannot have shown that), BadStep (it stands on an open sheet) and Clash (the vehicle was
    changed since that look).
    """
    with store.write(Change(who, f"{given.component} of {given.vehicle} to {given.to}", now)) as unit:
        today = garage_day(garage_of(unit), now)
        rules = rules_in_force(unit, rules)
        on = given.on or today
        if on > today:
            raise BadInput("That day is still to come.", remedy="Give the day it was moved on.", field="on")
        one, other = vehicle_in(unit, given.vehicle), _place(unit, given.to, on)
        if given.stand and given.stand != stand_of(one):
            raise Clash(CHANGED_MEANWHILE)
        if one.mark == other.mark:
            raise BadInput(
                saying("It is on {name} already.", name=one.name), remedy="Name another vehicle.", field="to"
            )
        component = _component(one, given.component)
        key = given.key or component.key
        if is_shelf(other.mark):
            key = free_key(other, key)
        there = other.component(key)
        if given.swap and there is None:
            raise NotFound(saying("component on {name}", name=other.name), key, [each.key for each in other.components])
        if not given.swap and there is not None:
            raise BadInput(
                saying("{name} has a component called {key} already.", name=other.name, key=key),
                remedy="Swap the two, or give this one another key.",
                field="key",
            )
        _read(unit, rules, one, given.dial, on, now, today, who, "dial")
        _read(unit, rules, other, given.dial_there, on, now, today, who, "dial-there")
        facts = {each.vehicle.mark: each for each in facts_of(unit, (one.mark, other.mark))}
        pairs = [(one, component, other, key)]
        if there is not None:
            pairs.append((other, there, one, component.key))
        moves = tuple(
            _move(unit, facts[a.mark], part, b, there_key, on, rules, today, given.note)
            for a, part, b, there_key in pairs
        )
        without = {
            one.mark: [c for c in one.components if c.key != component.key],
            other.mark: [c for c in other.components if there is None or c.key != there.key],
        }
        for _a, part, b, there_key in pairs:
            without[b.mark].append(moved_component(_with_lines(part, facts[_a.mark], rules), there_key, on))
        for vehicle in (one, other):
            unit.put_vehicle(replace(vehicle, components=tuple(without[vehicle.mark])))
        for move in moves:
            unit.put_move(move)
            unit.log_change(
                move.to_mark, "component", f"{move.from_mark}/{move.from_component}", f"{move.to_component}, {move.on}"
            )
        return moves, settle(unit, rules, now=now, base_url=base_url, marks=(one.mark, other.mark))


def _place(unit: WriteUnit, called: str, on: date) -> Vehicle:
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


def _read(
    unit: WriteUnit,
    rules: Rules,
    vehicle: Vehicle,
    value: Decimal | None,
    on: date,
    now: datetime,
    today: date,
    who: str,
    field: str,
) -> None:
    """Stores what a dial showed, so that what the component takes along is measured. Raises BadInput, BadReading."""
    if value is None:
        return
    meter = vehicle.odometer or vehicle.hour_meter
    if meter is None:
        raise BadInput(saying("{name} has no dial.", name=vehicle.name), remedy="Leave it empty.", field=field)
    reading = Reading(vehicle.mark, meter.key, on, value, meter.unit, now, by=who, note="a component was moved")
    verdict = judge_reading(facts_of(unit, (vehicle.mark,))[0], reading, rules.priors, today=today)
    if isinstance(verdict, Refusal | Doubt):
        raise BadReading(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)), field=field
        )
    if unit.add_readings((reading,)):
        unit.log_change(vehicle.mark, "reading", "", f"{value} {meter.unit.value} on {on}")
        screen(unit, rules, facts_of(unit, (vehicle.mark,)))


def history_of_component(view: ReadView, book: IntervalBook, vehicle: Vehicle, component: str) -> tuple[Happened, ...]:
    """The life of a component, on whatever vehicle it was, oldest first. Raises NotFound."""
    part = _component(vehicle, component)
    return component_history(
        vehicle.mark,
        part.key,
        work=view.work(),
        found=view.found(),
        events=view.events(),
        moves=view.moves(),
        titles={key: row.title for key, row in book.rows.items()},
    )


def _move(
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


def _with_lines(component: Component, facts: VehicleFacts, rules: Rules) -> Component:
    """With the lines it had written out, so that the other vehicle's kind does not propose others."""
    return replace(component, lines=tuple(start for _, start in lines_of(facts.vehicle, component, rules.book)))


def _component(vehicle: Vehicle, called: str) -> Component:
    wanted = called.strip().casefold()
    for component in vehicle.components:
        if wanted in (component.key.casefold(), component.title.casefold()):
            return component
    raise NotFound(saying("component on {name}", name=vehicle.name), called, [c.key for c in vehicle.components])
