"""A garage's past replayed: the windows it would have been given, held against the days that came."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from fleetcare.book.rows import IntervalBook
from fleetcare.due.dial_days import DialDays
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.hit_rate import BANDS, KNOWN, HitRate, JudgedWindow, Outcome, band_of, hit_rate, known_of
from fleetcare.due.past_days import reading_days, seen_from
from fleetcare.due.past_windows import Kind, windows_given
from fleetcare.due.track import Track, distance_track, hours_track
from fleetcare.fleet.duty import DutyCycle
from fleetcare.language import later
from fleetcare.usage.priors import Priors

DAYS_AT_ONCE = 600
"""So many past days go through the forecast together: enough for arrays to pay, few enough to say how far it is."""

Tell = Callable[[int, int], None]
"""Is told how many past days are done, and of how many."""


@dataclass(frozen=True, slots=True)
class Group:
    """Windows that have something in common. name: what, in words, or the mark of a vehicle."""

    name: str
    rate: HitRate


@dataclass(frozen=True, slots=True)
class NotJudged:
    """A vehicle without a past window, and why."""

    mark: str
    why: str


@dataclass(frozen=True, slots=True)
class Backtest:
    """Every past window of a garage beside what happened, in the garage's order, then by the day it was given.

    days, of_days: past days looked from, and how many there were (more if only some were wanted). set_aside: windows
    left out because the reading they were given on is not used any more. fitted: the numbers of the forecast were
    learned from this very garage, so its past looks a little better than its future will.
    """

    today: date
    windows: tuple[JudgedWindow, ...]
    not_judged: tuple[NotJudged, ...]
    days: int
    of_days: int
    set_aside: int
    fitted: bool
    _counted: dict[tuple[str, Kind], tuple[Group, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    """Counts that were asked for, as a page asks for the same at every look."""

    def of(self, kind: Kind) -> tuple[JudgedWindow, ...]:
        """Those of one kind."""
        return tuple(each for each in self.windows if each.given.kind is kind)

    def rate(self, kind: Kind) -> HitRate:
        """The count of one kind."""
        (whole,) = self._once("whole", kind, lambda: (Group("", hit_rate(self.of(kind))),))
        return whole.rate

    def by_horizon(self, kind: Kind) -> tuple[Group, ...]:
        """Counts by how far ahead the likely date lay, the nearest first; only where there is one."""
        return self._once("horizon", kind, lambda: self._by_place(kind, band_of, [name for _, name in BANDS]))

    def by_readings(self, kind: Kind) -> tuple[Group, ...]:
        """Counts by how many readings were known, the fewest first; only where there is one."""
        return self._once("readings", kind, lambda: self._by_place(kind, known_of, [name for _, name in KNOWN]))

    def by_vehicle(self, kind: Kind) -> tuple[Group, ...]:
        """Counts by vehicle, in the garage's order; only where there is one."""
        return self._once("vehicle", kind, lambda: self._by_mark(kind))

    def _by_place(self, kind: Kind, place_of: Callable[[JudgedWindow], int], names: Sequence[str]) -> tuple[Group, ...]:
        placed: list[list[JudgedWindow]] = [[] for _ in names]
        for each in self.of(kind):
            placed[place_of(each)].append(each)
        return _groups(list(zip(names, placed, strict=True)))

    def _by_mark(self, kind: Kind) -> tuple[Group, ...]:
        by_mark: dict[str, list[JudgedWindow]] = {}
        for each in self.of(kind):
            by_mark.setdefault(each.given.mark, []).append(each)
        return _groups(list(by_mark.items()))

    def _once(self, what: str, kind: Kind, count: Callable[[], tuple[Group, ...]]) -> tuple[Group, ...]:
        found = self._counted.get((what, kind))
        if found is None:
            found = self._counted[what, kind] = count()
        return found

    def next_to_close(self, kind: Kind) -> date | None:
        """The late date that comes next of those still open; None if none is."""
        late = [each.given.late for each in self.of(kind) if each.outcome is Outcome.OPEN]
        return date.fromordinal(min(late)) if late else None


def backtest(
    fleet: Sequence[VehicleFacts],
    *,
    book: IntervalBook,
    duties: Mapping[str, DutyCycle],
    priors: Priors,
    today: date,
    at_most: int | None = None,
    tell: Tell | None = None,
) -> Backtest:
    """Looks back from past days of every vehicle; see `reading_days` and `windows_given` for what was known then.

    Readings after today are left out. What was declared ahead (bookings, lay-ups, in-service date, yearly distance) is
    taken as declared all along, for nobody wrote down when. at_most: so many past days and no more, spread evenly.
    """
    tracks = [_tracks(facts, priors, today) for facts in fleet]
    dials = {
        facts.vehicle.mark: DialDays(own, facts.vehicle.usual_split) for facts, own in zip(fleet, tracks, strict=True)
    }
    every = [(facts, day) for facts in fleet for day in reading_days(facts, today=today)]
    count = len(every) if at_most is None else min(at_most, len(every))
    wanted = [every[place * len(every) // count] for place in range(count)]
    judged: list[JudgedWindow] = []
    set_aside = 0
    for start in range(0, count, DAYS_AT_ONCE):
        days = [seen_from(facts, day) for facts, day in wanted[start : start + DAYS_AT_ONCE]]
        for given in windows_given(days, book=book, duties=duties, priors=priors):
            known = dials[given.mark]
            if known.still_stands(given):
                judged.append(JudgedWindow(given, known.real_day(given), known.known_until(given)))
            else:
                set_aside += 1
        if tell is not None:
            tell(start + len(days), count)
    seen = {each.given.mark for each in judged}
    return Backtest(
        today=today,
        windows=tuple(judged),
        not_judged=tuple(
            NotJudged(facts.vehicle.mark, _why_not(facts, own))
            for facts, own in zip(fleet, tracks, strict=True)
            if facts.vehicle.mark not in seen
        ),
        days=count,
        of_days=len(every),
        set_aside=set_aside,
        fitted=priors.fitted,
    )


def _tracks(facts: VehicleFacts, priors: Priors, today: date) -> dict[str, Track]:
    """The dials of a vehicle as they are known today, by key."""
    found = (distance_track(facts, priors, today), hours_track(facts, priors, today))
    return {track.meter.key: track for track in found if track is not None and track.meter is not None}


def _why_not(facts: VehicleFacts, tracks: Mapping[str, Track]) -> str:
    if not facts.vehicle.meters:
        return later("no meter")
    if not tracks:
        return later("no reading")
    return later("no window that could be judged")


def _groups(parts: Sequence[tuple[str, Sequence[JudgedWindow]]]) -> tuple[Group, ...]:
    return tuple(Group(name, hit_rate(windows)) for name, windows in parts if windows)
