"""Which entries a calendar should hold on one day, and on which days they stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby
from urllib.parse import quote

from fleetcare.calendar_feed import words
from fleetcare.calendar_feed.calm import Shown, shown_lines
from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.rules import FeedRules
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.due.outlook import LineOutlook, VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.feed_choice import FeedAlarm, FeedChoice, Topic, WindowDate
from fleetcare.fleet.people import Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import tr_book
from fleetcare.quantities import DateSpan, DistanceUnit, months_after
from fleetcare.work.record import WorkDone


@dataclass(frozen=True, slots=True)
class Form:
    """What entries depend on beside the facts. Readers of one form share them to the byte.

    quiet_weekday: no alarm rings on it (0 Monday), because the garage letter tells the same that day.
    plain: nothing that somebody typed freely (titles of bookings, findings), for calendars that many can see.
    """

    unit: DistanceUnit = DistanceUnit.KM
    topics: tuple[Topic, ...] = tuple(Topic)
    dates: tuple[WindowDate, ...] = (WindowDate.LIKELY,)
    alarms: tuple[FeedAlarm, ...] = ()
    quiet_weekday: int | None = None
    plain: bool = False
    hands: str = ""
    """Key of the reader, if visits to the bay count on their hands; such visits take their time."""
    language: str = ""
    """Code of the language its words are in; empty: the garage's own."""

    @property
    def name(self) -> str:
        """The form in one line, to notice that it is another one."""
        alarms = [f"{alarm.days_before}d{alarm.at}" for alarm in self.alarms]
        quiet = "" if self.quiet_weekday is None or not self.alarms else str(self.quiet_weekday)
        parts = (self.unit, ",".join(self.topics), ",".join(self.dates), ",".join(alarms), quiet, str(self.plain))
        more = (self.hands, *((f"in {self.language}",) if self.language else ()))
        return "|".join((*parts, *more) if any(more) else parts)


def form_of(person: Person, choice: FeedChoice) -> Form:
    """What a person's choices come to."""
    quiet = person.letter_weekday if choice.alarms and person.mail else None
    return Form(person.unit, choice.topics, choice.dates, choice.alarms, quiet, language=person.language)


GARAGE_TOPICS = (Topic.DUE, Topic.BAY_DAYS, Topic.STANDING, Topic.SPOKEN_FOR, Topic.LAID_UP)
"""What the garage's own calendar holds: vehicles and their dates, and nothing of people."""


def vehicle_entries(
    outlook: VehicleOutlook,
    name: str,
    form: Form,
    *,
    work: Sequence[WorkDone],
    shown: Mapping[LineKey, Shown],
    today: date,
    rules: FeedRules,
) -> tuple[FeedEntry, ...]:
    """What one vehicle puts into every calendar of that form that shows it, by first day and seed.

    name: what it is called in titles. shown: what calendars say of each line that has a window (`shown_lines`).
    work: its findings that are to be looked at again and are not settled get an entry.

    A service stands on its likely date (early, late, if chosen) until its late date is over; from then on those entries
    are gone and another reaches from the late date to beyond today. It is stretched once a week, as are readings wanted
    and looks that are waited for. Entries lie within whole months, so that the edge moves once a month, and at most 400
    days back and 800 ahead. Nothing of a vehicle that left the fleet.
    """
    if is_gone(outlook.vehicle, today):
        return ()
    found: list[FeedEntry] = []
    if Topic.DUE in form.topics:
        found += _services(outlook, name, form, shown, today, rules)
    if Topic.READINGS in form.topics:
        found += _readings_wanted(outlook, name, today, rules)
    if Topic.LOOK_AGAIN in form.topics:
        found += _looks(outlook, name, form, work, today, rules)
    if Topic.LAID_UP in form.topics:
        found += _laid_up(outlook.vehicle, name)
    return told_apart(put_in_frame(found, today, rules))


