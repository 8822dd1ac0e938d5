"""A component goes from one vehicle to another and takes along what it has behind it; or two change places."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from fleetcare.actions.component_places import component_of, moved_away, place_of, read_dial, with_lines
from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, vehicle_in
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.actions.settle import Settled, settle
from fleetcare.book.rows import IntervalBook
from fleetcare.due.carrying import moved_component
from fleetcare.errors import BadInput, Clash, NotFound
from fleetcare.fleet.shelf import free_key, is_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import CHANGED_MEANWHILE, stand_of
from fleetcare.language import saying
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
        one, other = vehicle_in(unit, given.vehicle), place_of(unit, given.to, on)
        if given.stand and given.stand != stand_of(one):
            raise Clash(CHANGED_MEANWHILE)
        if one.mark == other.mark:
            raise BadInput(
                saying("It is on {name} already.", name=one.name), remedy="Name another vehicle.", field="to"
            )
        component = component_of(one, given.component)
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
        read_dial(unit, rules, one, given.dial, on, now, today, who, "dial")
        read_dial(unit, rules, other, given.dial_there, on, now, today, who, "dial-there")
        facts = {each.vehicle.mark: each for each in facts_of(unit, (one.mark, other.mark))}
        pairs = [(one, component, other, key)]
        if there is not None:
            pairs.append((other, there, one, component.key))
        moves = tuple(
            moved_away(unit, facts[a.mark], part, b, there_key, on, rules, today, given.note)
            for a, part, b, there_key in pairs
        )
        without = {
            one.mark: [c for c in one.components if c.key != component.key],
            other.mark: [c for c in other.components if there is None or c.key != there.key],
        }
        for _a, part, b, there_key in pairs:
            without[b.mark].append(moved_component(with_lines(part, facts[_a.mark], rules), there_key, on))
        for vehicle in (one, other):
            unit.put_vehicle(replace(vehicle, components=tuple(without[vehicle.mark])))
        for move in moves:
            unit.put_move(move)
            unit.log_change(
                move.to_mark, "component", f"{move.from_mark}/{move.from_component}", f"{move.to_component}, {move.on}"
            )
        return moves, settle(unit, rules, now=now, base_url=base_url, marks=(one.mark, other.mark))


def history_of_component(view: ReadView, book: IntervalBook, vehicle: Vehicle, component: str) -> tuple[Happened, ...]:
    """The life of a component, on whatever vehicle it was, oldest first. Raises NotFound."""
    part = component_of(vehicle, component)
    return component_history(
        vehicle.mark,
        part.key,
        work=view.work(),
        found=view.found(),
        events=view.events(),
        moves=view.moves(),
        titles={key: row.title for key, row in book.rows.items()},
    )
