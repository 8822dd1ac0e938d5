"""A garage's files with every date moved by whole days, so that the demo always stands in this week."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.fleet.bay_visit import BayVisit, moved_to
from fleetcare.fleet.component import Component
from fleetcare.fleet.vehicle import Meter, Vehicle
from fleetcare.intake.garage_files import Incoming
from fleetcare.quantities import DateSpan
from fleetcare.work.order import WorkOrder
from fleetcare.work.record import WorkDone


def shifted(incoming: Incoming, days: int) -> Incoming:
    """The same garage, `days` days later (earlier if negative). Instants of entry move with the days."""
    by = timedelta(days=days)
    return replace(
        incoming,
        vehicles=tuple(_vehicle(vehicle, by) for vehicle in incoming.vehicles),
        readings=tuple(replace(r, on=r.on + by, entered_at=r.entered_at + by) for r in incoming.readings),
        work=tuple(_work(record, by) for record in incoming.work),
        bookings=tuple(replace(b, days=_span(b.days, by)) for b in incoming.bookings),
        events=tuple(replace(e, on=e.on + by) for e in incoming.events),
        visits=tuple(_visit(v, by, incoming.garage.zone if incoming.garage else "UTC") for v in incoming.visits),
        orders=tuple(_order(order, by) for order in incoming.orders),
        found=tuple(replace(f, on=f.on + by, settled_on=_day(f.settled_on, by)) for f in incoming.found),
        moves=tuple(
            replace(m, on=m.on + by, carried=tuple(replace(c, done_on=c.done_on + by) for c in m.carried))
            for m in incoming.moves
        ),
    )


def _span(span: DateSpan, by: timedelta) -> DateSpan:
    return DateSpan(span.first + by, span.end + by)


def _day(day: date | None, by: timedelta) -> date | None:
    return None if day is None else day + by


def _vehicle(vehicle: Vehicle, by: timedelta) -> Vehicle:
    return replace(
        vehicle,
        in_service_on=_day(vehicle.in_service_on, by),
        entered_on=_day(vehicle.entered_on, by),
        out_of_fleet_on=_day(vehicle.out_of_fleet_on, by),
        laid_up=tuple(_span(span, by) for span in vehicle.laid_up),
        meters=tuple(_meter(meter, by) for meter in vehicle.meters),
        components=tuple(_component(component, by) for component in vehicle.components),
    )


def _order(order: WorkOrder, by: timedelta) -> WorkOrder:
    return replace(
        order,
        opened_on=order.opened_on + by,
        planned_on=_day(order.planned_on, by),
        until=_day(order.until, by),
        closed_on=_day(order.closed_on, by),
        started_at=_moment(order.started_at, by),
        stands_until=_moment(order.stands_until, by),
        closed_at=_moment(order.closed_at, by),
        stages=tuple(replace(stage, at=stage.at + by) for stage in order.stages),
    )


def _moment(moment: datetime | None, by: timedelta) -> datetime | None:
    return None if moment is None else moment + by


def _meter(meter: Meter, by: timedelta) -> Meter:
    return replace(meter, changes=tuple(replace(change, on=change.on + by) for change in meter.changes))


def _component(component: Component, by: timedelta) -> Component:
    return replace(
        component,
        fitted_on=_day(component.fitted_on, by),
        lines=tuple(replace(line, entered_on=_day(line.entered_on, by)) for line in component.lines),
    )


def _visit(visit: BayVisit, by: timedelta, zone: str) -> BayVisit:
    """The visit begins at the same time of the garage's day, summer or winter."""
    begins_at = (visit.begins_at.astimezone(ZoneInfo(zone)) + by).astimezone(UTC)
    return replace(visit, stretches=moved_to(visit.stretches, begins_at))


def _work(record: WorkDone, by: timedelta) -> WorkDone:
    findings = tuple(
        replace(f, look_again_on=_day(f.look_again_on, by), settled_on=_day(f.settled_on, by)) for f in record.findings
    )
    return replace(record, on=record.on + by, findings=findings)