def booking_entries(
    bookings: Iterable[Booking],
    vehicles: Sequence[Vehicle],
    names: Mapping[str, str],
    form: Form,
    *,
    today: date,
    rules: FeedRules,
) -> tuple[FeedEntry, ...]:
    """Spells in which some of these vehicles are spoken for, shown with these vehicles and no others."""
    if Topic.SPOKEN_FOR not in form.topics:
        return ()
    there = {vehicle.mark: vehicle for vehicle in vehicles if not is_gone(vehicle, today)}
    found = []
    for booking in bookings:
        marks = [mark for mark in dict.fromkeys(booking.marks) if mark in there]
        if not marks or not booking.days.overlaps(shown_frame(today, rules)):
            continue
        said = replace(booking, title="", duty="", distance=None) if form.plain else booking
        found.append(
            FeedEntry(
                seed=seed_of("booking", booking.key),
                kind=EntryKind.BOOKING,
                title=words.booking_title(said, marks, names),
                days=booking.days,
                text=words.booking_text(said, [there[mark] for mark in marks], form.unit),
                path=page_of(marks[0]) if len(marks) == 1 else "/",
            )
        )
    return told_apart(put_in_frame(found, today, rules))


def busy_entries(
    vehicle: Vehicle, name: str, bookings: Iterable[Booking], *, today: date, rules: FeedRules
) -> tuple[FeedEntry, ...]:
    """When one vehicle is taken: its bookings and the spells in which it is laid up, and not why.

    Each spell is one entry that takes the reader's day; together they cover the days it is taken, and no others.
    """
    spells = [(seed_of("busy", booking.key), booking.days) for booking in bookings if vehicle.mark in booking.marks]
    spells += [(seed_of("busy-laid-up", vehicle.mark, span.first.isoformat()), span) for span in vehicle.laid_up]
    found = [
        FeedEntry(seed, EntryKind.BUSY, words.busy_title(name), days, path=page_of(vehicle.mark), blocks=True)
        for seed, days in spells
        if not is_gone(vehicle, today)
    ]
    return told_apart(put_in_frame(found, today, rules))


def nothing_due(outlooks: Sequence[VehicleOutlook], form: Form, *, today: date, rules: FeedRules) -> FeedEntry:
    """What stands in a calendar that would be empty; a calendar has at least one component (RFC 5545 3.6)."""
    present = [outlook for outlook in outlooks if not is_gone(outlook.vehicle, today)]
    undated = (
        sum(line.window is None for outlook in present for line in outlook.lines) if Topic.DUE in form.topics else 0
    )
    end = shown_frame(today, rules).end
    return _marker(
        words.nothing_due_title(undated, end, len(present)), words.nothing_due_text(undated, len(present)), today
    )


def never_taken(title: str, *, today: date) -> FeedEntry:
    """What stands in the calendar of a vehicle or the bay that is not taken on any day shown."""
    return _marker(title, "", today)


def _marker(title: str, text: str, today: date) -> FeedEntry:
    day = today.replace(day=1)
    return FeedEntry(
        seed_of("nothing-due"), EntryKind.NOTHING_DUE, title, DateSpan.of_days(day, day), text=text, path="/"
    )


def feed_entries(
    person: Person,
    *,
    outlooks: Sequence[VehicleOutlook],
    bookings: Sequence[Booking],
    work: Sequence[WorkDone],
    today: date,
    choice: FeedChoice | None = None,
    shown: Mapping[LineKey, Shown] | None = None,
    rules: FeedRules | None = None,
) -> tuple[FeedEntry, ...]:
    """What a person's calendar should show on one day, by first day and seed; at least one entry. Without bay days.

    outlooks: the vehicles that concern this person, and no others: bookings are shown with these vehicles only, and
    those without any of them not at all, nor is work on other vehicles.
    shown: what calendars say of the lines; as reckoned if None.
    """
    rules = rules or FeedRules()
    form = form_of(person, choice or FeedChoice())
    if shown is None:
        shown = shown_lines({}, outlooks, today=today, rules=rules)
    vehicles = [outlook.vehicle for outlook in outlooks]
    names = words.names_in_titles([vehicle for vehicle in vehicles if not is_gone(vehicle, today)])
    found = [
        entry
        for outlook in outlooks
        for entry in vehicle_entries(
            outlook,
            names.get(outlook.vehicle.mark, ""),
            form,
            work=[done for done in work if done.line.mark == outlook.vehicle.mark],
            shown=shown,
            today=today,
            rules=rules,
        )
    ]
    found += booking_entries(bookings, vehicles, names, form, today=today, rules=rules)
    return in_order(found) or (nothing_due(outlooks, form, today=today, rules=rules),)


