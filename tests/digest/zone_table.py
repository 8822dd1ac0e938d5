"""Every zone, nine times of day, twenty-one years: python -m tests.digest.zone_table

Each local day must have exactly one moment: at it and not before, the latest day is that day, and the moments of two
days are in their order. Where clocks do not change within a day of it, the moment is plain arithmetic; near a change it
is found a second way, by walking the instants of the zone minute by minute.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

from fleetcare.digest.moments import first_moment, latest_day

TIMES = tuple(time(*at) for at in ((0, 0), (0, 30), (1, 30), (1, 45), (2, 15), (2, 30), (3, 0), (7, 0), (23, 59)))
FIRST, LAST = date(2020, 1, 1), date(2040, 12, 31)
DAY = timedelta(days=1)
MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Fault:
    """A day that has none, or more than one, or another moment than it should have."""

    zone: str
    at: time
    day: date
    what: str


def offset_s(zone: ZoneInfo, now: datetime) -> int:
    """Seconds that clocks there are ahead of UTC."""
    offset = now.astimezone(zone).utcoffset()
    assert offset is not None
    return int(offset.total_seconds())


def changes(zone: ZoneInfo, first: date = FIRST, last: date = LAST) -> tuple[datetime, ...]:
    """The instants at which clocks there change, to the minute; found by halving days."""
    found = []
    now, end = datetime.combine(first - 3 * DAY, time(), UTC), datetime.combine(last + 3 * DAY, time(), UTC)
    step = DAY
    before = offset_s(zone, now)
    while now < end:
        after = offset_s(zone, now + step)
        if after != before:
            low, high = now, now + step
            while high - low > MINUTE:
                middle = low + ((high - low) // 2 // MINUTE) * MINUTE
                low, high = (middle, high) if offset_s(zone, middle) == before else (low, middle)
            found.append(high)
        now, before = now + step, after
    return tuple(found)


def by_walking(day: date, at: time, zone: ZoneInfo) -> datetime:
    """The first minute at which clocks in `zone` show that time of that day, or anything later."""
    wanted = datetime.combine(day, at)
    as_utc = wanted.replace(tzinfo=UTC)
    # No clock there is further ahead of UTC in these days, so none shows it any earlier.
    now = as_utc - timedelta(seconds=max(offset_s(zone, as_utc + n * timedelta(hours=6)) for n in range(-8, 9)))
    while now.astimezone(zone).replace(tzinfo=None) < wanted:
        now += MINUTE
    return now


def days() -> Iterator[date]:
    """Every day there is."""
    day = FIRST
    while day <= LAST:
        yield day
        day += DAY


def faults_in(
    name: str,
    at: time,
    near: frozenset[date],
    *,
    whole: bool,
    law: Callable[[date, time, ZoneInfo], datetime] = first_moment,
) -> list[Fault]:
    """What is wrong in one zone for one time. near: days around clock changes. whole: every day, not these alone.

    law: says the moment of a day.
    """
    zone = ZoneInfo(name)
    faults: list[Fault] = []
    previous: datetime | None = None
    for day in days() if whole else sorted(near):
        moment = law(day, at, zone)
        if day in near:
            wanted = by_walking(day, at, zone)
        else:
            shown = datetime.combine(day, at, UTC)
            wanted = shown - timedelta(seconds=offset_s(zone, shown))
        if moment != wanted:
            faults.append(Fault(name, at, day, f"its moment is {moment}, not {wanted}"))
        if latest_day(at, zone, moment) != day:
            faults.append(Fault(name, at, day, "it is not its own at its moment"))
        if latest_day(at, zone, moment - timedelta(seconds=1)) != day - DAY:
            faults.append(Fault(name, at, day, "a second before it is not the day before"))
        if whole and previous is not None and not timedelta(hours=20) < moment - previous < timedelta(hours=28):
            faults.append(Fault(name, at, day, "it lies elsewhere than a day after the day before"))
        previous = moment
    return faults


def near_changes(instants: tuple[datetime, ...]) -> frozenset[date]:
    """The days within two of these instants."""
    return frozenset(day for now in instants for n in range(-2, 3) if FIRST <= (day := now.date() + n * DAY) <= LAST)


def main() -> int:
    """Every zone, day by day."""
    faults: list[Fault] = []
    checked = 0
    zones = sorted(available_timezones())
    for number, name in enumerate(zones):
        near = near_changes(changes(ZoneInfo(name)))
        for at in TIMES:
            faults += faults_in(name, at, near, whole=True)
            checked += (LAST - FIRST).days + 1
        if number % 20 == 0:
            print(f"{number} of {len(zones)} zones, {len(faults)} faults", file=sys.stderr, flush=True)
    print(f"{len(zones)} zones, {len(TIMES)} times, {FIRST} to {LAST}: {checked} local days, {len(faults)} faults")
    for fault in faults[:20]:
        print(fault)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
