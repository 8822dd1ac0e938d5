"""What the lines of a component have behind them on a day: what it takes with it to another vehicle."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from fleetcare.book.rows import IntervalBook
from fleetcare.due.counted_from import CountedFrom, counted_from, lines_of
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.pace import Amount, TrackPace, paces_of
from fleetcare.due.past_days import as_known_on
from fleetcare.due.track import distance_track, hours_track, mix_of
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.duty import DutySplit
from fleetcare.usage.priors import Priors
from fleetcare.wear.distance_limit import UsedSpan
from fleetcare.work.moves import Carried, begun_there


def carried_on(
    facts: VehicleFacts, component: Component, on: date, *, book: IntervalBook, priors: Priors, today: date
) -> tuple[Carried, ...]:
    """What each line of the component has behind it at the start of that day, in order of their services.

    The amounts are those of the vehicle's own meters, as measured and reckoned today; how the distance divides over
    duties goes along.
    """
    tracks = [distance_track(facts, priors, today), hours_track(facts, priors, today)]
    there = [track for track in tracks if track is not None]
    paces = iter(paces_of(there, priors, [() for _ in there]).of)
    distance, hours = (next(paces) if track is not None else None for track in tracks)
    mix = mix_of(tracks[0], facts.vehicle.usual_split, priors).split
    known = as_known_on(facts, on)
    begun = begun_there(facts.vehicle.mark, component.key, facts.moves)
    found = []
    for row, start in lines_of(facts.vehicle, component, book):
        key = LineKey(facts.vehicle.mark, component.key, row.key)
        work = sorted(
            (w for w in known.work if w.line == key and (begun is None or w.on >= begun)),
            key=lambda record: (record.on, record.id or 0),
        )
        since = counted_from(known, component, row, start, work, distance=distance, hours=hours, today=on)
        found.append(
            Carried(
                service=row.key,
                done_on=min(since.on, on),
                km_by_duty=_by_duty(since, distance, on, facts.vehicle.usual_split, mix),
                hours=_hours(since, hours, on),
                is_first=since.is_first,
                known=not since.look_is_due,
            )
        )
    return tuple(sorted(found, key=lambda each: each.service))


def _by_duty(
    since: CountedFrom, pace: TrackPace | None, on: date, usual: DutySplit, mix: DutySplit
) -> tuple[tuple[str, float], ...] | None:
    """Km under each duty up to that day; None if the meter says nothing.

    Where there is no meter at all, on the shelf or a trailer, nothing is gained, and what came along stays.
    """
    total: defaultdict[str, float] = defaultdict(float)
    if pace is not None and since.km is not None:
        gained = _gained(pace, since.km, on)
        spans = [span for _, span in pace.track.spans_since(since.km.value, usual)]
        for duty, share in (_split_of(spans) or mix).shares:
            total[duty] += gained * share
    elif pace is not None or not since.km_before:
        return None
    for span in since.km_before:
        for duty, share in span.split.shares:
            total[duty] += span.km * share
    return tuple((duty, km) for duty, km in sorted(total.items()) if km > 0) or ((mix.shares[0][0], 0.0),)


def _hours(since: CountedFrom, pace: TrackPace | None, on: date) -> float | None:
    before = sum(span.km for span in since.hours_before)
    if pace is not None and since.hours is not None:
        return _gained(pace, since.hours, on) + before
    return before if pace is None and before else None


def _gained(pace: TrackPace, since: Amount, on: date) -> float:
    return max(0.0, pace.amount_on(on.toordinal()).value - since.value)


def _split_of(spans: Sequence[UsedSpan]) -> DutySplit | None:
    parts: defaultdict[str, float] = defaultdict(float)
    for span in spans:
        for duty, share in span.split.shares:
            parts[duty] += span.km * share
    return DutySplit.from_parts(parts) if sum(parts.values()) > 0 else None


def moved_component(component: Component, key: str, on: date) -> Component:
    """The component as it stands on the other vehicle."""
    return replace(component, key=key, fitted_on=on)
