"""The open hours of a garage as shifts, cut to the minute where every bay is taken or nobody is free all through."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from fleetcare.bayplan.problem import DAY_MIN, Shift
from fleetcare.bayplan.workshop import OpenHours

BAY = "bay"
SHORTEST_MIN = 30
"""Of open hours that are cut, a rest shorter than this is no shift: fetching and cleaning alone take as long.
Judgement, no source."""

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Taken:
    """A time in which somebody or something is not free. who: key of a person, mark of a vehicle, or `bay`. visit: the
    inked visit that takes it, mark and number; None for bookings and calendars."""

    who: str
    begins_at: datetime
    ends_at: datetime
    visit: tuple[str, int] | None = None


class WallClock:
    """Between instants and minutes of the garage's own clock since a Monday."""

    def __init__(self, begins: date, zone: ZoneInfo) -> None:
        self._origin = datetime.combine(begins, time())
        self._zone = zone

    def minute(self, at: datetime) -> int:
        """The minute the clock on the wall shows."""
        local = at.astimezone(self._zone).replace(tzinfo=None)
        return int((local - self._origin) // timedelta(minutes=1))

    def instant(self, minute: int) -> datetime:
        """The first instant at which it shows that, UTC."""
        return (self._origin + timedelta(minutes=minute)).replace(tzinfo=self._zone).astimezone(UTC)

    def spells(self, taken: Iterable[Taken]) -> dict[str, list[Span]]:
        """What is taken, in minutes, by who is not free."""
        found: dict[str, list[Span]] = {}
        for each in taken:
            found.setdefault(each.who, []).append((self.minute(each.begins_at), self.minute(each.ends_at)))
        return found


def open_shifts(
    hours: Sequence[OpenHours],
    *,
    mechanics: Collection[str],
    busy: Mapping[str, Sequence[Span]],
    bays: int,
    share: float,
    begins: date,
    today: date,
    days: int,
    closed: Collection[date] = (),
) -> list[Shift]:
    """The shifts from tomorrow on. busy: minutes since `begins`, a Monday, of people by key and of the bay.

    Only a share of each is planned for, from its begin; so there is some time left before whatever cuts it. People who
    are not free for all of it are left out where somebody else is; where nobody is, each has a shift of their own for
    the rest.
    """
    found = []
    for day in range((today - begins).days + 1, days):
        on = begins + timedelta(days=day)
        if on in closed:
            continue
        for place, each in enumerate(hours):
            if on.weekday() not in each.weekdays:
                continue
            whole = (day * DAY_MIN + each.start, day * DAY_MIN + each.end)
            people = [name for name in sorted(mechanics) if not each.people or name in each.people]
            pieces = [
                piece for free in free_spans(whole, busy.get(BAY, ()), bays) for piece in _staffed(free, people, busy)
            ]
            for at, (span, names) in enumerate(pieces):
                if span != whole and span[1] - span[0] < SHORTEST_MIN:
                    continue
                start, length = span[0] - day * DAY_MIN, span[1] - span[0]
                name = f"{day}-{place}" if span == whole else f"{day}-{place}-{at}"
                end = start + int(length * share)
                found.append(Shift(name, BAY, day, start, end, names, each.premium_cents_per_min))
    return found


def free_spans(span: Span, spells: Iterable[Span], at_once: int) -> list[Span]:
    """The parts of a span in which fewer than so many of the spells go on at once, in order, none touching another."""
    begins, ends = span
    met = [(max(a, begins), min(b, ends)) for a, b in spells if a < ends and begins < b and a < b]
    marks = sorted({begins, ends, *(at for spell in met for at in spell)})
    found: list[Span] = []
    for low, high in pairwise(marks):
        if sum(a <= low < b for a, b in met) >= at_once:
            continue
        if found and found[-1][1] == low:
            found[-1] = (found[-1][0], high)
        else:
            found.append((low, high))
    return found


def full_spans(spells: Sequence[Span], at_once: int) -> list[Span]:
    """The times in which so many of the spells go on at once, or more, in order."""
    if not spells:
        return []
    whole = (min(a for a, _ in spells), max(b for _, b in spells))
    free = free_spans(whole, spells, at_once)
    edges = [whole[0], *(at for span in free for at in span), whole[1]]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]


def _staffed(
    span: Span, people: Sequence[str], busy: Mapping[str, Sequence[Span]]
) -> list[tuple[Span, tuple[str, ...]]]:
    """The span with who is free throughout it; if nobody is, its parts with who is free in each."""
    free = {name: free_spans(span, busy.get(name, ()), 1) for name in people}
    throughout = tuple(name for name in people if free[name] == [span])
    if throughout:
        return [(span, throughout)]
    parts = sorted({part for name in people for part in free[name]})
    return [(part, tuple(name for name in people if part in free[name])) for part in parts]
