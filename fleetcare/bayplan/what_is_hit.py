"""Which vehicles a change hits, so that these alone are planned anew: what a plan was made with, held to what is now.

The notes keep days of the calendar, so a day that passes changes nothing in them; what lies in the past counts as
today on both sides, since what is overdue is due today on every day.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fleetcare.bayplan.open_shifts import Taken
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey

DRIFT_DAYS = 2
"""Dates that come of a forecast may drift so far from those that the vehicle was planned with before that is news. Two
days cost less than any move does, but for dates set by law, which do not drift. Judgement, no source."""
MOST_FOR_ROOM = 24
"""Where time has come free, so many vehicles with something that has no day are tried at most, the latest first."""


class Hit(StrEnum):
    """Why a vehicle is planned anew."""

    BROKEN = "a visit cannot be as it stands"
    DATES = "its services come due on other days"
    NO_DAY = "what comes due has no day"
    FREE = "it is free when it was not"
    ROOM = "there is room where there was none"
    UNKNOWN = "it is not known what it was planned with"


@dataclass(frozen=True, slots=True)
class LineNote:
    """One service as it was when its vehicle was planned. days: early, likely and late; None without a date.
    is_in_time: likely within the time that is planned. has_visit: in a visit ahead, pencilled or inked."""

    days: tuple[date, date, date] | None
    is_in_time: bool
    has_visit: bool

    @property
    def counts(self) -> bool:
        """Whether a plan looks at it."""
        return self.has_visit or (self.days is not None and self.is_in_time)


@dataclass(frozen=True, slots=True)
class VehicleNote:
    """One vehicle as it was when it was planned. away: when it is spoken for. broken: its pencilled visits that cannot
    be as they stand."""

    lines: Mapping[LineKey, LineNote]
    away: frozenset[Taken] = frozenset()
    broken: frozenset[BayVisit] = frozenset()


@dataclass(frozen=True, slots=True)
class PlanNotes:
    """What a plan was made with. vehicles: by mark. room: times of people and of the bay that are taken, visits of any
    kind among them."""

    vehicles: Mapping[str, VehicleNote]
    room: frozenset[Taken] = frozenset()

    @property
    def planned(self) -> int:
        """How many vehicles a plan looks at."""
        return sum(any(line.counts for line in note.lines.values()) for note in self.vehicles.values())

    def without(self, marks: Collection[str]) -> PlanNotes:
        """The same as if nothing were known of these vehicles."""
        return PlanNotes({mark: note for mark, note in self.vehicles.items() if mark not in marks}, self.room)

    def with_vehicles(self, marks: Iterable[str], news: PlanNotes) -> PlanNotes:
        """The same with these vehicles as they are in the newer notes, and its room; vehicles that are gone there are
        forgotten."""
        kept = {mark: note for mark, note in self.vehicles.items() if mark in news.vehicles}
        return PlanNotes(kept | {mark: news.vehicles[mark] for mark in marks if mark in news.vehicles}, news.room)

    def knowing(self, marks: Iterable[str], older: PlanNotes) -> PlanNotes:
        """The same with these vehicles as they were in other notes."""
        told = {mark: older.vehicles[mark] for mark in marks if mark in older.vehicles}
        return PlanNotes({**self.vehicles, **told}, self.room)


def hit_by(was: PlanNotes, now: PlanNotes, *, at: datetime, today: date) -> dict[str, Hit]:
    """The vehicles that what changed between two notes hits, by mark, each with the first reason in the order of
    `Hit`. at: this instant, UTC; what is over by then is no change."""
    found: dict[str, Hit] = {}
    for mark, note in sorted(now.vehicles.items()):
        known = was.vehicles.get(mark)
        if known is None:
            if any(line.counts for line in note.lines.values()):
                found[mark] = Hit.UNKNOWN
            continue
        why = _why(known, note, at, today)
        if why is not None:
            found[mark] = why
    if any(each.ends_at > at for each in was.room - now.room):
        for mark in _waiting_for_room(now, found):
            found[mark] = Hit.ROOM
    return dict(sorted(found.items()))


def hit_at_first(now: PlanNotes) -> dict[str, Hit]:
    """What is to be planned anew where nothing is known of what the plan was made with, and a whole search would take
    too long: what cannot be, and what has no day."""
    broken = {mark: Hit.BROKEN for mark, note in sorted(now.vehicles.items()) if note.broken}
    return dict(sorted((broken | dict.fromkeys(_waiting_for_room(now, broken), Hit.NO_DAY)).items()))


def _waiting_for_room(now: PlanNotes, found: Mapping[str, Hit]) -> list[str]:
    """Marks of other vehicles with something that comes due in time and has no day, the latest first."""
    late = []
    for mark, note in now.vehicles.items():
        days = [line.days[2] for line in note.lines.values() if line.counts and not line.has_visit and line.days]
        if days and mark not in found:
            late.append((min(days), mark))
    return [mark for _, mark in sorted(late)[:MOST_FOR_ROOM]]


def _why(was: VehicleNote, now: VehicleNote, at: datetime, today: date) -> Hit | None:
    if now.broken - was.broken:
        return Hit.BROKEN
    news = {
        _news(was.lines.get(line, _NEVER), now.lines.get(line, _NEVER), today)
        for line in was.lines.keys() | now.lines.keys()
    }
    for why in (Hit.DATES, Hit.NO_DAY):
        if why in news:
            return why
    if any(each.ends_at > at for each in was.away - now.away) and any(line.counts for line in now.lines.values()):
        return Hit.FREE
    return None


_NEVER = LineNote(None, is_in_time=False, has_visit=False)


def _news(was: LineNote, now: LineNote, today: date) -> Hit | None:
    if not now.counts:
        # Out of every visit and not due in this time: nobody plans it. Done or rubbed out, that leaves the rest alone.
        return None
    if not now.has_visit and (was.has_visit or not was.counts):
        return Hit.NO_DAY
    if now.days is None or was.days is None:
        # A person may pencil what has no date; what had one and lost it, or got one, is news.
        return None if now.days == was.days or was == _NEVER else Hit.DATES
    is_fixed = now.days[0] == now.days[2] and was.days[0] == was.days[2]
    slack = 0 if is_fixed else DRIFT_DAYS
    apart = (abs((max(new, today) - max(old, today)).days) for old, new in zip(was.days, now.days, strict=True))
    return Hit.DATES if any(days > slack for days in apart) else None
