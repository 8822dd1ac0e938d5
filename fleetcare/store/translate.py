"""Between rows and values. The only file that knows both."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from fleetcare.actions.ports import Change, LineState, LogEntry
from fleetcare.digest.values import Delivery, DeliveryState, LetterKind, LetterPlace
from fleetcare.due.outlook import Cause, DueWindow, NoDate
from fleetcare.errors import BadInput
from fleetcare.fleet.booking import Booking, UseEvent
from fleetcare.fleet.component import Component, History, LineKey, LineStart, TagFact
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.people import Garage, Light, Person, Role
from fleetcare.fleet.vehicle import Meter, MeterChange, Vehicle, VehicleKind
from fleetcare.meter.reading import Door, Reading, ReadingState
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit
from fleetcare.store.gate import gated, gated_figure
from fleetcare.store.tables import MOST_TENTHS
from fleetcare.usage.learned import FitBasis, Fitted, FleetNumbers
from fleetcare.work.record import Finding, WorkDone

Columns = dict[str, Any]
"""A row on its way in: column name to text, whole number, bytes, bool or None."""

NOT_READ = -1
"""In place of a meter value that nobody read."""


# Small things


def day_text(day: date | None) -> str | None:
    """A day as stored."""
    return None if day is None else day.isoformat()


def instant_text(instant: datetime) -> str:
    """An instant as stored: UTC, microseconds always there, so that text sorts as time does."""
    if instant.tzinfo is None:
        raise ValueError("an instant has a zone")  # taken for local time it would be stored hours off
    return instant.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def instant_or_none(instant: datetime | None) -> str | None:
    """An instant as stored, or None."""
    return None if instant is None else instant_text(instant)


def tenths(value: Decimal) -> int:
    """A meter value as whole tenths. Raises BadInput if it has more than one decimal, or is no value of a dial."""
    if not value.is_finite() or value < 0 or value * 10 > MOST_TENTHS:
        raise BadInput("No dial shows that.", remedy="Type what the dial shows, digits only.", field="value")
    whole = int(value * 10)
    if Decimal(whole) / 10 != value:
        raise BadInput(f"{value} has more than one decimal.", remedy="Leave out what stands after the tenths.")
    return whole


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _instant_or_none(text: str | None) -> datetime | None:
    return None if text is None else _instant(text)


def _from_tenths(whole: int) -> Decimal:
    value = Decimal(whole) / 10
    return value.quantize(Decimal(1)) if whole % 10 == 0 else value


def _json(value: object) -> str:
    return json.dumps(_gated_through(value), ensure_ascii=False, separators=(",", ":"))


def _gated_through(value: object) -> object:
    """Lists through and through: in JSON a NUL is spelt out, and the gate on the row would not see it."""
    if isinstance(value, (list, tuple)):
        return [_gated_through(part) for part in value]
    return gated_figure(value) if isinstance(value, float) else gated(value)


def _figure(value: Decimal | None) -> str | None:
    if value is not None and not value.is_finite():
        raise BadInput("A figure is not a number.", remedy="Type it anew.")
    return None if value is None else str(value)


@lru_cache(maxsize=1024)
def split_text(split: DutySplit | None) -> str | None:
    """A split as stored."""
    return None if split is None else _json([[duty, share] for duty, share in split.shares])


@lru_cache(maxsize=1024)
def _split(text: str) -> DutySplit:
    return DutySplit(tuple((duty, share) for duty, share in json.loads(text)))


# Garage and people


def garage_columns(garage: Garage) -> Columns:
    """A garage on its way in."""
    return {
        "id": 1,
        "garage_id": garage.id,
        "name": garage.name,
        "zone": garage.zone,
        "unit": garage.unit.value,
        "list_keeper": garage.list_keeper,
    }


def garage(row: Any) -> Garage:
    """A garage on its way out."""
    return Garage(row.name, row.zone, DistanceUnit(row.unit), row.garage_id, row.list_keeper)


def person_columns(person: Person) -> Columns:
    """A person on their way in."""
    return {
        "key": person.key,
        "name": person.name,
        "mail": person.mail,
        "zone": person.zone,
        "unit": person.unit.value,
        "roles": _json([role.value for role in person.roles]),
        "letter_weekday": person.letter_weekday,
        "letter_hour": person.letter_hour,
        "quiet_from": person.quiet_from,
        "quiet_until": person.quiet_until,
        "language": person.language,
        "light": person.light.value,
    }


def person(row: Any) -> Person:
    """A person on their way out."""
    return Person(
        key=row.key,
        name=row.name,
        mail=row.mail,
        zone=row.zone,
        unit=DistanceUnit(row.unit),
        roles=tuple(Role(role) for role in json.loads(row.roles)),
        letter_weekday=row.letter_weekday,
        letter_hour=row.letter_hour,
        quiet_from=row.quiet_from,
        quiet_until=row.quiet_until,
        language=row.language,
        light=Light(row.light),
    )


# Vehicles


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
        "drivers": _json(vehicle.drivers),
        "description": vehicle.description,
        "vin": vehicle.vin,
        "in_service_on": day_text(vehicle.in_service_on),
        "entered_on": day_text(vehicle.entered_on),
        "usual_split": split_text(vehicle.usual_split),
        "yearly_km": None if vehicle.yearly_km is None else repr(gated_figure(vehicle.yearly_km)),
        "laid_up": _json([[span.first.isoformat(), span.end.isoformat()] for span in vehicle.laid_up]),
        "towed_by": _json(vehicle.towed_by),
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
        "changes": _json(changes),
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
        "fluid_capacity_l": _figure(component.fluid_capacity_l),
        "facts": _json([[fact.name, fact.value, fact.basis] for fact in component.facts]),
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
        in_service_on=_day(row.in_service_on),
        entered_on=_day(row.entered_on),
        usual_split=_split(row.usual_split),
        yearly_km=None if row.yearly_km is None else float(row.yearly_km),
        meters=tuple(_meter(each) for each in meters),
        components=tuple(_component(each, lines.get(each.key, ())) for each in components),
        laid_up=tuple(DateSpan(*map(date.fromisoformat, span)) for span in json.loads(row.laid_up)),
        towed_by=tuple(json.loads(row.towed_by)),
        out_of_fleet_on=_day(row.out_of_fleet_on),
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
        lines=tuple(LineStart(line.service, History(line.history), _day(line.entered_on)) for line in lines),
        fitted_on=_day(row.fitted_on),
    )


# Readings, work, events, bookings


def reading_columns(reading: Reading) -> Columns:
    """A reading on its way in."""
    return {
        "mark": reading.mark,
        "meter": reading.meter,
        "day": reading.on.isoformat(),
        "value_tenths": tenths(reading.value),
        "unit": reading.unit.value,
        "entered_at": instant_text(reading.entered_at),
        "by": reading.by,
        "door": reading.door.value,
        "split": split_text(reading.split),
        "state": reading.state.value,
        "note": reading.note,
        "vouched_by": reading.vouched_by,
    }


_UNITS = {unit.value: unit for unit in MeterUnit}
_DOORS = {door.value: door for door in Door}
_STATES = {state.value: state for state in ReadingState}


def reading(row: Any) -> Reading:
    """A reading on its way out. row: in the order of the table's columns (plain tuples, for there are many)."""
    number, mark, meter, day, value_tenths, unit, entered_at, by, door, split, state, note, vouched_by = row
    return Reading(
        mark=mark,
        meter=meter,
        on=date.fromisoformat(day),
        value=_from_tenths(value_tenths),
        unit=_UNITS[unit],
        entered_at=_instant(entered_at),
        by=by,
        door=_DOORS[door],
        split=None if split is None else _split(split),
        state=_STATES[state],
        note=note,
        vouched_by=vouched_by,
        id=number,
    )