def shown_frame(today: date, rules: FeedRules) -> DateSpan:
    """The days a feed may show: whole months, as shipped at most 396 days back and 792 ahead."""
    this_month = today.replace(day=1)
    return DateSpan(months_after(this_month, -rules.months_back), months_after(this_month, rules.months_ahead))


def stretched_days(first: date, today: date, rules: FeedRules) -> DateSpan:
    """The first day alone until it is over; then to two to eight days beyond today, longer once a week, as shipped."""
    if today <= first:
        return DateSpan.of_days(first, first)
    times = (today - first).days // rules.stretch_days + 1
    return DateSpan(first, first + timedelta(days=times * rules.stretch_days + rules.slack_days))


_DATED: dict[WindowDate, tuple[str, EntryKind]] = {
    WindowDate.EARLY: ("early", EntryKind.OPENS),
    WindowDate.LIKELY: ("due", EntryKind.DUE),
    WindowDate.LATE: ("late-date", EntryKind.LATE_DATE),
}


def _services(
    outlook: VehicleOutlook,
    name: str,
    form: Form,
    shown: Mapping[LineKey, Shown],
    today: date,
    rules: FeedRules,
) -> Iterator[FeedEntry]:
    services = words.services_in_titles(outlook)
    for line in outlook.lines:
        said = shown.get(line.key)
        if line.window is None or said is None:
            continue
        window = said.window
        service = services[line.key.component, line.key.service]
        if window.is_past_late(today):
            title = words.past_late_title(name, service, window.cause)
            days = stretched_days(window.late, today, rules)
            yield _service(outlook, line, form, said, ("late", EntryKind.PAST_LATE), title, days)
            continue
        for which in form.dates:
            day = {WindowDate.EARLY: window.early, WindowDate.LIKELY: window.likely, WindowDate.LATE: window.late}[
                which
            ]
            title = words.due_title(name, service, window.cause, which)
            entry = _service(outlook, line, form, said, _DATED[which], title, DateSpan.of_days(day, day))
            yield replace(entry, alarms=_alarms_for(day, form))


def _service(
    outlook: VehicleOutlook,
    line: LineOutlook,
    form: Form,
    said: Shown,
    what: tuple[str, EntryKind],
    title: str,
    days: DateSpan,
) -> FeedEntry:
    seed, kind = what
    return FeedEntry(
        seed=seed_of(seed, *line.key),
        kind=kind,
        title=title,
        days=days,
        text=words.line_text(outlook, line, form.unit, said),
        path=page_of(outlook.vehicle.mark),
        window=said.window,
        mark=outlook.vehicle.mark,
    )


def _alarms_for(day: date, form: Form) -> tuple[FeedAlarm, ...]:
    """The alarms of an entry on that day; one that would ring on the day of the letter rings a day earlier."""
    rings: dict[tuple[int, timedelta], FeedAlarm] = {}
    for alarm in form.alarms:
        before = alarm.days_before
        if form.quiet_weekday is not None and (day - timedelta(days=before)).weekday() == form.quiet_weekday:
            before += 1
        rings.setdefault(
            (before, alarm.at), replace(alarm, days_before=before) if before != alarm.days_before else alarm
        )
    return tuple(rings[key] for key in sorted(rings))


