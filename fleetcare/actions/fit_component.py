"""A component is fitted that was nowhere here before: in the place of one that goes, or as another one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from fleetcare.actions.component_places import component_of, moved_away, place_of, read_dial, with_lines
from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, vehicle_in
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.carrying import moved_component
from fleetcare.due.counted_from import lines_of
from fleetcare.errors import BadInput, Clash
from fleetcare.fleet.component import Component, History, LineStart
from fleetcare.fleet.shelf import SHELF_MARK, free_key, is_shelf
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.fleet.vehicle_changes import CHANGED_MEANWHILE, stand_of
from fleetcare.language import saying
from fleetcare.work.moves import Move
from fleetcare.work.new_vehicle import parts_chosen


@dataclass(frozen=True, slots=True)
class Fitting:
    """What was fitted. part: the key of the component it takes the place of, or of a part that the book offers.

    is_new: its services count from that day; else nobody knows, and a look comes first. keeps_old: the one that was
    there waits on the shelf, else it is gone. dial: what the usual dial showed, in its own unit; None if nobody read
    it. stand: what `stand_of` said of the vehicle that was looked at, empty if nobody looked.
    """

    vehicle: str
    part: str
    on: date | None = None
    is_new: bool = True
    keeps_old: bool = False
    note: str = ""
    dial: Decimal | None = None
    stand: str = ""


@dataclass(frozen=True, slots=True)
class Fitted:
    """How the vehicle stands now. component: what was fitted. old: where the one before it went, None if none was."""

    vehicle: Vehicle
    component: Component
    on: date
    old: Move | None
    settled: Settled


def fit_component(store: Store, rules: Rules, given: Fitting, *, now: datetime, who: str, base_url: str) -> Fitted:
    """Fits it, in one transaction. What was done on the one before stays with that one.

    Its tag is blank: what was stamped on the one before says nothing of it. Raises NotFound (vehicle, part), BadInput
    (a day to come, one before the vehicle, or before the last move there), BadReading (a dial that cannot have shown
    that), BadStep (the one before stands on an open sheet) and Clash (the vehicle was changed since that look).
    """
    with store.write(Change(who, f"{given.part} of {given.vehicle} fitted", now)) as unit:
        today = garage_day(garage_of(unit), now)
        rules = rules_in_force(unit, rules)
        vehicle, on = vehicle_in(unit, given.vehicle), given.on or today
        _refuse(vehicle, given, on, today)
        read_dial(unit, rules, vehicle, given.dial, on, now, today, who, "dial", "a component was fitted")
        there = _there(vehicle, given.part)
        start = History.NEW if given.is_new else History.UNKNOWN
        if there is None:
            (part,) = parts_chosen(rules.book, vehicle.kind, (given.part,))
            rows = [row.key for row in part.rows]
            fitted, old = Component(part.key, part.kind, part.kind.capitalize()), None
        else:
            rows = [row.key for row, _ in lines_of(vehicle, there, rules.book)]
            fitted = Component(there.key, there.kind, there.title)
            old = _replaced(unit, rules, vehicle, there, given, on, today)
        lines = tuple(LineStart(row, start, on) for row in rows)
        fitted = replace(fitted, fitted_on=on, lines=lines)
        kept = tuple(each for each in vehicle.components if there is None or each.key != there.key)
        after = replace(vehicle, components=(*kept, fitted))
        unit.put_vehicle(after)
        age = "new" if given.is_new else "of unknown age"
        unit.log_change(vehicle.mark, "component", there.key if there else "", f"{fitted.key} fitted {on}, {age}")
        marks = (vehicle.mark,) if old is None else (vehicle.mark, SHELF_MARK)
        return Fitted(after, fitted, on, old, settle(unit, rules, now=now, base_url=base_url, marks=marks))


def _refuse(vehicle: Vehicle, given: Fitting, on: date, today: date) -> None:
    if is_shelf(vehicle.mark):
        raise BadInput("On the shelf nothing is fitted.", remedy="Name a vehicle.", field="vehicle")
    if on > today:
        raise BadInput("That day is still to come.", remedy="Give the day it was fitted on.", field="on")
    began = vehicle.in_service_on
    if began is not None and on < began:
        raise BadInput(
            saying("{name} came into service on {began}.", name=vehicle.name, began=began),
            remedy="Give the day it was fitted on.",
            field="on",
        )
    if given.stand and given.stand != stand_of(vehicle):
        raise Clash(CHANGED_MEANWHILE)


def _there(vehicle: Vehicle, called: str) -> Component | None:
    wanted = called.strip().casefold()
    is_there = any(wanted in (each.key.casefold(), each.title.casefold()) for each in vehicle.components)
    return component_of(vehicle, called) if is_there else None


def _replaced(
    unit: WriteUnit, rules: Rules, vehicle: Vehicle, there: Component, given: Fitting, on: date, today: date
) -> Move:
    """The one that was there goes to the shelf, and stays there if it is kept; the new one comes by way of it.

    Both ways are moves, so that work and findings of before stay with the one they were about.
    """
    shelf = place_of(unit, SHELF_MARK, on)
    facts = facts_of(unit, (vehicle.mark,))[0]
    key = free_key(shelf, there.key)
    old = moved_away(unit, facts, there, shelf, key, on, rules, today, given.note)
    waiting = moved_component(with_lines(there, facts, rules), key, on)
    shelf = replace(shelf, components=(*shelf.components, waiting))
    unit.put_move(old)
    unit.put_move(Move(on, SHELF_MARK, free_key(shelf, there.key), vehicle.mark, there.key, note=given.note))
    if given.keeps_old:
        unit.put_vehicle(shelf)
    went = key if given.keeps_old else f"{key}, gone"
    unit.log_change(SHELF_MARK, "component", f"{vehicle.mark}/{there.key}", f"{went}, {on}")
    return old
