"""Pencilled visits that cannot be as they stand: nobody is there, the vehicle is away, no bay is free, or it is in
twice."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.open_shifts import BAY, Span, Taken, WallClock, open_shifts
from fleetcare.bayplan.problem import DAY_MIN, Shift
from fleetcare.bayplan.workshop import OpenHours
from fleetcare.fleet.bay_visit import BayVisit, StretchKind


def broken_visits(
    pencilled: Sequence[BayVisit],
    *,
    taken: Collection[Taken],
    settled: Collection[BayVisit],
    hours: Sequence[OpenHours],
    mechanics: Collection[str],
    closed: Collection[date],
    bays: int,
    today: date,
    zone: ZoneInfo,
    days: int,
) -> frozenset[BayVisit]:
    """Those that break a rule of the workshop, read off visits and calendars alone.

    taken: of people, vehicles and the bay, inked visits included. settled: inked visits ahead. closed: days on which
    nobody works. days: so many after today are looked at for open hours; whole open hours count, not the share of them
    that is planned for.
    """
    begins = today - timedelta(days=today.weekday())
    clock = WallClock(begins, zone)
    spans = {each.key: (clock.minute(each.begins_at), clock.minute(each.free_at)) for each in pencilled}
    busy = clock.spells(taken)
    last = (today - begins).days + days
    shifts: dict[int, list[Shift]] = {}
    for shift in open_shifts(
        hours,
        mechanics=mechanics,
        busy=busy,
        bays=bays,
        share=1.0,
        begins=begins,
        today=today,
        days=last + 1,
        closed=closed,
    ):
        shifts.setdefault(shift.day, []).append(shift)
    first = ((today - begins).days + 1) * DAY_MIN
    broken = {
        each.key
        for each in pencilled
        if first <= spans[each.key][0] < last * DAY_MIN and not _is_manned(each, shifts, clock)
    }
    broken |= _away(pencilled, spans, taken, clock)
    broken |= _twice_in_a_day(pencilled, spans)
    broken |= _without_bay(spans, busy.get(BAY, ()), bays)
    done = {line for each in settled for line in each.lines}
    broken |= {each.key for each in pencilled if done & set(each.lines)}
    return frozenset(each for each in pencilled if each.key in broken)


def _is_manned(visit: BayVisit, shifts: Mapping[int, Sequence[Shift]], clock: WallClock) -> bool:
    """Whether whoever does it is there for every hand of it."""
    for stretch in visit.stretches:
        if stretch.kind is not StretchKind.HANDS_ON:
            continue
        at, until = clock.minute(stretch.begins_at), clock.minute(stretch.ends_at)
        # Shifts that follow one another are one to who works on.
        for shift in sorted(shifts.get(at // DAY_MIN, ()), key=lambda one: one.starts_at):
            if shift.starts_at <= at < shift.ends_at and (not visit.mechanic or visit.mechanic in shift.people):
                at = min(shift.ends_at, until)
        if at < until:
            return False
    return True


def _away(
    visits: Sequence[BayVisit], spans: Mapping[tuple[str, int], Span], taken: Iterable[Taken], clock: WallClock
) -> set[tuple[str, int]]:
    """Those whose vehicle is spoken for meanwhile, or has an inked visit on the same day."""
    own: dict[str, list[Span]] = {}
    marks = {each.mark for each in visits}
    for each in taken:
        if each.who in marks:
            span = (clock.minute(each.begins_at), clock.minute(each.ends_at))
            own.setdefault(each.who, []).append(span if each.visit is None else _whole_days(span))
    return {
        each.key
        for each in visits
        if any(a < spans[each.key][1] and spans[each.key][0] < b for a, b in own.get(each.mark, ()))
    }


def _twice_in_a_day(visits: Sequence[BayVisit], spans: Mapping[tuple[str, int], Span]) -> set[tuple[str, int]]:
    last: dict[str, tuple[tuple[str, int], Span]] = {}
    found = set()
    for each in sorted(visits, key=lambda one: (one.mark, spans[one.key], one.key)):
        days = _whole_days(spans[each.key])
        before = last.get(each.mark)
        if before is not None and days[0] < before[1][1]:
            found |= {before[0], each.key}
        last[each.mark] = (each.key, days)
    return found


def _without_bay(spans: Mapping[tuple[str, int], Span], held: Sequence[Span], bays: int) -> set[tuple[str, int]]:
    """Pencilled visits that are there at a moment at which more want a bay than there are."""
    all_of_them: list[tuple[Span, tuple[str, int] | None]] = [(span, key) for key, span in spans.items()]
    all_of_them += [(span, None) for span in held]
    found: set[tuple[str, int]] = set()
    there: list[tuple[Span, tuple[str, int] | None]] = []
    for span, key in sorted(all_of_them, key=lambda one: (one[0], one[1] or ("", 0))):
        there = [each for each in there if each[0][1] > span[0]]
        there.append((span, key))
        if len(there) > bays:
            found |= {name for _, name in there if name is not None}
    return found


def _whole_days(span: Span) -> Span:
    return span[0] // DAY_MIN * DAY_MIN, -(-span[1] // DAY_MIN) * DAY_MIN
