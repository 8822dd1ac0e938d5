"""What a sheet and its bay visit do to each other: steps of an action, inside its transaction.

A visit is a promise of time; the sheet says what really happens. A stage that is begun late moves what follows in the
visit, and so in calendars and letters; a sheet that is closed ends it; one that is put off or given up rubs it out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, rules_in_force
from fleetcare.actions.ports import ReadView, WriteUnit
from fleetcare.book.jobs import JobBook
from fleetcare.book.rows import BookRow
from fleetcare.fleet.bay_visit import (
    LONGEST_STRETCH,
    MOST_STRETCHES,
    BayVisit,
    Stretch,
    StretchKind,
    VisitState,
)
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.order import OrderedService, OrderState, WorkOrder
from fleetcare.work.sheet_course import SheetCourse, sheet_course
from fleetcare.work.visit_stretches import stretches_of

BAY_OPENS = time(9)
"""When the first hand begins on a planned day, if nobody said."""
_SHORTEST = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Shop:
    """What a step of a sheet needs beside the store, because its visit and the calendars follow it.

    jobs: how services are done. base_url: where links in calendars lead.
    """

    jobs: JobBook
    base_url: str


def visit_of(view: ReadView, order: WorkOrder) -> BayVisit | None:
    """The visit a sheet belongs to, if it takes place."""
    if not order.visit:
        return None
    found = next((each for each in view.bay_visits((order.mark,)) if each.number == order.visit), None)
    return found if found is not None and found.takes_place else None


def begins_at(order: WorkOrder, visit: BayVisit | None, zone: ZoneInfo) -> datetime | None:
    """When the first hand of a sheet begins or began; None if nobody knows."""
    if order.started_at is not None:
        return order.started_at
    if visit is not None:
        return visit.begins_at
    return None if order.planned_on is None else datetime.combine(order.planned_on, BAY_OPENS, zone)


def course_of_lines(
    lines: tuple[LineKey, ...], vehicle: Vehicle, rows: dict[LineKey, BookRow], jobs: JobBook, at: datetime
) -> SheetCourse:
    """How a visit for these services runs that begins at that instant."""
    order = WorkOrder(1, vehicle.mark, tuple(OrderedService(line) for line in lines), at.date())
    return sheet_course(order, vehicle, rows, jobs, begins_at=at)


def rows_of(
    view: ReadView, rules: Rules, mark: str, lines: tuple[LineKey, ...], now: datetime
) -> dict[LineKey, BookRow]:
    """The rows of these lines: as the vehicle has them now, else those of the book."""
    rules = rules_in_force(view, rules)
    outlook = outlooks_from(facts_of(view, (mark,)), rules, garage_day(garage_of(view), now))[0]
    rows = {line.key: line.row for line in outlook.lines}
    for line in lines:
        if line not in rows and line.service in rules.book.rows:
            rows[line] = rules.book.rows[line.service]
    return rows


def follow_sheet(unit: WriteUnit, rules: Rules, jobs: JobBook, order: WorkOrder, *, now: datetime) -> bool:
    """Puts the visit where its sheet stands; True if it changed, and so the calendars that show it."""
    visit = visit_of(unit, order)
    if visit is None or order.state is OrderState.PLANNED:
        return False
    if order.state in (OrderState.IN_HAND, OrderState.STANDING):
        return _stored(unit, order, visit, _retimed(unit, rules, jobs, order, visit, now))
    return end_visit(unit, order, now=now)


def end_visit(unit: WriteUnit, order: WorkOrder, *, now: datetime) -> bool:
    """Ends the visit of a sheet that is closed, put off or given up; True if it changed.

    One that has not begun is rubbed out, unless the sheet is closed: then whoever records the work sees to it.
    """
    visit = visit_of(unit, order)
    if visit is None:
        return False
    if visit.begins_at < now:
        return _stored(unit, order, visit, _ended(visit, now))
    if order.state is OrderState.CLOSED:
        return False
    return _stored(unit, order, visit, replace(visit, state=VisitState.RUBBED_OUT))


def _stored(unit: WriteUnit, order: WorkOrder, visit: BayVisit, after: BayVisit) -> bool:
    if after == visit:
        return False
    unit.put_bay_visit(after)
    unit.log_change(
        order.mark, f"visit {visit.number} to the bay", _told(visit), f"{_told(after)}, as sheet {order.sheet} stands"
    )
    return True


def follow_visit(unit: WriteUnit, visit: BayVisit, zone: ZoneInfo) -> None:
    """A sheet that is planned goes where its visit goes; rubbed out, it has no day.

    Put back, the visit takes that sheet along again: one for the same services that is planned for no day and no visit.
    """
    orders = unit.orders((visit.mark,))
    mine = [each for each in orders if each.visit == visit.number and each.state is not OrderState.ABANDONED]
    if not mine and visit.takes_place:
        lost = [
            each
            for each in orders
            if each.state is OrderState.PLANNED
            and each.planned_on is None
            and not each.visit
            and set(each.lines) == set(visit.lines)
        ]
        mine = [replace(each, visit=visit.number) for each in lost[:1]]
    known = {each.number: each for each in orders}
    for order in mine:
        if order.state is not OrderState.PLANNED:
            continue
        day = visit.begins_at.astimezone(zone).date() if visit.takes_place else None
        after = replace(order, planned_on=day, visit=order.visit if visit.takes_place else 0)
        if after != known[order.number]:
            unit.put_order(after)
            unit.log_change(f"sheet {order.sheet}", "work order", str(order.planned_on or ""), str(day or "no day"))


def _retimed(
    unit: WriteUnit, rules: Rules, jobs: JobBook, order: WorkOrder, visit: BayVisit, now: datetime
) -> BayVisit:
    """The visit with the hours its sheet really takes: from the first hand, each stage where it was begun."""
    zone = ZoneInfo(garage_of(unit).zone)
    vehicle = unit.vehicles((order.mark,))[0]
    course = sheet_course(
        order,
        vehicle,
        rows_of(unit, rules, order.mark, order.lines, now),
        jobs,
        begins_at=begins_at(order, visit, zone),
        now=now if order.state is OrderState.IN_HAND else None,
    ).course
    stretches = () if course is None else stretches_of(course)
    if order.stands_until is not None and stretches:
        stretches = _no_hand_before(stretches, order.stands_until, now)
    can_be = 1 <= len(stretches) <= MOST_STRETCHES and all(_SHORTEST <= s.lasts <= LONGEST_STRETCH for s in stretches)
    if not can_be:
        # Without a job, or with one that no visit can be: only the first hand is known to have moved.
        began = order.started_at or visit.begins_at
        return replace(visit, stretches=_shifted(visit.stretches, began - visit.begins_at))
    return _noted(visit, replace(visit, stretches=stretches), zone, now)


def _noted(before: BayVisit, after: BayVisit, zone: ZoneInfo, now: datetime) -> BayVisit:
    """Keeps the day on which an inked visit's next hand was to be, when it comes to lie on another."""
    then, new = _next_hand(before, now), _next_hand(after, now)
    if before.state is not VisitState.INKED or then is None or new is None:
        return after
    was, is_on = then.astimezone(zone).date(), new.astimezone(zone).date()
    return after if was == is_on else replace(after, hands_moved_from=was)


