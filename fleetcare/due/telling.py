"""How a date came about, sentence by sentence, with figures that add up; in the reader's unit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date

from fleetcare.book.changed_fields import field_words, value_words
from fleetcare.book.printed_pairs import doubts_of
from fleetcare.book.rows import AfterEvent, BookRow, IntervalRule, Limits, Mixing
from fleetcare.due.counted_from import CountedFrom, Origin
from fleetcare.due.limit import LimitOutlook
from fleetcare.due.outlook import Cause, DueWindow, StoodStill
from fleetcare.due.track import Track
from fleetcare.due.vehicle_state import has_open_end, spell_on
from fleetcare.fleet.component import Component
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import in_force, tr, tr_book
from fleetcare.language.measure import told_in
from fleetcare.meter.reading import Reading
from fleetcare.quantities import DateSpan, DistanceUnit, MeterUnit, PrintedDistance, km_to
from fleetcare.usage.priors import Priors
from fleetcare.wear.distance_limit import waives
from fleetcare.wording import (
    count_words,
    counted,
    day_words,
    distance_words,
    grouped,
    joined,
    reading_words,
    sentence,
    whole,
)

_TWO_DECIMALS_BELOW = 10.0


def rule_words(rule: IntervalRule) -> str:
    """When the service is due, as the book has it: `every 50 000 mi or 60 months, under towing every 30 000 mi`."""
    parts = []
    if rule.first is not None and not rule.first.is_empty:
        parts.append(tr("first after {limits}", limits=_limits_words(rule.first)))
    if not rule.repeat.is_empty:
        parts.append(tr("every {limits}", limits=_limits_words(rule.repeat)))
    parts.extend(_after_words(after) for after in rule.after)
    if rule.mixing is Mixing.STRICT:
        parts.append(tr("one severe use puts all of it on the severe figure"))
    return "; ".join(parts) if parts else tr("no limit")


def row_sentences(row: BookRow) -> Iterator[str]:
    """The row with its source and status, and what this garage changed."""
    yield tr(
        "{row}: {rule}. Row {key}. Source: {source} ({status}).",
        row=tr_book(row.title),
        rule=rule_words(row.rule),
        key=row.key,
        source=tr_book(row.source),
        status=tr(row.status.value),
    )
    yield from (tr("A printed pair in it is no pair: {doubt}", doubt=doubt) for doubt in doubts_of(row))
    for change in row.overrides:
        reason = change.reason.rstrip(".")
        why = f": {reason}" if reason else ""
        yield tr(
            "This garage changed {field} from {was} to {now}{why}.",
            field=field_words(change.field),
            was=value_words(change.was),
            now=value_words(change.now),
            why=why,
        )


def tag_sentences(row: BookRow, component: Component) -> Iterator[str]:
    """What the component's tag changes: a waiver by its fluid, a shorter interval by its friction modifier."""
    limits = [each for each in (row.rule.first, row.rule.repeat) if each is not None]
    duties = sorted({f.duty for each in limits for f in each.by_duty if waives(f, component.fluid_grade)})
    if duties:
        yield tr(
            "With {fluid_grade} in it, {duties} counts by the plain interval.",
            fluid_grade=component.fluid_grade,
            duties=joined([tr_book(duty) for duty in duties]),
        )
    if any(each.with_modifier for each in limits) and tag_of(component).has_modifier:
        yield tr(
            "Its fluid has a friction modifier, which wears out sooner than the fluid, so the shorter interval holds."
        )


def since_sentence(since: CountedFrom, vehicle: Vehicle, today: date) -> str:
    """What the line is counted from."""
    if since.told:
        return since.told
    on = day_words(since.on, today)
    if since.origin is Origin.WORK:
        work = since.work
        if work is not None and work.at is not None:
            unit = work.unit or vehicle.unit
            return tr(
                "Counted from the work of {on}, when the dial showed {reading}.",
                on=on,
                reading=reading_words(work.at, unit),
            )
        at = tr(", reckoned at {distance}", distance=_km_words(since.km.value, vehicle)) if since.km else ""
        return tr("Counted from the work of {on}{at}.", on=on, at=at)
    if since.origin is Origin.NEW:
        at = tr(" and {distance}", distance=_km_words(since.km.value, vehicle)) if since.km else ""
        return tr("Counted from new: {on}{at}.", on=on, at=at)
    if since.look_is_due:
        return tr("Nobody knows when it was last done; it was set up here on {on}, and a look comes first.", on=on)
    return tr("Nobody knows when it was last done; counted from {on}, the day it was set up here.", on=on)


