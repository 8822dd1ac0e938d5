"""A work order is opened, begun, left standing, put off or given up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import (
    Rules,
    facts_of,
    garage_day,
    garage_of,
    outlooks_from,
    rules_in_force,
    sheet_in,
    vehicle_in,
)
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import settle
from fleetcare.actions.sheet_visits import Shop, follow_sheet
from fleetcare.due.measured_limits import is_measured
from fleetcare.due.naming import line_called
from fleetcare.due.work_value import dial_unit, refuse_value
from fleetcare.errors import BadStep, NotFound
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.quantities import MeterUnit
from fleetcare.work.order import DialValue, OrderedService, WorkOrder
from fleetcare.work.steps import abandoned, deferred, stage_begun, standing, started

WORK_ORDER = "work order"
"""What the log calls a step of one."""


@dataclass(frozen=True, slots=True)
class Opening:
    """A sheet to be opened. services, mechanics: as somebody calls them. title: empty for the services' own."""

    vehicle: str
    services: Sequence[str]
    planned_on: date | None = None
    bay: str = ""
    mechanics: Sequence[str] = ()
    title: str = ""
    note: str = ""
    visit: int = 0
    """The number of the vehicle's bay visit it is made from; its services, day and hands are the visit's then."""


def _visit(unit: WriteUnit, vehicle: Vehicle, number: int) -> BayVisit:
    """The visit a sheet is made from. Raises NotFound and BadStep."""
    visits = {visit.number: visit for visit in unit.bay_visits((vehicle.mark,))}
    if number not in visits:
        raise NotFound(saying("visit of {name}", name=vehicle.name), str(number), [str(each) for each in visits])
    if not visits[number].takes_place:
        raise BadStep("That visit was rubbed out.", remedy="Plan a new one, or open a sheet without it.", field="visit")
    return visits[number]


def open_order(store: Store, rules: Rules, given: Opening, *, now: datetime, who: str, base_url: str) -> WorkOrder:
    """A new sheet with the next number.

    Raises NotFound (vehicle, service, person, visit) and BadStep: no service, one that stands on an open sheet already,
    a vehicle that is gone, a visit that was rubbed out.
    """
    with store.write(Change(who, f"a sheet for {given.vehicle}", now)) as unit:
        garage = garage_of(unit)
        today = garage_day(garage, now)
        vehicle = vehicle_in(unit, given.vehicle)
        if vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today:
            raise BadStep(
                saying("{name} is out of the fleet.", name=vehicle.name),
                remedy="Its history stays; nothing is done on it.",
            )
        outlook = outlooks_from(facts_of(unit, (vehicle.mark,)), rules_in_force(unit, rules), today)[0]
        visit = _visit(unit, vehicle, given.visit) if given.visit else None
        by_key = {line.key: line for line in outlook.lines}
        named = [line_called(outlook, service) for service in given.services]
        lines = named or [by_key[key] for key in (visit.lines if visit else ()) if key in by_key]
        taken = {line: order for order in unit.orders((vehicle.mark,)) if order.state.is_open for line in order.lines}
        for line in lines:
            if is_measured(line.key):
                raise BadStep(
                    saying("{title} is a forecast, no service.", title=line.row.title),
                    remedy="Open a sheet for the service that measures it.",
                    field="services",
                )
            if line.key in taken:
                raise BadStep(
                    saying(
                        "{name}: {title} stands on sheet {sheet} already.",
                        name=vehicle.name,
                        title=line.row.title,
                        sheet=taken[line.key].sheet,
                    ),
                    remedy="Work on that one, or give it up first.",
                    field="services",
                )
        people = unit.people()
        hands = [person_called(people, name).key for name in given.mechanics]
        if visit is not None and visit.mechanic:
            hands.insert(0, visit.mechanic)
        order = WorkOrder(
            number=unit.newest_sheet() + 1,
            mark=vehicle.mark,
            services=tuple(OrderedService(line.key) for line in lines),
            opened_on=today,
            title=given.title or ", ".join(line.row.title for line in lines),
            opened_by=who,
            planned_on=visit.begins_at.astimezone(ZoneInfo(garage.zone)).date() if visit else given.planned_on,
            bay=given.bay,
            mechanics=tuple(dict.fromkeys(hands)),
            note=given.note,
            visit=given.visit,
        )
        unit.put_order(order)
        unit.log_change(f"sheet {order.sheet}", WORK_ORDER, "", f"{order.state.value}: {vehicle.name}, {order.title}")
        settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
        return order


