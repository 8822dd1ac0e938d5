"""A job sheet is handed in: what follows is shown first, then everything is stored in one transaction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, rules_in_force, sheet_in
from fleetcare.actions.ports import Change, ReadView, Store, WriteUnit
from fleetcare.actions.screening import screen
from fleetcare.actions.settle import Settled, settle
from fleetcare.actions.sheet_visits import end_visit
from fleetcare.actions.visits_done import leave_visits
from fleetcare.chance import key_hash
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.due.work_value import dial_unit, end_reading, refuse_value
from fleetcare.errors import BadFinding, BadStep, NotFound
from fleetcare.fleet.booking import UseEvent
from fleetcare.fleet.component import Component, History, LineKey, LineStart
from fleetcare.fleet.naming import person_called
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import saying
from fleetcare.meter.reading import ReadingState
from fleetcare.quantities import MeterUnit
from fleetcare.work.findings import FindingBook
from fleetcare.work.found import Found, Judged, Seen, judged, settled
from fleetcare.work.order import DialValue, Filled, Hands, OrderState, PartUsed, TorqueSet, WorkOrder
from fleetcare.work.sheet_checks import fill_remark, with_range
from fleetcare.work.sheet_records import looks_on, records_of
from fleetcare.work.shelf_use import taken_from, used_by
from fleetcare.work.steps import HandIn, closed

GEARS_RENEWED = "gears renewed"
"""The event that new gears are, in the interval book."""


@dataclass(frozen=True, slots=True)
class Filling:
    """What somebody wrote on a sheet, before anything is looked up.

    done: services as they are called; None means all that are not in `left`, which says why each other one was not.
    start, end: what the dial showed, in the vehicle's own unit unless `unit` says another. hands: minutes by person.
    key: of the form it was written on, so that the same one sent twice counts once; empty: made of what it says.
    """

    on: date | None = None
    done: Sequence[str] | None = None
    left: Mapping[str, str] = field(default_factory=dict)
    start: Decimal | None = None
    end: Decimal | None = None
    unit: MeterUnit | None = None
    fills: tuple[Filled, ...] = ()
    torques: tuple[TorqueSet, ...] = ()
    parts: tuple[PartUsed, ...] = ()
    hands: Mapping[str, int] = field(default_factory=dict)
    renewed: tuple[str, ...] = ()
    note: str = ""
    signed_by: str = ""
    seen: tuple[Seen, ...] = ()
    photos: tuple[str, ...] = ()
    key: str = ""


@dataclass(frozen=True, slots=True)
class HandedIn:
    """A sheet as it stands after it was handed in, or as it would.

    judged: its findings with what the book says. remarks: worth a word before it is saved. known: the very same was
    handed in before, nothing was changed. settled: where the vehicle stands after it; None if it was only looked at.
    """

    vehicle: Vehicle
    order: WorkOrder
    judged: tuple[Judged, ...]
    remarks: tuple[str, ...]
    known: bool
    settled: Settled | None


def look_over(
    store: Store, rules: Rules, book: FindingBook, sheet: int, given: Filling, *, now: datetime, who: str
) -> HandedIn:
    """What would come of handing a sheet in; nothing is stored. Raises what `hand_in` raises."""
    with store.read() as view:
        return _decided(view, rules, book, sheet, given, now=now, who=who)[0]


def hand_in(
    store: Store,
    rules: Rules,
    book: FindingBook,
    sheet: int,
    given: Filling,
    *,
    now: datetime,
    who: str,
    base_url: str,
) -> HandedIn:
    """Closes a sheet: what was done starts anew from the measured value, findings are kept, looks settled.

    What the dial showed at the end is kept as a reading; one that does not fit is held like any other.
    One transaction. The same sheet handed in twice counts once. Raises NotFound (sheet, service, person, kind of
    finding), BadStep, BadFinding, and BadInput for a value that the readings rule out.
    """
    with store.write(Change(who, f"sheet {sheet:04d} handed in", now)) as unit:
        decided, facts = _decided(unit, rules, book, sheet, given, now=now, who=who)
        if decided.known:
            return decided
        order = _stored(unit, rules, decided, facts, who, now)
        if _dial_read(unit, order, facts.vehicle, now, who):
            screen(unit, rules, facts_of(unit, (order.mark,)))
        unit.log_change(f"sheet {order.sheet}", "work order", (order.was or order.state).value, _in_words(order))
        end_visit(unit, order, now=now)
        came = settle(unit, rules, now=now, base_url=base_url, marks=(order.mark,))
        return replace(decided, order=order, settled=came)


def _decided(
    view: ReadView, rules: Rules, book: FindingBook, sheet: int, given: Filling, *, now: datetime, who: str
) -> tuple[HandedIn, VehicleFacts]:
    garage = garage_of(view)
    rules = rules_in_force(view, rules)
    today = garage_day(garage, now)
    order = sheet_in(view, sheet)
    facts = facts_of(view, (order.mark,))[0]
    vehicle = facts.vehicle
    key = given.key or _key_of(sheet, given)
    if order.state is OrderState.CLOSED and order.handed_in == key:
        return HandedIn(vehicle, order, (), (), True, None), facts
    on = given.on or today
    if on > today:
        raise BadStep("That day is still to come.", remedy="Give the day the work was done on.", field="on")
    outlook = outlooks_from((facts,), rules, today)[0]
    unit = given.unit or (dial_unit(vehicle) if given.start is not None or given.end is not None else MeterUnit.KM)
    start = None if given.start is None else DialValue(given.start, unit)
    end = None if given.end is None else DialValue(given.end, unit)
    left = {_line(order, outlook, name): why for name, why in given.left.items()}
    done = (
        frozenset(order.lines) - set(left)
        if given.done is None
        else frozenset(_line(order, outlook, name) for name in given.done)
    )
    people = view.people()
    sheet_says = HandIn(
        on=on,
        done=done,
        left=left,
        start=start,
        end=end,
        fills=given.fills,
        torques=tuple(with_range(torque, _component(vehicle, torque.component)) for torque in given.torques),
        parts=given.parts,
        hands=tuple(Hands(person_called(people, name).key, minutes) for name, minutes in given.hands.items()),
        renewed=given.renewed,
        note=given.note,
        signed_by=given.signed_by,
        photos=given.photos,
    )
    after = closed(order, sheet_says, at=now, key=key)
    for dial, name in ((start, "start"), (end, "end")):
        if dial is not None:
            refuse_value(facts, on, dial.value, dial.unit, rules.priors, now=now, today=today, field=name)
    by_book = tuple(
        judged(
            seen,
            book,
            _component(vehicle, seen.component),
            mark=order.mark,
            on=on,
            by=who,
            at=None if end is None else end.value,
            meter=None if end is None else end.unit,
        )
        for seen in given.seen
    )
    after = replace(after, events=tuple((GEARS_RENEWED, component) for component in given.renewed))
    remarks = tuple(
        remark for filled in given.fills if (remark := fill_remark(filled, _component(vehicle, filled.component)))
    )
    return HandedIn(vehicle, after, by_book, remarks, False, None), facts


def _stored(
    unit: WriteUnit, rules: Rules, decided: HandedIn, facts: VehicleFacts, who: str, now: datetime
) -> WorkOrder:
    """Writes everything a sheet says; the order as it is kept."""
    zone = ZoneInfo(garage_of(unit).zone)
    order = decided.order
    assert order.closed_on is not None  # it was closed just now
    new: set[LineKey] = set()
    for record in records_of(order, who):
        if unit.add_work((record,)):
            new.add(record.line)
            unit.log_change(str(record.line), "work done", "", f"{record.on}, sheet {order.sheet}")
            leave_visits(unit, record.line, done_on=record.on, zone=zone, now=now)
    events = [
        UseEvent(order.mark, kind, order.closed_on, where, f"sheet {order.sheet}") for kind, where in order.events
    ]
    kept = tuple((event.kind, event.component) for event in events if unit.add_events((event,)))
    if events:
        _begin_break_in(unit, rules, facts.vehicle, [event.component for event in events], order.closed_on)
    for looked in looks_on(order, unit.found()):
        seen = saying("looked at on sheet {sheet}", sheet=order.sheet)
        unit.settle_found(settled(looked, on=order.closed_on, by=who, note=seen))
        unit.log_change(str(looked.line), "finding", looked.words, seen)
    services = tuple(replace(service, recorded=service.line in new) for service in order.services)
    order = replace(order, services=services, events=kept)
    unit.put_order(order)
    _count_down(unit, order, facts.vehicle)
    found = [
        replace(each.found, order=order.number, position=place) for place, each in enumerate(decided.judged, start=1)
    ]
    unit.add_found(found)
    unit.log_changes((str(each.line), "finding", "", _found_words(each)) for each in found)
    return order


def _dial_read(unit: WriteUnit, order: WorkOrder, vehicle: Vehicle, now: datetime, who: str) -> bool:
    """What the dial showed at the end is a reading like any other; whether it is new."""
    reading = end_reading(order, vehicle, at=now, by=who)
    if reading is None:
        return False
    if unit.add_readings((reading,)):
        return True
    stored = next(r for r in unit.readings((order.mark,)) if r.identity == reading.identity)
    if stored.id is None or stored.state is not ReadingState.TAKEN_BACK:
        return False
    unit.set_reading_state(stored.id, ReadingState.USED, reading.note)
    return True


def _count_down(unit: WriteUnit, order: WorkOrder, vehicle: Vehicle) -> None:
    """Takes from the shelf what went in, as far as it lies there."""
    shelf = unit.shelf()
    less, taken = taken_from(shelf, used_by(order, vehicle, shelf))
    if taken:
        unit.put_on_shelf(less)
        unit.put_drawn(order.number, taken)
        unit.log_changes(
            ("shelf", item.what, "", f"{taken[item.key]:f} {item.unit} for {order.sheet}") for item in less
        )


def _begin_break_in(unit: WriteUnit, rules: Rules, vehicle: Vehicle, components: Sequence[str], on: date) -> None:
    """Gives components with new gears the lines of the book that wait for them, if they have lines of their own."""
    changed = vehicle
    for key in components:
        component = _component(vehicle, key)
        have = {line.service for line in component.lines}
        fitting = [
            row.key
            for _, row in sorted(rules.book.rows.items())
            if row.proposed
            and component.kind in row.components
            and (not row.vehicles or vehicle.kind in row.vehicles)
            and any(after.event == GEARS_RENEWED for after in row.rule.after)
        ]
        new = tuple(LineStart(row, History.UNKNOWN, on) for row in fitting if row not in have)
        if component.lines and new:
            grown = replace(component, lines=(*component.lines, *new))
            changed = replace(changed, components=tuple(grown if c.key == key else c for c in changed.components))
    if changed != vehicle:
        unit.put_vehicle(changed)
        unit.log_change(vehicle.mark, "vehicle", "", "lines that begin with new gears")


def _component(vehicle: Vehicle, called: str) -> Component:
    wanted = called.strip().casefold()
    for component in vehicle.components:
        if wanted in (component.key.casefold(), component.title.casefold()):
            return component
    if not wanted:
        raise BadFinding("A finding has no place.", remedy="Say on which component it was found.", field="place")
    names = [name for c in vehicle.components for name in (c.key, c.title)]
    raise NotFound(saying("component on {name}", name=vehicle.name), called, names)


def _line(order: WorkOrder, outlook: VehicleOutlook, called: str) -> LineKey:
    """The service of the sheet that is called so: by key, `component/service`, title or short name."""
    wanted = called.strip().casefold()
    rows = {line.key: line.row for line in outlook.lines}
    for line in order.lines:
        names = {line.service, f"{line.component}/{line.service}"}
        if (row := rows.get(line)) is not None:
            names |= {row.title.casefold(), row.short.casefold()}
        if wanted in names:
            return line
    known = [line.service for line in order.lines]
    raise NotFound(saying("service on sheet {sheet}", sheet=order.sheet), called, known)


def _key_of(sheet: int, given: Filling) -> str:
    """Stands for what the sheet says, so that the same twice is once."""
    return key_hash(repr((sheet, given)))[:32]


def _in_words(order: WorkOrder) -> str:
    done = [s.line.service for s in order.services if s.done]
    left = [f"{s.line.service} ({s.left_because})" for s in order.services if not s.done]
    at = f" at {order.end.value} {order.end.unit.value}" if order.end is not None else ""
    parts = [f"done {', '.join(done)}" if done else "", f"left {', '.join(left)}" if left else ""]
    return f"closed{at}: {'; '.join(part for part in parts if part)}"


def _found_words(found: Found) -> str:
    decided = f", decided otherwise: {found.decided}" if found.decided else ""
    return f"{found.words}; {found.follow.kind.value}{decided}"
