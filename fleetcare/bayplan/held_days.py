"""Days on which people are there and the bay is not free, and what holds it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from fleetcare.bayplan.open_shifts import BAY, Span, Taken, WallClock, open_shifts
from fleetcare.bayplan.problem import Shift
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
    begins = first - timedelta(days=first.weekday())
    clock = WallClock(begins, zone)
    busy = clock.spells(spells)

    def days_with(busy: Mapping[str, Sequence[Span]]) -> dict[int, list[Shift]]:
        found: dict[int, list[Shift]] = {}
        for shift in open_shifts(
            hours,
            mechanics=mechanics,
            busy=busy,
            bays=prices.bays,
            share=prices.shift_share,
            begins=begins,
            today=first - timedelta(days=1),
            days=(last - begins).days + 1,
            closed=closed,
        ):
            found.setdefault(shift.day, []).append(shift)
        return found

    if BAY not in busy:
        return {}
    open_now = days_with(busy)
    found = {}
    for day, shifts in days_with({who: spans for who, spans in busy.items() if who != BAY}).items():
        if day in open_now:
            continue
        holders = [
            each
            for each in spells
            if each.who == BAY
            and any(
                clock.minute(each.begins_at) < shift.ends_at and shift.starts_at < clock.minute(each.ends_at)
                for shift in shifts
            )
        ]
        found[begins + timedelta(days=day)] = tuple(dict.fromkeys(_holder(each, names) for each in holders))
    return found


def _holder(taken: Taken, names: Mapping[str, str]) -> BayHolder:
    if taken.visit is None:
        return BayHolder()
    mark, number = taken.visit
    return BayHolder(mark, number, names.get(mark, mark))
