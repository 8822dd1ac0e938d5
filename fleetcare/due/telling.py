"""How a date came about, sentence by sentence, with figures that add up; in the unit of the vehicle."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date

from fleetcare.book.rows import AfterEvent, BookRow, IntervalRule, Limits, Mixing
from fleetcare.due.by_meter import AskedLimit
from fleetcare.due.counted_from import CountedFrom, Origin
from fleetcare.due.limit import LimitOutlook
from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.due.pace import TrackPace
from fleetcare.due.track import Track, km_by_duty
from fleetcare.fleet.duty import DutyCycle, DutySplit
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.quantities import DistanceUnit, PrintedDistance
from fleetcare.usage.priors import Priors
from fleetcare.wording import counted, day_words, distance_words, grouped, joined, meter_words, sentence, whole


def rule_words(rule: IntervalRule) -> str:
    """When the service is due, as the book has it: `every 50 000 mi or 60 months, under towing every 30 000 mi`."""
    parts = []
    if rule.first is not None and not rule.first.is_empty:
        parts.append(f"first after {_limits_words(rule.first)}")
    if not rule.repeat.is_empty:
        parts.append(f"every {_limits_words(rule.repeat)}")
    parts.extend(_after_words(after) for after in rule.after)
    if rule.mixing is Mixing.STRICT:
        parts.append("one severe use puts all of it on the severe figure")
    return "; ".join(parts) if parts else "no limit"


def row_sentences(row: BookRow) -> Iterator[str]:
    """The row with its source and status, and what this garage changed."""
    yield f"{row.title}: {rule_words(row.rule)}. Source: {row.source} ({row.status.value})."
    for change in row.overrides:
        reason = change.reason.rstrip(".")
        why = f": {reason}" if reason else ""
        yield f"This garage changed {change.field} from {change.was} to {change.now}{why}."


def since_sentence(since: CountedFrom, vehicle: Vehicle, today: date) -> str:
    """What the line is counted from."""
    on = day_words(since.on, today)
    if since.origin is Origin.WORK:
        work = since.work
        if work is not None and work.at is not None:
            unit = work.unit or vehicle.unit
            return f"Counted from the work of {on}, when the dial showed {meter_words(work.at, unit)}."
        at = f", reckoned at {distance_words(since.km.value, vehicle.unit)}" if since.km else ""
        return f"Counted from the work of {on}{at}."
    if since.origin is Origin.NEW:
        at = f" and {distance_words(since.km.value, vehicle.unit)}" if since.km else ""
        return f"Counted from new: {on}{at}."
    if since.look_is_due:
        return f"Nobody knows when it was last done; it was set up here on {on}, and a look comes first."
    return f"Nobody knows when it was last done; counted from {on}, the day it was set up here."


def basis_words(vehicle: Vehicle, track: Track | None, today: date, priors: Priors) -> str:
    """What the pace rests on: `from 24 readings since 3 April 2024; not yet fitted to this garage`."""
    fitted = "" if priors.fitted else "; not yet fitted to this garage"
    yearly = distance_words(vehicle.yearly_km, vehicle.unit) if vehicle.yearly_km else ""
    if track is None:
        if vehicle.odometer is None:
            return "by date alone"
        return f"no reading yet; {f'the {yearly} a year that was named' if yearly else 'fleet average only'}{fitted}"
    if track.from_bookings:
        past = sum(1 for trip in track.trips if trip.ordinal <= today.toordinal())
        return f"no meter; from {counted(past, 'booking')} that named a distance{fitted}"
    readings = track.checked.readings if track.checked else ()
    since = _dated(readings[0].on)
    start = f" and the in-service date {_dated(date.fromordinal(int(track.ordinals[0])))}" if track.anchored else ""
    if len(readings) == 1:
        rest = start or (f" and the {yearly} a year that was named" if yearly else "; fleet average only")
        return f"from one reading on {since}{rest}{fitted}"
    return f"from {grouped(len(readings))} readings since {since}{start}{fitted}"


def pace_sentence(pace: TrackPace, unit: DistanceUnit, basis: str) -> str:
    """The pace of everyday use with what it rests on."""
    rate = pace.everyday_per_day
    shown = f"{grouped(rate)} h" if pace.track.is_hours else distance_in(rate, unit)
    named = pace.track.trips and not pace.track.from_bookings
    return f"Pace: {shown} a running day{' without declared trips' if named else ''}, {basis}."


def limit_sentences(
    asked: AskedLimit,
    outlook: LimitOutlook,
    unit: DistanceUnit,
    mix: DutySplit,
    today: date,
    *,
    what: str,
    about: str = "",
) -> Iterator[str]:
    """Wear by reading, what is left, trips ahead and the days of a limit on a meter."""
    track = asked.pace.track

    def amount(value: float) -> str:
        return f"{whole(value)} h" if track.is_hours else distance_words(value, unit)

    by_duty = km_by_duty(asked.spans)
    last = day_words(date.fromordinal(track.last_ordinal), today)
    total = sum(by_duty.values())
    head = f"{about}{what if about else sentence(what)} since then up to {last}: {amount(total)}"
    if total > 0:
        per = asked.limit.wear_per_km(by_duty, severe_in_force=asked.severe)
        if len(set(per.values())) == 1 or track.is_hours:
            rate = next(iter(per.values()))
            over = f"over {amount(1 / rate)}" if rate > 0 else "which adds no wear"
            yield f"{head}, {over}: {outlook_share(asked.used)} used up by reading."
        else:
            terms = [
                f"{amount(km)} {duty} {f'over {amount(1 / per[duty])}' if per[duty] > 0 else 'without wear'}"
                for duty, km in by_duty.items()
            ]
            yield f"{head}; {joined(terms)}: {outlook_share(asked.used)} used up by reading."
    else:
        yield f"{head}: {outlook_share(max(0.0, asked.used))} used up by reading."
    if asked.severe:
        yield f"A severe use ({joined(sorted(asked.severe))}) puts all of it on the severe figure."
    if asked.passed is not None:
        yield f"The limit was reached by reading, about {day_words(_date(outlook.likely), today)}."
        return
    if asked.used < 0:
        yield f"It counts from {amount(asked.since.value)}, which lies past the last reading."
    if asked.per_unit > 0:
        shares = joined([f"{round(100 * share)} % {duty}" for duty, share in mix.shares])
        at_mix = f" at the mix ahead ({shares})" if asked.limit.lives_km else ""
        left = amount(max(0.0, asked.left))
        if asked.used < 0:
            yield f"From the last reading on that is {left}{at_mix}."
        else:
            yield f"Left: {outlook_share(1.0 - asked.used)}, which is {left}{at_mix}."
    else:
        yield f"The dial has not moved since long before {last}, or nothing ahead wears it: no end in sight by use."
    if not track.is_hours:
        trips = [trip for trip in track.trips_ahead() if trip.ordinal <= outlook.late]
        if trips:
            named = [
                f"{trip.title or 'a trip'}, {distance_words(trip.km, unit)} by {_day(trip.ordinal, today)}"
                for trip in trips[:4]
            ]
            more = f" and {len(trips) - 4} more" if len(trips) > 4 else ""
            yield f"Booked before that: {joined(named)}{more}."
    if math.isfinite(outlook.likely) and outlook.likely < date.max.toordinal():
        now = f"{outlook_share(outlook.q_now)} used up today by reckoning"
        yield f"By {what} it is reached {_three(outlook, today)}; {now}."


def window_sentence(window: DueWindow, count: int, today: date) -> str:
    """The window, and which limit decides if there are several."""
    comes = {
        Cause.DISTANCE: "Distance comes",
        Cause.HOURS: "Hours come",
        Cause.DATE: "The date comes",
        Cause.EVENT: "The event comes",
        Cause.UNKNOWN_HISTORY: "The look comes",
    }[window.cause]
    first = f"{comes} first; each of the three dates is the earliest that any limit names. " if count > 1 else ""
    days = [day_words(day, today) for day in (window.early, window.likely, window.late)]
    return f"{first}Early {days[0]}, likely {days[1]}, late {days[2]}."


def outlook_share(share: float) -> str:
    """A wear share for a chain of figures: one decimal of a per cent, so that what was used and what is left add up."""
    return f"{grouped(round(100 * share, 1))} %"


def distance_in(km: float, unit: DistanceUnit) -> str:
    """A small distance with one decimal: `29.4 mi`."""
    return f"{grouped(km / (1.609344 if unit is DistanceUnit.MI else 1.0))} {unit}"


def titles(split: DutySplit, duties: Mapping[str, DutyCycle]) -> DutySplit:
    """The same shares under the duties' titles."""
    return DutySplit(tuple((duties[d].title if d in duties else d, share) for d, share in split.shares))


