"""From what is left of a limit to its likely day: trips taken off, running days at the pace, those on the calendar."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from fleetcare.due.asking import Stage
from fleetcare.due.by_meter import AskedLimit
from fleetcare.due.facts import Trip
from fleetcare.due.limit import LAST_DAY, LimitOutlook
from fleetcare.due.outlook import Figure, Step
from fleetcare.due.pace import PACE_DAYS
from fleetcare.due.telling import amount_unit, amount_words, day_of, outlook_share, per_day_words
from fleetcare.due.track import Track
from fleetcare.due.vehicle_state import laid_up_days
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr, tr_count
from fleetcare.language.measure import told_in
from fleetcare.wording import counted, day_words, grouped, joined

_NEAR = 1e-3
_SAME_DAY = 0.05
_TRIPS_NAMED = 4


@dataclass(frozen=True, slots=True)
class _Way:
    """How the limit is reached on the likely course: after so many trips, at so much everyday use a running day.

    everyday: km or hours left for everyday use, with the trips taken off. per_day: what the law gives over that
    stretch.
    """

    stage: Stage
    trips: tuple[Trip, ...]
    trips_wear: float
    everyday: float
    per_day: float
    running: float
    since: float
    """Running days by which the stage is open and its trips are done."""

    @property
    def by_trip(self) -> bool:
        """True if it is reached on the last day of a trip, not by everyday use before or after."""
        return self.since > 0 and abs(self.running - self.since) < _SAME_DAY


def _way(asked: AskedLimit, outlook: LimitOutlook) -> _Way | None:
    """The stage and the trips by which the limit is reached on the likely day."""
    track = asked.pace.track
    running = track.running_since_last(outlook.likely)
    trips_ahead = track.trips_ahead()
    best: tuple[float, _Way] | None = None
    for stage in asked.stages:
        if stage.from_day > running + _NEAR:
            continue
        done = [(day, wear) for day, wear in stage.trips if day <= running + _NEAR]
        trips_wear = sum(wear for _, wear in done)
        # The last of them, because those before the line's own beginning are not asked about.
        ahead = trips_ahead[len(trips_ahead) - len(stage.trips) :][: len(done)] if stage.trips else ()
        gain = asked.pace.gain(running) / math.sqrt(1.0 + stage.uncertainty) if running > 0 else 0.0
        everyday = (stage.left - trips_wear) / stage.per_unit if stage.per_unit > 0 else 0.0
        covered = gain * stage.per_unit + trips_wear - stage.left
        per_day = gain / running if running > 0 else 0.0
        since = max([stage.from_day, *(day for day, _ in done)])
        way = _Way(stage, tuple(ahead), trips_wear, everyday, per_day, running, since)
        if best is None or covered > best[0]:
            best = covered, way
    return best[1] if best else None


def ahead_steps(asked: AskedLimit, outlook: LimitOutlook, vehicle: Vehicle, today: date) -> Iterator[Step]:
    """From what is left to the likely day: trips taken off, running days at the pace, and those on the calendar."""
    if not math.isfinite(outlook.likely) or outlook.likely >= LAST_DAY.toordinal():
        return
    way = _way(asked, outlook)
    if way is None or asked.left <= 0:
        return
    track, unit = asked.pace.track, told_in(vehicle.unit)
    if way.stage is not asked.stages[0] and way.stage.left != asked.stages[0].left:
        left = f"{grouped(round(100.0 * way.stage.left, 1))} %"
        told = tr(
            "A booked trip is a severe use; then all of it counts by the severe figure, which leaves {left}.", left=left
        )
        wear = Figure("wear", way.stage.per_unit, f"share a {amount_unit(track)}")
        yield Step(told, "severe ahead", (Figure("left", way.stage.left, "share"), wear))
    if way.trips:
        yield _trips_step(way, vehicle, today)
    if way.by_trip or way.stage.per_unit <= 0:
        title = way.trips[-1].title if way.trips else ""
        on = day_words(day_of(outlook.likely), today)
        told = tr("It is reached with {trip}, by {day}.", trip=title or tr("a booked trip"), day=on)
        yield Step(told, "reached by trip", _calendar_figures(track, outlook))
        return
    left = amount_words(max(0.0, way.everyday), unit, is_hours=track.is_hours)
    pace = per_day_words(way.per_day, unit, is_hours=track.is_hours)
    few = grouped(way.running) if way.running < 20 else grouped(round(way.running))
    stretch = tr(" over so long") if abs(way.running - PACE_DAYS) > 1 else ""
    told = tr(
        "{left} at {pace} a running day{stretch} is about {few} running days; {calendar}",
        left=left,
        pace=pace,
        stretch=stretch,
        few=few,
        calendar=_calendar_words(track, outlook, vehicle, today),
    )
    figures = (
        Figure("left for everyday use", way.everyday + 0.0, amount_unit(track)),  # nought has no sign in words
        Figure("pace over so long", way.per_day, f"{amount_unit(track)} a running day"),
        Figure("running days", way.running, "day"),
        *_calendar_figures(track, outlook),
    )
    yield Step(told, "ahead", figures)


def _trips_step(way: _Way, vehicle: Vehicle, today: date) -> Step:
    unit = told_in(vehicle.unit)
    named = [
        tr(
            "{trip}, {distance} by {day}",
            trip=trip.title or tr("a trip"),
            distance=amount_words(trip.km, unit),
            day=day_words(day_of(trip.ordinal), today),
        )
        for trip in way.trips[:_TRIPS_NAMED]
    ]
    more = tr(" and {number} more", number=len(way.trips) - _TRIPS_NAMED) if len(way.trips) > _TRIPS_NAMED else ""
    left = ""
    if way.stage.per_unit > 0 and not way.by_trip:
        rest = amount_words(max(0.0, way.everyday), unit)
        left = tr(", which leaves {distance} for everyday use", distance=rest)
    told = tr_count(
        "Booked before that: {trips}; it uses {share}{left}.",
        "Booked before that: {trips}; they use {share}{left}.",
        len(way.trips),
        trips=f"{joined(named)}{more}",
        share=outlook_share(way.trips_wear),
        left=left,
    )
    figures = (
        Figure("trips", len(way.trips), "count"),
        Figure("trips in all", sum(trip.km for trip in way.trips), "km"),
        Figure("used by trips", way.trips_wear, "share"),
    )
    return Step(told, "trips", figures)


def _calendar_words(track: Track, outlook: LimitOutlook, vehicle: Vehicle, today: date) -> str:
    """`from 31 March on they end on 3 June, 64 days on the calendar, 20 of them laid up`."""
    whole = day_of(outlook.likely).toordinal() - track.last_ordinal
    still = round(laid_up_days(vehicle, track.last_ordinal, outlook.likely))
    last, likely = day_words(day_of(track.last_ordinal), today), day_words(day_of(outlook.likely), today)
    told = tr(
        "from {last} on they end on {likely}, {days} on the calendar",
        last=last,
        likely=likely,
        days=counted(whole, "day"),
    )
    if still:
        told += tr(", {days} of them laid up", days=grouped(still))
    counts = round(track.running_since_last(outlook.likely))
    if counts != whole - still:
        told += (
            tr("; the season counts the other {days} as {counts}", days=grouped(whole - still), counts=grouped(counts))
            if still
            else tr("; the season counts these {days} as {counts}", days=grouped(whole), counts=grouped(counts))
        )
    return f"{told}."


def _calendar_figures(track: Track, outlook: LimitOutlook) -> tuple[Figure, ...]:
    whole = outlook.likely - track.last_ordinal
    return (
        Figure("counted from", day_of(track.last_ordinal)),
        Figure("calendar days", whole, "day"),
        Figure("likely", day_of(outlook.likely)),
    )
