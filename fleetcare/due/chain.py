"""The chain from readings to a date, step by step: sentences and figures that add up, in the reader's unit.

What was used and what is left make one; a distance is the sum of its duties; what is left, at the pace over that
stretch, is a number of running days; and those, laid over the calendar from the last reading on, end on the likely day.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date

from fleetcare.due.by_meter import AskedLimit
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.limit import LAST_DAY, LimitOutlook
from fleetcare.due.outlook import DueWindow, Figure, Step
from fleetcare.due.pace import TrackPace
from fleetcare.due.telling import (
    amount_unit,
    amount_words,
    dated_words,
    day_of,
    outlook_share,
    per_day_words,
    three_words,
    whole_parts,
    window_sentence,
)
from fleetcare.due.track import Track, km_by_duty
from fleetcare.due.vehicle_state import laid_up_days
from fleetcare.due.way_ahead import ahead_steps
from fleetcare.fleet.booking import CHANGED_HANDS
from fleetcare.fleet.duty import DutySplit
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import later, tr, tr_book, tr_count
from fleetcare.language.measure import told_in
from fleetcare.meter.reading import ReadingState
from fleetcare.quantities import DistanceUnit
from fleetcare.wording import counted, day_words, grouped, joined, reading_words, sentence

EVEN, FITFUL = 2 / 3, 3 / 2
"""Own dispersion below or above which a vehicle is called more even or more fitful than most. Its windows are then
narrower or wider by a fifth or so (the root), which is about the least that is worth a word. Common practice."""
_WHAT = {"distance": later("distance"), "hours": later("hours")}


def readings_step(facts: VehicleFacts, track: Track, today: date) -> Step:
    """What was read: how many, the first and the last, how many are kept aside, and what that gained in which days."""
    if track.from_bookings:
        past = [trip for trip in track.trips if trip.ordinal <= today.toordinal()]
        text = tr(
            "It has no meter; {bookings} that named a distance stand for one.",
            bookings=counted(len(past), "booking", "bookings"),
        )
        return Step(text, "readings", (Figure("bookings", len(past), "count"), *_span_figures(track)))
    checked = track.checked
    meter = track.meter
    assert checked is not None  # only bookings stand in for a meter
    assert meter is not None
    first, last = checked.readings[0], checked.readings[-1]
    aside = {r.identity for r in facts.readings if r.meter == meter.key and r.state is ReadingState.HELD}
    held = len(aside | {finding.reading.identity for finding in checked.findings})
    what = tr("hour meter") if track.is_hours else tr("odometer")
    shows = tr("{reading} on {day}", reading=reading_words(last.value, last.unit), day=day_words(last.on, today))
    used = counted(len(checked.readings), "reading", "readings")
    if len(checked.readings) == 1:
        told = tr("One reading of the {what} is used: {shows}", what=what, shows=shows)
    else:
        begin = tr("{reading} on {day}", reading=reading_words(first.value, first.unit), day=dated_words(first.on))
        told = tr(
            "{readings} of the {what} are used, from {begin} to {shows}",
            readings=used,
            what=what,
            begin=begin,
            shows=shows,
        )
    more = counted(held, "reading", "readings")
    aside_words = (
        tr_count("; {readings} more is kept aside", "; {readings} more are kept aside", held, readings=more)
        if held
        else ""
    )
    figures = (
        Figure("readings used", len(checked.readings), "count"),
        Figure("readings kept aside", held, "count"),
        Figure("first reading", float(first.value), first.unit.value),
        Figure("first read on", first.on),
        Figure("last reading", float(last.value), last.unit.value),
        Figure("last read on", last.on),
        *_span_figures(track),
    )
    return Step(f"{told}{aside_words}.{_gained_words(track, facts.vehicle)}", "readings", figures)


def pace_step(facts: VehicleFacts, pace: TrackPace, basis: str, today: date) -> Step:
    """The pace of everyday use, what it rests on, and how even it is."""
    track, unit = pace.track, told_in(facts.vehicle.unit)
    named = track.trips and not track.from_bookings
    shown = per_day_words(pace.everyday_per_day, unit, is_hours=track.is_hours)
    trips = tr(" without declared trips") if named else ""
    told = [
        tr("Pace: {pace} a running day over the next quarter{trips}, {basis}.", pace=shown, trips=trips, basis=basis)
    ]
    if pace.dispersion <= EVEN:
        told.append(tr("It runs more evenly than most, so its windows are narrower."))
    elif pace.dispersion >= FITFUL:
        told.append(tr("It runs more fitfully than most, so its windows are wider."))
    told.extend(_passed_over_words(track, today))
    hands = [
        event.on for event in facts.events if event.kind == CHANGED_HANDS and not event.component and event.on <= today
    ]
    if hands:
        told.append(tr("It changed hands on {day}: less is taken from before.", day=day_words(max(hands), today)))
    figures = (
        Figure("pace", pace.everyday_per_day, f"{amount_unit(track)} a running day"),
        Figure("dispersion", pace.dispersion, "of most"),
        *(Figure("changed hands on", day) for day in sorted(hands)[-1:]),
    )
    return Step(" ".join(told), "pace", figures)


def _passed_over_words(track: Track, today: date) -> Iterator[str]:
    """Spells in which it stood and nobody said so; once it runs again, they say nothing of its pace."""
    ends = [index for index in sorted(track.passed_over) if index + 1 not in track.passed_over]
    if not ends:
        return
    begin = ends[-1]
    while begin - 1 in track.passed_over:
        begin -= 1
    first, last = day_of(track.ordinals[begin]), day_of(track.ordinals[ends[-1] + 1])
    spells = counted(len(ends) - 1, "spell", "spells")
    before = tr(", and in {spells} before", spells=spells) if len(ends) > 1 else ""
    yield tr(
        "It stood from {first} to {last}{before}, which is passed over.",
        first=day_words(first, today),
        last=day_words(last, today),
        before=before,
    )


def limit_steps(
    asked: AskedLimit, outlook: LimitOutlook, vehicle: Vehicle, mix: DutySplit, today: date, *, what: str, about: str
) -> Iterator[Step]:
    """Used by reading, left, the days ahead, and the three dates of a limit on a meter."""
    yield _used_step(asked, told_in(vehicle.unit), today, what=what, about=about)
    if asked.severe:
        duties = joined([tr_book(duty) for duty in sorted(asked.severe)])
        yield Step(tr("A severe use ({duties}) puts all of it on the severe figure.", duties=duties))
    if asked.passed is not None:
        told = tr("The limit was reached by reading, about {day}.", day=day_words(day_of(outlook.likely), today))
        yield Step(told, "limit", (*_dates(outlook), Figure("used today", outlook.q_now, "share")))
        return
    yield _left_step(asked, told_in(vehicle.unit), mix, today)
    if asked.per_unit > 0 or asked.pace.track.trips_ahead():
        yield from ahead_steps(asked, outlook, vehicle, today)
    if math.isfinite(outlook.likely):
        now = outlook_share(outlook.q_now)
        figures = (*_dates(outlook), Figure("used today", outlook.q_now, "share"))
        if outlook.early < LAST_DAY.toordinal():
            told = tr(
                "By {what} it is reached {three}; {share} used up today by reckoning.",
                what=tr(_WHAT[what]),
                three=three_words(outlook, today),
                share=now,
            )
        else:
            told = tr(
                "By {what} it is not reached before the year 2200; {share} used up today by reckoning.",
                what=tr(_WHAT[what]),
                share=now,
            )
        yield Step(told, "limit", figures)


def dated_step(limit: LimitOutlook) -> Step:
    """A limit that is a bare day, as it was told when it was found."""
    return Step(" ".join(limit.told), "limit", _dates(limit))


def window_step(window: DueWindow, count: int, today: date) -> Step:
    """The three dates of all limits together."""
    figures = (Figure("early", window.early), Figure("likely", window.likely), Figure("late", window.late))
    return Step(window_sentence(window, count, today), "window", figures)


def _used_step(asked: AskedLimit, unit: DistanceUnit, today: date, *, what: str, about: str) -> Step:
    track = asked.pace.track
    by_duty = km_by_duty(asked.spans)
    total = sum(by_duty.values())
    last = day_words(day_of(track.last_ordinal), today)

    def amount(value: float) -> str:
        return amount_words(value, unit, is_hours=track.is_hours)

    named = tr(_WHAT[what])
    head = about + tr(
        "{what} since then up to {last}: {amount}",
        what=named if about else sentence(named),
        last=last,
        amount=amount(total),
    )
    used = outlook_share(max(0.0, asked.used))
    lives = asked.limit.wear_per_km(by_duty, severe_in_force=asked.severe)
    figures = [Figure("used in all", total, amount_unit(track)), Figure("used", asked.used, "share")]
    for duty, km in by_duty.items():
        figures.append(Figure(f"used under {duty}", km, amount_unit(track)))
        figures += [Figure(f"life under {duty}", 1 / lives[duty], amount_unit(track))] if lives[duty] > 0 else []
    if total <= 0:
        told = tr("{head}: {used} used up by reading.", head=head, used=used)
    elif len(set(lives.values())) == 1 or track.is_hours:
        rate = next(iter(lives.values()))
        told = (
            tr("{head}, over {life}: {used} used up by reading.", head=head, life=amount(1 / rate), used=used)
            if rate > 0
            else tr("{head}, which adds no wear: {used} used up by reading.", head=head, used=used)
        )
    else:
        parts = whole_parts(list(by_duty.values()), unit)
        terms = [
            tr(
                "{amount} {duty} over {life}",
                amount=f"{grouped(part)} {unit}",
                duty=tr_book(duty),
                life=amount(1 / lives[duty]),
            )
            if lives[duty] > 0
            else tr("{amount} {duty} without wear", amount=f"{grouped(part)} {unit}", duty=tr_book(duty))
            for duty, part in zip(by_duty, parts, strict=True)
        ]
        told = tr("{head}; {terms}: {used} used up by reading.", head=head, terms=joined(terms), used=used)
    return Step(told, "used", tuple(figures))


def _left_step(asked: AskedLimit, unit: DistanceUnit, mix: DutySplit, today: date) -> Step:
    """What is left at the last point, as a share and as an amount at the mix ahead."""
    track = asked.pace.track
    last = day_words(day_of(track.last_ordinal), today)
    if asked.per_unit <= 0:
        if any(stage.trips for stage in asked.stages):
            told = tr("Left: {share}; everyday use does not wear it.", share=_left_share(asked))
            return Step(told, "left", _left_figures(asked, mix))
        return Step(
            tr(
                "The dial has not moved since long before {last}, or nothing ahead wears it: no end in sight by use.",
                last=last,
            )
        )
    percents = _percents([share for _, share in mix.shares])
    shares = joined([f"{part} % {tr_book(duty)}" for part, (duty, _) in zip(percents, mix.shares, strict=True)])
    at_mix = tr(" at the mix ahead ({shares})", shares=shares) if asked.limit.lives_km else ""
    left = amount_words(max(0.0, asked.left), unit, is_hours=track.is_hours)
    if asked.used < 0:
        since = amount_words(asked.since.value, unit, is_hours=track.is_hours)
        told = tr(
            "It counts from {since}, which lies past the last reading; from that reading on it is {left}{at_mix}.",
            since=since,
            left=left,
            at_mix=at_mix,
        )
    else:
        told = tr("Left: {share}, which is {left}{at_mix}.", share=_left_share(asked), left=left, at_mix=at_mix)
    return Step(told, "left", _left_figures(asked, mix))


def _left_share(asked: AskedLimit) -> str:
    """One less the used share as it is shown, so that the two make 100 %."""
    return f"{grouped(round(100.0 - round(100.0 * max(0.0, asked.used), 1), 1))} %"


def _left_figures(asked: AskedLimit, mix: DutySplit) -> tuple[Figure, ...]:
    track = asked.pace.track
    figures = [Figure("left", 1.0 - asked.used, "share")]
    if asked.per_unit > 0:
        lives = asked.limit.wear_per_km([duty for duty, _ in mix.shares], severe_in_force=asked.severe)
        for duty, share in mix.shares if asked.limit.lives_km else ():
            figures.append(Figure(f"mix under {duty}", share, "share"))
            figures += [Figure(f"life under {duty}", 1 / lives[duty], amount_unit(track))] if lives[duty] > 0 else []
        figures.append(Figure("wear", asked.per_unit, f"share a {amount_unit(track)}"))
        figures.append(Figure("left in all", asked.left, amount_unit(track)))
    return tuple(figures)


def _span_figures(track: Track) -> tuple[Figure, ...]:
    """What the points gained from the first to the last, over which days."""
    return (
        Figure("gained", float(track.amounts[-1] - track.amounts[0]), amount_unit(track)),
        Figure("over", float(track.ordinals[-1] - track.ordinals[0]), "day"),
        Figure("over running days", float(sum(track.running)), "day"),
    )


def _gained_words(track: Track, vehicle: Vehicle) -> str:
    days = int(track.ordinals[-1] - track.ordinals[0])
    if days <= 0:
        return ""
    gained = amount_words(float(track.amounts[-1] - track.amounts[0]), told_in(vehicle.unit), is_hours=track.is_hours)
    still = round(laid_up_days(vehicle, int(track.ordinals[0]), track.last_ordinal))
    laid = tr(", {days} of them laid up", days=grouped(still)) if still else ""
    begin = dated_words(day_of(track.ordinals[0]))
    start = tr(", counted from its in-service date, {begin}", begin=begin) if track.anchored else ""
    return tr(
        " That is {gained} in {days}{laid}{start}.", gained=gained, days=counted(days, "day"), laid=laid, start=start
    )


def _dates(outlook: LimitOutlook) -> tuple[Figure, ...]:
    named = (("early", outlook.early), ("likely", outlook.likely), ("late", outlook.late))
    return tuple(Figure(name, day_of(day)) for name, day in named if day < LAST_DAY.toordinal())


def _percents(shares: Sequence[float]) -> list[int]:
    """Shares in whole per cent that add up to what all of them are."""
    return whole_parts([100.0 * share for share in shares])