def _readings_wanted(outlook: VehicleOutlook, name: str, today: date, rules: FeedRules) -> Iterator[FeedEntry]:
    if (wanted := outlook.wanted) is not None:
        yield FeedEntry(
            seed=seed_of("reading", outlook.vehicle.mark, wanted.meter),
            kind=EntryKind.READING,
            title=words.reading_title(name, outlook.vehicle, wanted.meter),
            days=stretched_days(wanted.since, today, rules),
            text=words.reading_text(wanted.last_on, on=wanted.since),
            path=page_of(outlook.vehicle.mark),
            mark=outlook.vehicle.mark,
        )


def _looks(
    outlook: VehicleOutlook, name: str, form: Form, work: Iterable[WorkDone], today: date, rules: FeedRules
) -> Iterator[FeedEntry]:
    shorts = {line.key: tr_book(line.row.short) for line in outlook.lines}
    in_order = sorted(work, key=lambda done: (done.line, done.on))
    for (line, on), records in groupby(in_order, key=lambda done: (done.line, done.on)):
        findings = (finding for done in records for finding in done.findings)
        for place, finding in enumerate(findings):
            if finding.look_again_on is None or finding.settled_on is not None:
                continue
            short = shorts.get(line, "")
            said = short if form.plain else finding.text.strip() or short
            yield FeedEntry(
                # The day of the work is what tells one record of a line from another. It is never recomputed, and it
                # survives an export and import, which the store's own numbers do not.
                seed=seed_of("look-again", *line, on.isoformat(), str(place)),
                kind=EntryKind.LOOK_AGAIN,
                title=words.look_again_title(name, said),
                days=stretched_days(finding.look_again_on, today, rules),
                text=words.look_again_text(outlook.vehicle, said, on),
                path=page_of(line.mark),
                mark=line.mark,
                alarms=_alarms_for(finding.look_again_on, form),
            )


def _laid_up(vehicle: Vehicle, name: str) -> Iterator[FeedEntry]:
    for span in vehicle.laid_up:
        yield FeedEntry(
            # Its first day is what tells one spell from another; a person gave it, and it is never recomputed.
            seed=seed_of("laid-up", vehicle.mark, span.first.isoformat()),
            kind=EntryKind.LAID_UP,
            title=words.laid_up_title(name),
            days=span,
            text=words.laid_up_text(vehicle, span),
            path=page_of(vehicle.mark),
            mark=vehicle.mark,
        )


def is_gone(vehicle: Vehicle, today: date) -> bool:
    """It left the fleet."""
    return vehicle.out_of_fleet_on is not None and vehicle.out_of_fleet_on <= today


def put_in_frame(entries: Iterable[FeedEntry], today: date, rules: FeedRules) -> tuple[FeedEntry, ...]:
    """Entries as far as they lie within the days that are shown, by first day and seed; times are not cut."""
    frame = shown_frame(today, rules)
    return in_order(
        replace(entry, days=DateSpan(max(entry.days.first, frame.first), min(entry.days.end, frame.end)))
        for entry in entries
        if entry.days.overlaps(frame)
    )


def in_order(entries: Iterable[FeedEntry]) -> tuple[FeedEntry, ...]:
    """By first day and seed."""
    return tuple(sorted(entries, key=lambda entry: (entry.days.first, entry.seed)))


def told_apart(entries: Sequence[FeedEntry]) -> tuple[FeedEntry, ...]:
    """No two entries with one title on one day: some programs take those for one and the same."""
    times: Counter[tuple[date, str]] = Counter()
    apart = []
    for entry in entries:
        times[entry.days.first, entry.title] += 1
        number = times[entry.days.first, entry.title]
        apart.append(entry if number == 1 else replace(entry, title=f"{one_line(entry.title, 94)} ({number})"))
    return tuple(apart)


def seed_of(*parts: str) -> str:
    """What an entry is about, as one text that no two things share."""
    return "/".join(quote(part, safe=" ", errors="replace") for part in parts)


def page_of(mark: str) -> str:
    """The path of a vehicle's page."""
    return f"/vehicles/{quote(mark, safe='', errors='replace')}"
