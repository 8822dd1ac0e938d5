"""A vehicle with its meters, components and lines as rows, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from fleetcare.fleet.component import Component, History, LineStart, TagFact
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle, VehicleKind
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.store.cells import Columns, as_json, day_or_none, day_text, figure_text, split_of, split_text
from fleetcare.store.gate import gated_figure


def vehicle_columns(vehicle: Vehicle, position: int) -> Columns:
    """A vehicle on its way in, without meters, components and lines."""
    return {
        "mark": vehicle.mark,
        "position": position,
        "name": vehicle.name,
        "kind": vehicle.kind.value,
        "called": vehicle.called,
        "unit": vehicle.unit.value,
        "keeper": vehicle.keeper,
        "drivers": as_json(vehicle.drivers),
        "description": vehicle.description,
        "vin": vehicle.vin,
        "in_service_on": day_text(vehicle.in_service_on),
        "entered_on": day_text(vehicle.entered_on),
        "usual_split": split_text(vehicle.usual_split),
        "yearly_km": None if vehicle.yearly_km is None else repr(gated_figure(vehicle.yearly_km)),
        "laid_up": as_json([[span.first.isoformat(), span.end.isoformat()] for span in vehicle.laid_up]),
        "towed_by": as_json(vehicle.towed_by),
        "out_of_fleet_on": day_text(vehicle.out_of_fleet_on),
        "max_km_per_day": repr(gated_figure(vehicle.max_km_per_day)),
    }


def meter_columns(mark: str, meter: Meter, position: int) -> Columns:
    """A meter on its way in."""
    changes = [[c.on.isoformat(), str(c.old_end), str(c.new_start)] for c in meter.changes]
    return {
        "mark": mark,
        "key": meter.key,
        "position": position,
        "unit": meter.unit.value,
        "digits": meter.digits,
        "rolls_over": meter.rolls_over,
        "changes": as_json(changes),
        "delivery_value": str(meter.delivery_value),
    }


def component_columns(mark: str, component: Component, position: int) -> Columns:
    """A component on its way in, without its lines."""
    return {
        "mark": mark,
        "key": component.key,
        "position": position,
        "kind": component.kind,
        "title": component.title,
        "fluid_grade": component.fluid_grade,
        "fluid_capacity_l": figure_text(component.fluid_capacity_l),
        "facts": as_json([[fact.name, fact.value, fact.basis] for fact in component.facts]),
        "fitted_on": day_text(component.fitted_on),
    }


def line_columns(mark: str, component: str, line: LineStart, position: int) -> Columns:
    """A service line on its way in."""
    return {
        "mark": mark,
        "component": component,
        "service": line.service,
        "position": position,
        "history": line.history.value,
        "entered_on": day_text(line.entered_on),
    }


def vehicle(row: Any, meters: Sequence[Any], components: Sequence[Any], lines: Mapping[str, Sequence[Any]]) -> Vehicle:
    """A vehicle on its way out. meters, components: its rows in order; lines: its rows in order, by component key."""
    return Vehicle(
        mark=row.mark,
        name=row.name,
        kind=VehicleKind(row.kind),
        called=row.called,
        unit=DistanceUnit(row.unit),
        keeper=row.keeper,
        drivers=tuple(json.loads(row.drivers)),
        description=row.description,
        vin=row.vin,
        in_service_on=day_or_none(row.in_service_on),
        entered_on=day_or_none(row.entered_on),
        usual_split=split_of(row.usual_split),
        yearly_km=None if row.yearly_km is None else float(row.yearly_km),
        meters=tuple(_meter(each) for each in meters),
        components=tuple(_component(each, lines.get(each.key, ())) for each in components),
        laid_up=tuple(DateSpan(*map(date.fromisoformat, span)) for span in json.loads(row.laid_up)),
        towed_by=tuple(json.loads(row.towed_by)),
        out_of_fleet_on=day_or_none(row.out_of_fleet_on),
        max_km_per_day=float(row.max_km_per_day),
    )


def _meter(row: Any) -> Meter:
    changes = json.loads(row.changes)
    return Meter(
        key=row.key,
        unit=MeterUnit(row.unit),
        digits=row.digits,
        rolls_over=bool(row.rolls_over),
        changes=tuple(MeterChange(date.fromisoformat(on), Decimal(old), Decimal(new)) for on, old, new in changes),
        delivery_value=Decimal(row.delivery_value),
    )


def _component(row: Any, lines: Sequence[Any]) -> Component:
    return Component(
        key=row.key,
        kind=row.kind,
        title=row.title,
        fluid_grade=row.fluid_grade,
        fluid_capacity_l=None if row.fluid_capacity_l is None else Decimal(row.fluid_capacity_l),
        facts=tuple(TagFact(*fact) for fact in json.loads(row.facts)),
        lines=tuple(LineStart(line.service, History(line.history), day_or_none(line.entered_on)) for line in lines),
        fitted_on=day_or_none(row.fitted_on),
    )
