"""What a dial is said to have shown at some work: whether it can be so, and as a reading."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from functools import partial

from fleetcare.due.facts import VehicleFacts
from fleetcare.due.judging import judge_reading
from fleetcare.errors import BadInput
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.doubt import Doubt, Refusal
from fleetcare.meter.reading import Reading
from fleetcare.quantities import MeterUnit
from fleetcare.usage.priors import Priors
from fleetcare.work.order import WorkOrder


def dial_unit(vehicle: Vehicle) -> MeterUnit:
    """The unit of the vehicle's usual dial. Raises BadInput if it has none."""
    meter = vehicle.odometer or vehicle.hour_meter
    if meter is None:
        raise BadInput(saying("{name} has no meter.", name=vehicle.name), remedy="Give the day alone.", field="at")
    return meter.unit


def refuse_value(
    facts: VehicleFacts,
    on: date,
    at: Decimal,
    unit: MeterUnit,
    priors: Priors,
    *,
    now: datetime,
    today: date,
    field: str = "at",
) -> None:
    """Raises BadInput for a value that the readings around that day rule out, or of a meter that is not there."""
    vehicle = facts.vehicle
    meter = vehicle.hour_meter if unit is MeterUnit.HOURS else vehicle.odometer
    if meter is None:
        raise BadInput(
            saying("{name} has no meter in {unit}.", name=vehicle.name, unit=unit.value),
            remedy="Give the day alone.",
            field=field,
        )
    # Only order and the daily cap count here: work is often noted long after the last reading.
    shown_then = Reading(vehicle.mark, meter.key, on, at, unit, now)
    verdict = judge_reading(facts, shown_then, priors, today=today, only_order=True)
    if isinstance(verdict, Doubt | Refusal):
        raise BadInput(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)), field=field
        )


def end_reading(order: WorkOrder, vehicle: Vehicle, *, at: datetime, by: str) -> Reading | None:
    """What the dial showed at the end of a closed sheet as a reading given at `at`; None if nobody said."""
    if order.end is None or order.closed_on is None:
        return None
    meter = vehicle.hour_meter if order.end.unit is MeterUnit.HOURS else vehicle.odometer
    if meter is None:
        return None
    return Reading(
        mark=order.mark,
        meter=meter.key,
        on=order.closed_on,
        value=order.end.value,
        unit=order.end.unit,
        entered_at=at,
        by=by,
        note=f"sheet {order.sheet}",
    )
