"""Days on which people are there and the bay is not free, and what holds it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.garage_problem import BAY, Taken
from fleetcare.bayplan.workshop import OpenHours, WorkshopPrices


@dataclass(frozen=True, slots=True)
class BayHolder:
    """What holds the bay: an inked visit with the name of its vehicle; without them, the bay's own calendar."""

    mark: str = ""
    number: int = 0
    name: str = ""


def held_days(
    *,
    first: date,
    last: date,
    zone: ZoneInfo,
    prices: WorkshopPrices,
    hours: Sequence[OpenHours],
    mechanics: Collection[str],
    taken: Iterable[Taken],
    names: Mapping[str, str],
    closed: Collection[date] = (),
) -> dict[date, tuple[BayHolder, ...]]:
    """For each day from first to last on which somebody could work, if only a bay were free: what holds it, by begin.

    Days on which some open hours are left do not count. taken: as the problem is made with. names: of vehicles.
    """
    spells = sorted(taken, key=lambda each: (each.begins_at, each.ends_at, each.visit or ("", 0)))
    of_bay = [each for each in spells if each.who == BAY]
    found = {}
    for ahead in range((last - first).days + 1) if of_bay else ():
        on = first + timedelta(days=ahead)
        holders: list[Taken] = []
        is_open = False
        for each in hours:
            if on in closed or on.weekday() not in each.weekdays:
                continue
            begins = _instant(on, each.start, zone)
            ends = _instant(on, each.start + int((each.end - each.start) * prices.shift_share), zone)
            busy = {one.who for one in spells if one.who != BAY and one.begins_at < ends and begins < one.ends_at}
            if not any((not each.people or who in each.people) and who not in busy for who in mechanics):
                continue
            mine = [one for one in of_bay if one.begins_at < ends and begins < one.ends_at]
            is_open = is_open or len(mine) < prices.bays
            holders += [one for one in mine if one not in holders]
        if holders and not is_open:
            found[on] = tuple(dict.fromkeys(_holder(each, names) for each in holders))
    return found


def _holder(taken: Taken, names: Mapping[str, str]) -> BayHolder:
    if taken.visit is None:
        return BayHolder()
    mark, number = taken.visit
    return BayHolder(mark, number, names.get(mark, mark))


def _instant(on: date, minute: int, zone: ZoneInfo) -> datetime:
    return datetime.combine(on, time(), zone) + timedelta(minutes=minute)
