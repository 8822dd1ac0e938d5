"""A new vehicle is put on the road, with what its dial shows and what is known of its services: all or nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import overload

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.receipts import Answer, Once, answered_before, keep_answer
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.due.judging import judge_reading
from fleetcare.due.work_value import refuse_value
from fleetcare.errors import BadInput, BadReading, Clash
from fleetcare.fleet.entering import (
    checked_mark,
    entered,
    refuse_mixed_up,
    refuse_odd_days,
    refuse_shelf,
    refuse_strangers,
    refuse_taken,
)
from fleetcare.fleet.people import Garage
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.doubt import Refusal
from fleetcare.meter.reading import Door, Reading
from fleetcare.work.new_vehicle import Said, line_field, work_of
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class NewVehicle:
    """A vehicle as somebody put it together. dial: what its usual meter shows today, in the meter's own unit."""

    vehicle: Vehicle
    said: Said
    door: Door

    @property
    def dial(self) -> Decimal | None:
        """What the dial shows today."""
        return self.said.dial


@dataclass(frozen=True, slots=True)
class Added:
    """What stands here now. reading: what its dial shows; None if nobody said. work: a record for each line done."""

    vehicle: Vehicle
    reading: Reading | None
    work: tuple[WorkDone, ...]
    settled: Settled


@overload
def add_vehicle(store: Store, rules: Rules, given: NewVehicle, *, now: datetime, who: str, base_url: str) -> Added:
    """Without a key: what was made."""


@overload
def add_vehicle(
    store: Store, rules: Rules, given: NewVehicle, *, now: datetime, who: str, base_url: str, once: Once[Added]
) -> Answer:
    """Under a key: what is answered, the first time and ever after."""


def add_vehicle(
    store: Store,
    rules: Rules,
    given: NewVehicle,
    *,
    now: datetime,
    who: str,
    base_url: str,
    once: Once[Added] | None = None,
) -> Added | Answer:
    """Stores the vehicle, its first reading and its records of work in one transaction, and works out its dates.

    once: sending the same again gives the same answer. Raises Clash (name or mark is another vehicle's, something else
    was sent under that key), NotFound (keeper, drivers, what tows it), BadInput and BadReading that name the field.
    """
    with store.write(Change(who, f"{given.vehicle.name} put on the road", now)) as unit:
        if once is None:
            return _add(unit, rules, given, now=now, who=who, base_url=base_url)
        before = answered_before(unit, once)
        if before is not None:
            return before
        return keep_answer(unit, once, _add(unit, rules, given, now=now, who=who, base_url=base_url), now)


def _add(unit: WriteUnit, rules: Rules, given: NewVehicle, *, now: datetime, who: str, base_url: str) -> Added:
    garage = garage_of(unit)
    rules = rules_in_force(unit, rules)
    vehicle = _checked(unit, given.vehicle, garage, now)
    unit.put_vehicle(vehicle)
    unit.log_change(vehicle.mark, "vehicle", "", vehicle.name)
    reading = _first_reading(unit, rules, vehicle, given, garage, now=now, who=who)
    work = work_of(vehicle, given.said)
    facts = facts_of(unit, (vehicle.mark,))[0]
    for record in work:
        if record.at is not None and record.unit is not None:
            where = line_field(record.line.component, record.line.service)
            today = garage_day(garage, now)
            refuse_value(facts, record.on, record.at, record.unit, rules.priors, now=now, today=today, field=where)
    unit.add_work(work)
    for record in work:
        at = "" if record.at is None or record.unit is None else f" at {record.at} {record.unit.value}"
        unit.log_change(str(record.line), "work done", "", f"{record.on}{at}")
    screen(unit, rules, facts_of(unit, (vehicle.mark,)))
    return Added(vehicle, reading, work, settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,)))


def _checked(unit: WriteUnit, given: Vehicle, garage: Garage, now: datetime) -> Vehicle:
    today = garage_day(garage, now)
    vehicle = entered(given, None, today)
    refuse_shelf(checked_mark(vehicle.mark))
    others = unit.vehicles()
    taken = next((other for other in others if other.mark == vehicle.mark), None)
    if taken is not None:
        raise Clash(saying("The mark {mark} is that of {name}. Choose another one.", mark=taken.mark, name=taken.name))
    refuse_taken(vehicle, others)
    refuse_mixed_up(vehicle, others)
    refuse_odd_days(vehicle, today)
    refuse_strangers(vehicle, [person.key for person in unit.people()], [other.mark for other in others])
    return vehicle


def _first_reading(
    unit: WriteUnit, rules: Rules, vehicle: Vehicle, given: NewVehicle, garage: Garage, *, now: datetime, who: str
) -> Reading | None:
    meter = vehicle.odometer or vehicle.hour_meter
    if given.dial is None:
        return None
    if meter is None:
        raise BadInput(
            saying("{name} has no dial.", name=vehicle.name), remedy="Leave out what it shows.", field="dial"
        )
    today = garage_day(garage, now)
    reading = Reading(vehicle.mark, meter.key, today, given.dial, meter.unit, now, by=who, door=given.door)
    verdict = judge_reading(facts_of(unit, (vehicle.mark,))[0], reading, rules.priors, today=today)
    if isinstance(verdict, Refusal):
        raise BadReading(
            saying("{name}: {verdict}", name=vehicle.name, verdict=partial(verdict.sentence, vehicle.unit)),
            field="dial",
        )
    # With nothing before it nothing but a person can say whether it is right, and one just did.
    reading = replace(reading, vouched_by=who)
    unit.add_readings((reading,))
    unit.log_change(vehicle.mark, "reading", "", f"{reading.value} {reading.unit.value} on {reading.on}")
    return reading