def _next_hand(visit: BayVisit, now: datetime) -> datetime | None:
    """The first hand after the one that is going on or over."""
    return next((s.begins_at for s in visit.stretches[1:] if s.kind is StretchKind.HANDS_ON and s.ends_at > now), None)


def _no_hand_before(stretches: tuple[Stretch, ...], until: datetime, now: datetime) -> tuple[Stretch, ...]:
    """The same with the standing that is going on lasting until then, and what follows moved with it."""
    place = next((i for i, s in enumerate(stretches) if s.kind is StretchKind.STANDING and s.ends_at > now), None)
    if place is None or stretches[place].ends_at >= until:
        return stretches
    late = until - stretches[place].ends_at
    longer = replace(stretches[place], ends_at=until)
    return (*stretches[:place], longer, *_shifted(stretches[place + 1 :], late))


def _shifted(stretches: tuple[Stretch, ...], by: timedelta) -> tuple[Stretch, ...]:
    return tuple(replace(s, begins_at=s.begins_at + by, ends_at=s.ends_at + by) for s in stretches)


def _ended(visit: BayVisit, now: datetime) -> BayVisit:
    """A visit that has begun ends now; what would have followed is cut off."""
    left = [replace(s, ends_at=min(s.ends_at, now)) for s in visit.stretches if s.begins_at < now]
    return replace(visit, stretches=tuple(left)) if left and left[-1].lasts > timedelta(0) else visit


def _told(visit: BayVisit) -> str:
    return f"{visit.state.value}, {visit.begins_at:%Y-%m-%d %H:%M} until {visit.free_at:%Y-%m-%d %H:%M} UTC"
