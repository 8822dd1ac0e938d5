"""Work that was done is recorded; the line starts anew from the measured meter value."""

from __future__ import annotations

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
    today_in,
    vehicle_in,
)
from fleetcare.actions.ports import Change, Store, WriteUnit
from fleetcare.actions.settle import Settled, settle
from fleetcare.actions.visits_done import leave_visits
from fleetcare.due.causes import cause
from fleetcare.due.measured_limits import is_measured
from fleetcare.due.naming import line_called
from fleetcare.due.outlook import LineOutlook
from fleetcare.due.reckon import VehicleFacts
from fleetcare.due.work_value import dial_unit, refuse_value
from fleetcare.errors import BadInput, shown
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.quantities import MeterUnit
from fleetcare.work.found import look_of, settled
from fleetcare.work.record import Finding, WorkDone


@dataclass(frozen=True, slots=True)
class Closed:
    """What was closed and what followed; `known` if the very same work stood there already."""

    vehicle: Vehicle
    line: LineOutlook
    work: WorkDone
    known: bool
    settled: Settled


def close_work(
    store: Store,
    rules: Rules,
    *,
    now: datetime,
    base_url: str,
    who: str,
    vehicle_name: str,
    service: str,
    on: date | None = None,
    at: Decimal | None = None,
    unit_of_at: MeterUnit | None = None,
    findings: tuple[Finding, ...] = (),
    note: str = "",
) -> Closed:
    """Records one service as done.

    on: the day, today if None. at: what the dial showed, in the vehicle's own unit unless `unit_of_at` says another.
    Raises NotFound (vehicle, service) and BadInput (a day to come, a value that the readings around it rule out).
    """
    done_on = on or today_in(store, now)
    with store.write(Change(who, cause("the work of {day} ({service})", day=done_on, service=service), now)) as unit:
        garage = garage_of(unit)
        rules = rules_in_force(unit, rules)
        today = garage_day(garage, now)
        vehicle = vehicle_in(unit, vehicle_name)
        facts = facts_of(unit, (vehicle.mark,))
        line = line_called(outlooks_from(facts, rules, today)[0], service)
        if is_measured(line.key):
            raise BadInput(
                saying("{title} is a forecast, no service.", title=line.row.title),
                remedy="Measure it again, on a sheet.",
                field="service",
            )
        day = on or today
        if day > today:
            raise BadInput("That day is still to come.", remedy="Give the day the work was done on.", field="on")
        record = WorkDone(
            line=line.key,
            on=day,
            at=at,
            unit=None if at is None else (unit_of_at or dial_unit(vehicle)),
            by=who,
            note=note,
            findings=findings,
        )
        if record.at is not None and record.unit is not None:
            refuse_value(facts[0], day, record.at, record.unit, rules.priors, now=now, today=today)
        if (look := look_of(line.key)) is not None:
            return _looked_at(unit, rules, vehicle, line, record, look, now=now, base_url=base_url)
        known = unit.add_work((record,)) == 0
        if known:
            _refuse_to_lose(vehicle, facts[0], record)
        if not known:
            unit.log_change(str(line.key), "work done", "", _in_words(record))
            leave_visits(unit, line.key, done_on=day, zone=ZoneInfo(garage.zone), now=now)
        settled = settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
        after = next(each for each in settled.outlooks[0].lines if each.key == line.key)
        return Closed(vehicle, after, record, known, settled)


def _looked_at(
    unit: WriteUnit,
    rules: Rules,
    vehicle: Vehicle,
    line: LineOutlook,
    record: WorkDone,
    look: tuple[int, int],
    *,
    now: datetime,
    base_url: str,
) -> Closed:
    """A look is no service: what was found is settled with it, and its line goes."""
    found = next(each for each in unit.found() if (each.order, each.position) == look)
    said = "; ".join(part for part in (record.note, *(finding.text for finding in record.findings)) if part)
    unit.settle_found(settled(found, on=record.on, by=record.by, note=said))
    unit.log_change(
        str(line.key), "finding", found.words, saying("looked at: {note}", note=said) if said else saying("looked at")
    )
    came = settle(unit, rules, now=now, base_url=base_url, marks=(vehicle.mark,))
    return Closed(vehicle, line, record, False, came)


def _refuse_to_lose(vehicle: Vehicle, facts: VehicleFacts, record: WorkDone) -> None:
    """The same work given twice is one record; words that the record here does not hold must not vanish unsaid."""
    stored = [w for w in facts.work if (w.line, w.on, w.at) == (record.line, record.on, record.at)]
    found = {finding.text for each in stored for finding in each.findings}
    new = [finding.text for finding in record.findings if finding.text not in found]
    if new or (record.note and record.note not in {each.note for each in stored}):
        raise BadInput(
            saying(
                "{name}: that work stands here already, without {it}.",
                name=vehicle.name,
                it=shown(new[0] if new else record.note),
            ),
            remedy="A record is not added to; what the dial showed, given with --at, makes it a record of its own.",
        )


def _in_words(record: WorkDone) -> str:
    at = f" at {record.at} {record.unit.value}" if record.at is not None and record.unit is not None else ""
    found = "".join(f"; found: {finding.text}" for finding in record.findings)
    return f"{record.on}{at}{found}"