def _km_words(km: float, vehicle: Vehicle) -> str:
    return distance_words(km, told_in(vehicle.unit))


def basis_words(vehicle: Vehicle, track: Track | None, today: date, priors: Priors) -> str:
    """What the pace rests on: `from 24 readings since 3 April 2024; not yet fitted to this garage`."""
    unfitted = "" if priors.fitted else tr("not yet fitted to this garage")
    fitted = f"; {priors.fitted_words or unfitted}" if priors.fitted_words or unfitted else ""
    yearly = distance_words(vehicle.yearly_km, told_in(vehicle.unit)) if vehicle.yearly_km else ""
    if track is None:
        if vehicle.odometer is None:
            return tr("by date alone")
        return tr(
            "no reading yet; {value}{fitted}",
            value=tr("the {yearly} a year that was named", yearly=yearly) if yearly else tr("fleet average only"),
            fitted=fitted,
        )
    if track.from_bookings:
        past = sum(1 for trip in track.trips if trip.ordinal <= today.toordinal())
        return tr(
            "no meter; from {bookings} that named a distance{fitted}",
            bookings=counted(past, "booking", "bookings"),
            fitted=fitted,
        )
    readings = track.checked.readings if track.checked else ()
    since = dated_words(readings[0].on)
    start = (
        tr(" and the in-service date {dated}", dated=dated_words(date.fromordinal(int(track.ordinals[0]))))
        if track.anchored
        else ""
    )
    if len(readings) == 1:
        rest = start or (
            tr(" and the {yearly} a year that was named", yearly=yearly) if yearly else tr("; fleet average only")
        )
        return tr("from one reading on {since}{rest}{fitted}", since=since, rest=rest, fitted=fitted)
    return tr(
        "from {readings} readings since {since}{start}{fitted}",
        readings=grouped(len(readings)),
        since=since,
        start=start,
        fitted=fitted,
    )


def window_sentence(window: DueWindow, count: int, today: date) -> str:
    """The window, and which limit decides if there are several."""
    comes = {
        Cause.DISTANCE: tr("Distance comes"),
        Cause.HOURS: tr("Hours come"),
        Cause.DATE: tr("The date comes"),
        Cause.EVENT: tr("The event comes"),
        Cause.UNKNOWN_HISTORY: tr("The look comes"),
    }[window.cause]
    first = (
        tr("{comes} first; each of the three dates is the earliest that any limit names. ", comes=comes)
        if count > 1
        else ""
    )
    days = [day_words(day, today) for day in (window.early, window.likely, window.late)]
    return tr(
        "{first}Early {days}, likely {days2}, late {days3}.", first=first, days=days[0], days2=days[1], days3=days[2]
    )


def clock_question(vehicle: Vehicle, standing: StoodStill | None, moved: Reading | None, today: date) -> str:
    """What is asked of a vehicle that seems to stand, or that moved while it is laid up; empty if neither.

    Goes on where its name ends.
    """
    if standing is not None:
        count = sentence(count_words(standing.readings))
        return tr(
            "stands since {day}? {number} readings show {reading}. If it is laid up, say from when "
            "to when; then its dates wait.",
            day=day_words(standing.since, today),
            number=count,
            reading=reading_words(standing.value, standing.unit),
        )
    spell = spell_on(vehicle, today)
    if moved is None or spell is None:
        return ""
    return tr(
        "is laid up {spell}, yet it moved by {day}? If it runs again, let it out; until then its dates wait.",
        spell=spell_words(spell, today),
        day=day_words(moved.on, today),
    )


def spell_words(spell: DateSpan, today: date) -> str:
    """A spell in which a vehicle is laid up: `from 3 February to 28 March`, `from 3 February until further notice`."""
    until = tr("until further notice") if has_open_end(spell) else tr("to {day}", day=day_words(spell.last, today))
    return tr("from {day} {until}", day=day_words(spell.first, today), until=until)


def outlook_share(share: float) -> str:
    """A wear share for a chain of figures: one decimal of a per cent, so that what was used and what is left add up."""
    return f"{grouped(round(100 * share, 1))} %"