def start_order(
    store: Store,
    rules: Rules,
    sheet: int,
    *,
    now: datetime,
    who: str,
    shop: Shop,
    mechanics: Sequence[str] = (),
    at: Decimal | None = None,
    unit_of_at: MeterUnit | None = None,
    although: str = "",
) -> WorkOrder:
    """In hand from now on. at: what the dial shows, in the vehicle's own unit unless `unit_of_at` says another.

    Raises NotFound, BadInput (a value that the readings rule out) and what `started` raises.
    """

    def step(unit: WriteUnit, order: WorkOrder, vehicle: Vehicle) -> WorkOrder:
        people = unit.people()
        dial = None
        if at is not None:
            today = garage_day(garage_of(unit), now)
            dial = DialValue(at, unit_of_at or dial_unit(vehicle))
            facts, priors = facts_of(unit, (vehicle.mark,))[0], rules_in_force(unit, rules).priors
            refuse_value(facts, today, dial.value, dial.unit, priors, now=now, today=today, field="start")
        keys = [person_called(people, name).key for name in mechanics]
        return started(order, at=now, mechanics=keys, start=dial, although=although)

    return _stepped(store, rules, sheet, "begun", step, now=now, who=who, shop=shop)


def leave_standing(
    store: Store, rules: Rules, sheet: int, *, until: datetime | None, now: datetime, who: str, shop: Shop
) -> WorkOrder:
    """Nobody works on it; before `until` no hand goes on. Raises NotFound and what `standing` raises."""

    def step(_unit: WriteUnit, order: WorkOrder, _vehicle: Vehicle) -> WorkOrder:
        return standing(order, at=now, until=until)

    return _stepped(store, rules, sheet, "stands", step, now=now, who=who, shop=shop)


def begin_stage(
    store: Store, rules: Rules, sheet: int, *, job: str, stage: str, now: datetime, who: str, shop: Shop
) -> WorkOrder:
    """A stage was begun just now, so that what follows moves. Raises NotFound and what `stage_begun` raises."""

    def step(_unit: WriteUnit, order: WorkOrder, _vehicle: Vehicle) -> WorkOrder:
        return stage_begun(order, job, stage, now)

    return _stepped(store, rules, sheet, f"{stage} begun", step, now=now, who=who, shop=shop)


def defer_order(
    store: Store, rules: Rules, sheet: int, *, until: date, reason: str, now: datetime, who: str, shop: Shop
) -> WorkOrder:
    """Put off until a day. Raises NotFound and what `deferred` raises."""

    def step(unit: WriteUnit, order: WorkOrder, _vehicle: Vehicle) -> WorkOrder:
        return deferred(order, until=until, reason=reason, today=garage_day(garage_of(unit), now))

    return _stepped(store, rules, sheet, "deferred", step, now=now, who=who, shop=shop)


def abandon_order(
    store: Store, rules: Rules, sheet: int, *, reason: str, now: datetime, who: str, shop: Shop
) -> WorkOrder:
    """Given up. Raises NotFound and what `abandoned` raises."""

    def step(_unit: WriteUnit, order: WorkOrder, _vehicle: Vehicle) -> WorkOrder:
        return abandoned(order, reason=reason)

    return _stepped(store, rules, sheet, "given up", step, now=now, who=who, shop=shop)


def _stepped(
    store: Store,
    rules: Rules,
    sheet: int,
    what: str,
    step: Callable[[WriteUnit, WorkOrder, Vehicle], WorkOrder],
    *,
    now: datetime,
    who: str,
    shop: Shop,
) -> WorkOrder:
    with store.write(Change(who, f"sheet {sheet:04d} {what}", now)) as unit:
        garage_of(unit)
        order = sheet_in(unit, sheet)
        vehicle = unit.vehicles((order.mark,))[0]
        after = step(unit, order, vehicle)
        if after != order:
            unit.put_order(after)
            said = " ".join(part for part in (after.state.value, after.reason and f"({after.reason})") if part)
            unit.log_change(f"sheet {order.sheet}", WORK_ORDER, order.state.value, said)
            has_moved = follow_sheet(unit, rules, shop.jobs, after, now=now)
            if has_moved or (not after.visit and after.planned_on is not None):
                settle(unit, rules, now=now, base_url=shop.base_url, marks=(order.mark,))
        return after
