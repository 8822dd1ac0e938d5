"""What is worth knowing about a visit, a sentence each; nothing stops at them. And a visit in words for the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit, StretchKind
from fleetcare.fleet.booking import Booking
from fleetcare.language import tr, tr_book
from fleetcare.quantities import DateSpan
from fleetcare.wording import day_words

_LAST_MOMENT = timedelta(microseconds=1)


def visit_notices(
    visit: BayVisit,
    outlook: VehicleOutlook,
    visits: Sequence[BayVisit],
    bookings: Sequence[Booking],
    *,
    names: Mapping[str, str],
    today: date,
    zone: ZoneInfo,
    now: datetime,
) -> tuple[str, ...]:
    """Worth knowing: the vehicle or the mechanic is spoken for, another vehicle is in the bay, another visit does the
    same, a late date is over."""
    days, vehicle = visit_days(visit, zone), outlook.vehicle
    others = [each for each in visits if each.key != visit.key and each.takes_place and each.mark != visit.mark]
    found = [tr("That time is over.")] if visit.begins_at < now else []
    found += [
        tr("{name} is spoken for then: {what}.", name=vehicle.name, what=each.title)
        for each in bookings
        if visit.mark in each.marks and each.days.overlaps(days)
    ]
    found += [
        tr("{name} is in the bay then as well.", name=names.get(each.mark, each.mark))
        for each in others
        if each.overlaps(visit)
    ]
    found += [
        tr("The same hands are asked for by {name} then.", name=names.get(each.mark, each.mark))
        for each in others
        if visit.mechanic and each.mechanic == visit.mechanic and _hands_meet(visit, each)
    ]
    same = [each for each in visits if each.mark == visit.mark and each.number != visit.number and each.takes_place]
    found += [
        tr("{service}: visit {number} does it as well.", service=tr_book(line.row.title), number=each.number)
        for line in outlook.lines
        for each in same
        if line.key in visit.lines and line.key in each.lines and each.free_at > now
    ]
    found += [
        tr(
            "{service}: its late date, {day}, is over then.",
            service=tr_book(line.row.title),
            day=day_words(line.window.late, today),
        )
        for line in outlook.lines
        if line.key in visit.lines and line.window is not None and line.window.late < days.first
    ]
    return tuple(found)


def _hands_meet(one: BayVisit, other: BayVisit) -> bool:
    hands = [[stretch for stretch in visit.stretches if stretch.kind is StretchKind.HANDS_ON] for visit in (one, other)]
    return any(a.begins_at < b.ends_at and b.begins_at < a.ends_at for a in hands[0] for b in hands[1])


def visit_days(visit: BayVisit, zone: ZoneInfo) -> DateSpan:
    """The garage's days a visit touches, from its first hand until the vehicle is free."""
    first, last = (at.astimezone(zone).date() for at in (visit.begins_at, visit.free_at - _LAST_MOMENT))
    return DateSpan.of_days(first, last)


def visit_in_words(visit: BayVisit | None, zone: ZoneInfo) -> str:
    """A visit for the log; empty if there was none."""
    if visit is None:
        return ""
    services = ", ".join(f"{line.component}/{line.service}" for line in visit.lines)
    begins, free = (f"{at.astimezone(zone):%Y-%m-%d %H:%M}" for at in (visit.begins_at, visit.free_at))
    return f"{visit.state.value}, {begins} until {free}: {services}"