def work_columns(work: WorkDone) -> Columns:
    """Work on its way in, without its findings."""
    return {
        "mark": work.line.mark,
        "component": work.line.component,
        "service": work.line.service,
        "day": work.on.isoformat(),
        "value_tenths": NOT_READ if work.at is None else tenths(work.at),
        "unit": "" if work.unit is None else work.unit.value,
        "by": work.by,
        "note": work.note,
    }


def finding_columns(work_id: int, finding: Finding, position: int) -> Columns:
    """A finding on its way in."""
    return {
        "work_id": work_id,
        "position": position,
        "text": finding.text,
        "look_again_on": day_text(finding.look_again_on),
        "settled_on": day_text(finding.settled_on),
    }


def work(row: Any, findings: Sequence[Any]) -> WorkDone:
    """Work on its way out. findings: its rows in order."""
    return WorkDone(
        line=LineKey(row.mark, row.component, row.service),
        on=date.fromisoformat(row.day),
        at=None if row.value_tenths == NOT_READ else _from_tenths(row.value_tenths),
        unit=MeterUnit(row.unit) if row.unit else None,
        by=row.by,
        note=row.note,
        findings=tuple(Finding(each.text, _day(each.look_again_on), _day(each.settled_on)) for each in findings),
        id=row.id,
    )


def event_columns(event: UseEvent) -> Columns:
    """An event on its way in."""
    return {
        "mark": event.mark,
        "day": event.on.isoformat(),
        "kind": event.kind,
        "component": event.component,
        "note": event.note,
    }


def event(row: Any) -> UseEvent:
    """An event on its way out."""
    return UseEvent(row.mark, row.kind, date.fromisoformat(row.day), row.component, row.note)


def booking_columns(booking: Booking) -> Columns:
    """A booking on its way in."""
    return {
        "key": booking.key,
        "title": booking.title,
        "first_day": booking.days.first.isoformat(),
        "end_day": booking.days.end.isoformat(),
        "marks": _json(booking.marks),
        "distance": _figure(booking.distance),
        "unit": booking.unit.value,
        "duty": booking.duty,
        "event": booking.event,
    }