def amount_words(value: float, unit: DistanceUnit, *, is_hours: bool = False) -> str:
    """Km in the unit it is told in, or hours as they are, without decimals."""
    return f"{whole(value)} h" if is_hours else distance_words(value, unit)


def amount_unit(track: Track) -> str:
    """What figures of that meter are in: `km`, or `h`."""
    return MeterUnit.HOURS.value if track.is_hours else DistanceUnit.KM.value


def per_day_words(value: float, unit: DistanceUnit, *, is_hours: bool = False) -> str:
    """Km or hours a day, precise enough to reckon on with: `29.4 mi`, `1.27 h`."""
    figure = value if is_hours else km_to(value, unit)
    shown = grouped(figure) if figure >= _TWO_DECIMALS_BELOW else f"{figure:.2f}".replace(".", in_force().decimal)
    return f"{shown} {'h' if is_hours else unit}"


def whole_parts(parts: Sequence[float], unit: DistanceUnit = DistanceUnit.KM) -> list[int]:
    """Parts in km as whole numbers of the unit that add up to the whole as it is shown (largest remainders)."""
    exact = [km_to(part, unit) for part in parts]
    told = [math.floor(part) for part in exact]
    missing = math.floor(sum(exact) + 0.5) - sum(told)
    for index in sorted(range(len(exact)), key=lambda at: told[at] - exact[at])[:missing]:
        told[index] += 1
    return told


def three_words(outlook: LimitOutlook, today: date) -> str:
    """`early 22 April, likely 11 May, late 9 June`."""
    early, likely, late = (
        day_words(day_of(day), today) if day < date(2200, 1, 1).toordinal() else tr("not before the year 2200")
        for day in (outlook.early, outlook.likely, outlook.late)
    )
    return tr("early {early}, likely {likely}, late {late}", early=early, likely=likely, late=late)


def day_of(ordinal: float) -> date:
    """The day of an ordinal with fractions, rounded as the windows are."""
    return date.fromordinal(max(1, math.floor(float(ordinal) + 0.5)))


def dated_words(day: date) -> str:
    """A day with its year, whatever year it is: `3 April 2026`."""
    # What a pace rests on is told with its year, whatever year it is.
    return day_words(day, date(9999 if day.year != 9999 else 1, 1, 1))


def _limits_words(limits: Limits) -> str:
    parts = []
    if limits.distance:
        parts.append(_printed(limits.distance))
    if limits.months:
        parts.append(counted(limits.months, "month", "months"))
    if limits.weeks:
        parts.append(counted(limits.weeks, "week", "weeks"))
    if limits.hours:
        parts.append(f"{grouped(limits.hours)} h")
    duties = [
        tr(
            "under {duty} {printed}",
            duty=tr_book(figure.duty),
            printed=_printed(figure.distance) if figure.distance else tr("no wear"),
        )
        + (tr(" (not with {waived_by})", waived_by=joined(figure.waived_by, "or")) if figure.waived_by else "")
        for figure in limits.by_duty
    ]
    head = joined(parts, "or")
    shorter = (
        [tr("with a friction modifier {limits}", limits=_limits_words(limits.with_modifier))]
        if limits.with_modifier
        else []
    )
    return ", ".join([*([head] if head else []), *duties, *shorter])


def _printed(distance: PrintedDistance) -> str:
    other = distance.mi if distance.primary is DistanceUnit.KM else distance.km
    unit = "mi" if distance.primary is DistanceUnit.KM else "km"
    pair = tr(" (printed beside it: {other} {unit})", other=grouped(other), unit=unit) if other is not None else ""
    figure = distance.figure
    read = told_in(distance.primary)
    if other is None and read is not distance.primary:
        # What is reckoned with is what the book prints; who reads the other unit has it beside it.
        pair = f" ({distance_words(distance.in_km, read)})"
    return f"{grouped(figure) if figure is not None else ''} {distance.primary}{pair}"


def _after_words(after: AfterEvent) -> str:
    limits = []
    if after.distance:
        limits.append(_printed(after.distance))
    if after.days:
        limits.append(counted(after.days, "day", "days"))
    if after.hours:
        limits.append(f"{grouped(after.hours)} h")
    return (
        tr("within {limits} after {event}", limits=joined(limits, "or"), event=tr_book(after.event))
        if limits
        else tr("at once after {event}", event=tr_book(after.event))
    )
