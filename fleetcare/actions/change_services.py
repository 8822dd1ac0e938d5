"""A vehicle gets one service more, or loses one; or it gets a dial. What was done stays in its history."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from fleetcare.actions.component_places import component_of
from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, vehicle_in
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.book.rows import BookRow, IntervalBook
from fleetcare.due.counted_from import lines_of
from fleetcare.due.more_services import services_of
from fleetcare.due.vehicle_state import dial_by_reckoning
from fleetcare.errors import BadInput, BadStep, Clash, NotFound
from fleetcare.fleet.component import Component, History, LineKey, LineStart
from fleetcare.fleet.vehicle import HOUR_METER, ODOMETER, Meter, Vehicle
from fleetcare.fleet.vehicle_changes import CHANGED_MEANWHILE, stand_of
from fleetcare.language import saying
from fleetcare.meter.reading import Reading
from fleetcare.quantities import MeterUnit
from fleetcare.work.new_vehicle import Answer, Past, Said, line_field, work_of

SERVICE, DIAL = "service", "dial"
"""What the log calls a service or a dial that comes or goes."""
_HISTORY = {Past.DONE: History.RECORDED, Past.NEW: History.NEW}


@dataclass(frozen=True, slots=True)
class ServiceChanged:
    """How the vehicle stands now, and the service that came or went."""

    vehicle: Vehicle
    component: Component
    row: BookRow
    settled: Settled


@dataclass(frozen=True, slots=True)
class DialAdded:
    """How the vehicle stands now, with its new dial."""

    vehicle: Vehicle
    meter: Meter
    settled: Settled


def add_service(
    store: Store,
    rules: Rules,
    vehicle: str,
    line: tuple[str, str],
    answer: Answer,
    *,
    stand: str = "",
    put_in_place: Callable[[], None] | None = None,
    now: datetime,
    who: str,
    base_url: str,
) -> ServiceChanged:
    """One service more for a component, in one transaction. line: key of the component, and of the row of the book.

    answer: when it was last done; a service that was carried here before goes on from what was done then. stand: what
    `stand_of` said of the vehicle that was looked at; empty if nobody looked. put_in_place: makes `rules.book` the one
    in force where the row is a new one of the garage's own; done last. Raises NotFound (vehicle, component, service),
    BadInput (it is there, a day or dial that cannot be) and Clash (the vehicle was changed since that look).
    """
    key, service = line
    with store.write(Change(who, f"{service} added to {vehicle}", now)) as unit:
        today = garage_day(garage_of(unit), now)
        before = _vehicle(unit, vehicle, stand)
        component = component_of(before, key)
        row = _offered(before, component, service, rules.book)
        starts = tuple(start for _, start in lines_of(before, component, rules.book))
        fresh = LineStart(row.key, _HISTORY.get(answer.past, History.UNKNOWN), today)
        after = _with(before, replace(component, lines=(*starts, fresh)))
        alone = replace(after, components=(replace(component, lines=(fresh,)),))
        facts = facts_of(unit, (before.mark,))[0]
        dial = dial_by_reckoning(facts, rules_in_force(unit, rules).priors, today)
        records = work_of(alone, Said(today, dial, {(component.key, row.key): answer}, who))
        unit.put_vehicle(after)
        if records:
            unit.add_work(records)
        unit.log_change(before.mark, SERVICE, "", f"{component.title}: {row.short}")
        if put_in_place is not None:
            unit.log_change("book", row.key, "", row.title)
        marks = (before.mark,) if put_in_place is None else None
        settled = settle(unit, rules, now=now, base_url=base_url, marks=marks)
        if put_in_place is not None:
            put_in_place()
        return ServiceChanged(after, component, row, settled)


def drop_service(
    store: Store,
    rules: Rules,
    vehicle: str,
    line: tuple[str, str],
    *,
    stand: str = "",
    now: datetime,
    who: str,
    base_url: str,
) -> ServiceChanged:
    """Takes a service off: it is due no more, and what was done of it stays in the history. line, stand: as above.

    Raises NotFound, Clash, BadStep (it stands on an open sheet or in a bay day to come) and BadInput (the last service
    of its component: the book would propose its own again).
    """
    key, service = line
    with store.write(Change(who, f"{service} taken off {vehicle}", now)) as unit:
        before = _vehicle(unit, vehicle, stand)
        component = component_of(before, key)
        lines = lines_of(before, component, rules.book)
        row = next((row for row, _ in lines if row.key == service), None)
        if row is None:
            raise NotFound("service", service, [row.key for row, _ in lines])
        if len(lines) == 1:
            raise BadInput(
                saying("It is the only service of {component}.", component=component.title),
                remedy="Add another one first, or move the component to the shelf.",
                field=SERVICE,
            )
        _refuse_planned(unit, LineKey(before.mark, component.key, service), now)
        left = tuple(start for each, start in lines if each.key != service)
        after = _with(before, replace(component, lines=left))
        unit.put_vehicle(after)
        unit.log_change(before.mark, SERVICE, f"{component.title}: {row.short}", "")
        return ServiceChanged(
            after, component, row, settle(unit, rules, now=now, base_url=base_url, marks=(before.mark,))
        )


def add_dial(
    store: Store,
    rules: Rules,
    vehicle: str,
    dial: MeterUnit,
    *,
    digits: int = 6,
    value: Decimal | None = None,
    stand: str = "",
    now: datetime,
    who: str,
    base_url: str,
) -> DialAdded:
    """A dial more: an odometer, or an hour meter. value: what it shows today, None if nobody looked. stand: as above.

    Raises NotFound, Clash, and BadInput for one that is there already or a value it cannot show.
    """
    with store.write(Change(who, f"dial added to {vehicle}", now)) as unit:
        today = garage_day(garage_of(unit), now)
        before = _vehicle(unit, vehicle, stand)
        is_hours = dial is MeterUnit.HOURS
        if (before.hour_meter if is_hours else before.odometer) is not None:
            raise BadInput(
                saying("{name} has such a dial already.", name=before.name),
                remedy="If it was changed for another one, say so with its next reading.",
                field=DIAL,
            )
        if value is not None and value >= 10**digits:
            raise BadInput(
                saying("A dial of {digits} digits cannot show {value}.", digits=digits, value=value),
                remedy="Look at both again.",
                field="value",
            )
        meter = Meter(HOUR_METER if is_hours else ODOMETER, dial, digits)
        after = replace(before, meters=(*before.meters, meter))
        unit.put_vehicle(after)
        told = "hour meter" if is_hours else "odometer"
        unit.log_change(before.mark, DIAL, "", told if value is None else f"{told}, {value} {dial.value}")
        if value is not None:
            unit.add_readings((Reading(before.mark, meter.key, today, value, dial, now, by=who, note="a new dial"),))
            screen(unit, rules, facts_of(unit, (before.mark,)))
        return DialAdded(after, meter, settle(unit, rules, now=now, base_url=base_url, marks=(before.mark,)))


def drop_dial(
    store: Store, rules: Rules, vehicle: str, key: str, *, stand: str = "", now: datetime, who: str, base_url: str
) -> DialAdded:
    """Takes a dial off that was put down by mistake. Raises NotFound, Clash, and BadInput once it has readings."""
    with store.write(Change(who, f"dial taken off {vehicle}", now)) as unit:
        before = _vehicle(unit, vehicle, stand)
        meter = next((each for each in before.meters if each.key == key), None)
        if meter is None:
            raise NotFound("dial", key, [each.key for each in before.meters])
        if any(reading.meter == key for reading in unit.readings((before.mark,))):
            raise BadInput(
                "That dial has readings, and they stay.",
                remedy="Leave it; a dial that nobody reads asks for nothing but a reading.",
                field=DIAL,
            )
        after = replace(before, meters=tuple(each for each in before.meters if each.key != key))
        unit.put_vehicle(after)
        unit.log_change(before.mark, DIAL, key, "")
        return DialAdded(after, meter, settle(unit, rules, now=now, base_url=base_url, marks=(before.mark,)))


def _vehicle(unit: WriteUnit, called: str, stand: str) -> Vehicle:
    vehicle = vehicle_in(unit, called)
    if stand and stand != stand_of(vehicle):
        raise Clash(CHANGED_MEANWHILE)
    return vehicle


def _with(vehicle: Vehicle, changed: Component) -> Vehicle:
    return replace(
        vehicle, components=tuple(changed if each.key == changed.key else each for each in vehicle.components)
    )


def _offered(vehicle: Vehicle, component: Component, service: str, book: IntervalBook) -> BookRow:
    there = next(each for each in services_of(vehicle, book) if each.component.key == component.key)
    if any(row.key == service for row in there.carried):
        raise BadInput(
            saying("{component} has that service.", component=component.title),
            remedy="Choose another one.",
            field=line_field(component.key, service),
        )
    row = next((row for row in there.offered if row.key == service), None)
    if row is None:
        raise NotFound("service", service, [row.key for row in there.offered])
    return row


def _refuse_planned(unit: WriteUnit, line: LineKey, now: datetime) -> None:
    for order in unit.orders((line.mark,)):
        if order.state.is_open and line in order.lines:
            raise BadStep(
                saying("It stands on sheet {sheet}.", sheet=order.sheet),
                remedy="Hand that one in first, or give it up.",
            )
    if any(each.takes_place and each.free_at > now and line in each.lines for each in unit.bay_visits((line.mark,))):
        raise BadStep("A bay day is planned for it.", remedy="Rub that day out first.")