def booking(row: Any) -> Booking:
    """A booking on its way out."""
    return Booking(
        key=row.key,
        title=row.title,
        days=DateSpan(date.fromisoformat(row.first_day), date.fromisoformat(row.end_day)),
        marks=tuple(json.loads(row.marks)),
        distance=None if row.distance is None else Decimal(row.distance),
        unit=DistanceUnit(row.unit),
        duty=row.duty,
        event=row.event,
    )


# What was worked out, published and sent


def window_columns(key: LineKey, state: LineState) -> Columns:
    """A window, or why there is none, on its way in."""
    window = state if isinstance(state, DueWindow) else None
    return {
        "mark": key.mark,
        "component": key.component,
        "service": key.service,
        "early": day_text(window.early) if window else None,
        "likely": day_text(window.likely) if window else None,
        "late": day_text(window.late) if window else None,
        "cause": window.cause.value if window else None,
        "no_date": state.value if isinstance(state, NoDate) else None,
    }


def window(row: Any) -> tuple[LineKey, LineState]:
    """A line with its window, or why there is none, on its way out."""
    key = LineKey(row.mark, row.component, row.service)
    if row.early is None:
        return key, NoDate(row.no_date)
    early, likely, late = (date.fromisoformat(day) for day in (row.early, row.likely, row.late))
    return key, DueWindow(early, likely, late, Cause(row.cause))


def delivery_progress(delivery: Delivery | LetterPlace) -> Columns:
    """What may change of a letter."""
    return {
        "state": delivery.state.value,
        "tries": delivery.tries,
        "next_try_at": instant_or_none(delivery.next_try_at),
        "leased_until": instant_or_none(delivery.leased_until),
        "last_answer": delivery.last_answer,
        "sent_at": instant_or_none(delivery.sent_at),
    }


def delivery_columns(delivery: Delivery) -> Columns:
    """A letter on its way in, without its bytes."""
    return {
        "person": delivery.person,
        "kind": delivery.kind.value,
        "period": delivery.period,
        "message_id": delivery.message_id,
        "subject": delivery.subject,
        "to_mail": delivery.to_mail,
        "decided_at": instant_text(delivery.decided_at),
        "expires_at": instant_text(delivery.expires_at),
        **delivery_progress(delivery),
    }


def delivery(row: Any) -> Delivery:
    """A letter on its way out, of a row with its bytes."""
    return Delivery(
        person=row.person,
        kind=LetterKind(row.kind),
        period=row.period,
        message_id=row.message_id,
        subject=row.subject,
        to_mail=row.to_mail,
        raw=bytes(row.raw),
        decided_at=_instant(row.decided_at),
        expires_at=_instant(row.expires_at),
        state=DeliveryState(row.state),
        tries=row.tries,
        next_try_at=_instant_or_none(row.next_try_at),
        leased_until=_instant_or_none(row.leased_until),
        last_answer=row.last_answer,
        sent_at=_instant_or_none(row.sent_at),
        id=row.id,
    )


def letter_place(row: Any) -> LetterPlace:
    """How far a letter is, of a row without its bytes."""
    return LetterPlace(
        id=row.id,
        person=row.person,
        kind=LetterKind(row.kind),
        period=row.period,
        message_id=row.message_id,
        subject=row.subject,
        to_mail=row.to_mail,
        decided_at=_instant(row.decided_at),
        expires_at=_instant(row.expires_at),
        state=DeliveryState(row.state),
        tries=row.tries,
        next_try_at=_instant_or_none(row.next_try_at),
        leased_until=_instant_or_none(row.leased_until),
        last_answer=row.last_answer,
        sent_at=_instant_or_none(row.sent_at),
    )


def log_columns(change: Change, subject: str, what: str, before: str, after: str) -> Columns:
    """A line of the log on its way in."""
    return {
        "who": change.who,
        "why": change.why,
        "at": instant_text(change.at),
        "subject": subject,
        "what": what,
        "before": before,
        "after": after,
    }


def log_entry(row: Any) -> LogEntry:
    """A line of the log on its way out."""
    change = Change(row.who, row.why, _instant(row.at))
    return LogEntry(change, row.subject, row.what, row.before, row.after, row.id)


# Numbers learned


def fit_columns(fit: Fitted) -> Columns:
    """Learned numbers on their way in."""
    return {
        "fitted_at": instant_text(fit.at),
        "who": fit.who,
        "numbers": _json_object({} if fit.numbers is None else asdict(fit.numbers)),
        "basis": _json_object(asdict(fit.basis)),
    }


def fit(row: Any) -> Fitted:
    """Learned numbers on their way out."""
    numbers = json.loads(row.numbers)
    return Fitted(
        at=_instant(row.fitted_at),
        who=row.who,
        numbers=FleetNumbers(**{**numbers, "season": tuple(numbers["season"])}) if numbers else None,
        basis=FitBasis(**json.loads(row.basis)),
        id=row.id,
    )


def _json_object(figures: Mapping[str, Any]) -> str:
    for figure in figures.values():
        _gated_through(figure)
    return json.dumps(figures, separators=(",", ":"))