def _three(outlook: LimitOutlook, today: date) -> str:
    named = []
    for word, day in (("early", outlook.early), ("likely", outlook.likely), ("late", outlook.late)):
        known = day < date(2200, 1, 1).toordinal()
        named.append(f"{word} {day_words(_date(day), today) if known else 'not before the year 2200'}")
    return ", ".join(named)


def _day(ordinal: float, today: date) -> str:
    return day_words(_date(ordinal), today)


def _date(ordinal: float) -> date:
    return date.fromordinal(max(1, math.floor(ordinal + 0.5)))


def _dated(day: date) -> str:
    # What a pace rests on is told with its year, whatever year it is.
    return day_words(day, date(9999 if day.year != 9999 else 1, 1, 1))


def _limits_words(limits: Limits) -> str:
    parts = []
    if limits.distance:
        parts.append(_printed(limits.distance))
    if limits.months:
        parts.append(counted(limits.months, "month"))
    if limits.weeks:
        parts.append(counted(limits.weeks, "week"))
    if limits.hours:
        parts.append(f"{grouped(limits.hours)} h")
    duties = [
        f"under {figure.duty} {_printed(figure.distance) if figure.distance else 'no wear'}"
        + (f" (not with {joined(figure.waived_by, 'or')})" if figure.waived_by else "")
        for figure in limits.by_duty
    ]
    head = joined(parts, "or")
    return ", ".join([*([head] if head else []), *duties])


def _printed(distance: PrintedDistance) -> str:
    other = distance.mi if distance.primary is DistanceUnit.KM else distance.km
    unit = "mi" if distance.primary is DistanceUnit.KM else "km"
    pair = f" (printed beside it: {grouped(other)} {unit})" if other is not None else ""
    figure = distance.figure
    return f"{grouped(figure) if figure is not None else ''} {distance.primary}{pair}"


def _after_words(after: AfterEvent) -> str:
    limits = []
    if after.distance:
        limits.append(_printed(after.distance))
    if after.days:
        limits.append(counted(after.days, "day"))
    if after.hours:
        limits.append(f"{grouped(after.hours)} h")
    return f"within {joined(limits, 'or')} after {after.event}" if limits else f"at once after {after.event}"
