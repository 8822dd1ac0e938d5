"""Visits that keep their day in a new plan keep their minutes too, if those are free."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from fleetcare.fleet.bay_visit import BayVisit, StretchKind


def with_minutes_kept(
    visits: Sequence[BayVisit],
    before: Collection[BayVisit],
    *,
    beside: Collection[BayVisit],
    bays: int,
    zone: ZoneInfo,
) -> tuple[BayVisit, ...]:
    """The visits of a new plan, by begin; those that do the same on the same day as before, at the time they had.

    A plan hangs on shifts, so its minutes may come out another way without anybody being the better for it. before: as
    they stood. beside: other visits, which stand.
    """
    old = {each.key: each for each in before}
    found = {each.key: each for each in visits}
    for visit in sorted(visits, key=lambda one: (one.begins_at, one.key)):
        was = old.get(visit.key)
        if was is None or was.begins_at == visit.begins_at or set(was.lines) != set(visit.lines):
            continue
        if was.begins_at.astimezone(zone).date() != visit.begins_at.astimezone(zone).date():
            continue
        others = [each for each in (*found.values(), *beside) if each.key != was.key and each.overlaps(was)]
        if _has_room(was, others, bays):
            found[visit.key] = replace(was, reason=visit.reason)
    return tuple(sorted(found.values(), key=lambda one: (one.begins_at, one.key)))


def _has_room(visit: BayVisit, others: Sequence[BayVisit], bays: int) -> bool:
    if any(_share_hands(visit, each) for each in others):
        return False
    # At a moment at which most are there, one of them has just come.
    moments = [max(each.begins_at, visit.begins_at) for each in others]
    return all(sum(each.begins_at <= at < each.free_at for each in others) < bays for at in moments)


def _share_hands(one: BayVisit, other: BayVisit) -> bool:
    if one.mechanic and other.mechanic and one.mechanic != other.mechanic:
        return False
    return any(
        a.begins_at < b.ends_at and b.begins_at < a.ends_at
        for a in one.stretches
        for b in other.stretches
        if a.kind is StretchKind.HANDS_ON and b.kind is StretchKind.HANDS_ON
    )
