"""A work order is opened, begun, left standing, put off or given up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

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
from fleetcare.due.measured_limits import is_measured
from fleetcare.due.naming import line_called
from fleetcare.due.work_value import dial_unit, refuse_value
from fleetcare.errors import BadStep
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.vehicle import Vehicle
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


def open_order(store: Store, rules: Rules, given: Opening, *, now: datetime, who: str) -> WorkOrder:
    """A new sheet with the next number.

    Raises NotFound (vehicle, service, person) and BadStep: no service, one that stands on an open sheet already, a
    vehicle that is gone.
    """
    with store.write(Change(who, f"a sheet for {given.vehicle}", now)) as unit:
        today = garage_day(garage_of(unit), now)
        vehicle = vehicle_in(unit, given.vehicle)
        if vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today:
            raise BadStep(f"{vehicle.name} is out of the fleet.", remedy="Its history stays; nothing is done on it.")
        outlook = outlooks_from(facts_of(unit, (vehicle.mark,)), rules_in_force(unit, rules), today)[0]
        lines = [line_called(outlook, service) for service in given.services]
        taken = {line: order for order in unit.orders((vehicle.mark,)) if order.state.is_open for line in order.lines}
        for line in lines:
            if is_measured(line.key):
                raise BadStep(
                    f"{line.row.title} is a forecast, no service.",
                    remedy="Open a sheet for the service that measures it.",
                    field="services",
                )
            if line.key in taken:
                raise BadStep(
                    f"{vehicle.name}: {line.row.title} stands on sheet {taken[line.key].sheet} already.",
                    remedy="Work on that one, or give it up first.",
                    field="services",
                )
        people = unit.people()
        order = WorkOrder(
            number=unit.newest_sheet() + 1,
            mark=vehicle.mark,
            services=tuple(OrderedService(line.key) for line in lines),
            opened_on=today,
            title=given.title or ", ".join(line.row.title for line in lines),
            opened_by=who,
            planned_on=given.planned_on,
            bay=given.bay,
            mechanics=tuple(dict.fromkeys(person_called(people, name).key for name in given.mechanics)),
            note=given.note,
        )
        unit.put_order(order)
        unit.log_change(f"sheet {order.sheet}", WORK_ORDER, "", f"{order.state.value}: {vehicle.name}, {order.title}")
        return order


def start_order(
    store: Store,
    rules: Rules,
    sheet: int,
    *,
    now: datetime,
    who: str,
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

    return _stepped(store, sheet, "begun", step, now=now, who=who)


def leave_standing(store: Store, sheet: int, *, until: datetime | None, now: datetime, who: str) -> WorkOrder:
    """Nobody works on it; before `until` no hand goes on. Raises NotFound and what `standing` raises."""
    return _stepped(
        store, sheet, "stands", lambda _u, order, _v: standing(order, at=now, until=until), now=now, who=who
    )


def begin_stage(store: Store, sheet: int, *, job: str, stage: str, now: datetime, who: str) -> WorkOrder:
    """A stage was begun just now, so that what follows moves. Raises NotFound and what `stage_begun` raises."""
    return _stepped(
        store, sheet, f"{stage} begun", lambda _u, order, _v: stage_begun(order, job, stage, now), now=now, who=who
    )


def defer_order(store: Store, sheet: int, *, until: date, reason: str, now: datetime, who: str) -> WorkOrder:
    """Put off until a day. Raises NotFound and what `deferred` raises."""

    def step(unit: WriteUnit, order: WorkOrder, _vehicle: Vehicle) -> WorkOrder:
        return deferred(order, until=until, reason=reason, today=garage_day(garage_of(unit), now))

    return _stepped(store, sheet, "deferred", step, now=now, who=who)


def abandon_order(store: Store, sheet: int, *, reason: str, now: datetime, who: str) -> WorkOrder:
    """Given up. Raises NotFound and what `abandoned` raises."""
    return _stepped(store, sheet, "given up", lambda _u, order, _v: abandoned(order, reason=reason), now=now, who=who)


def _stepped(
    store: Store,
    sheet: int,
    what: str,
    step: Callable[[WriteUnit, WorkOrder, Vehicle], WorkOrder],
    *,
    now: datetime,
    who: str,
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
        return after
