"""Which entries a person's feed should hold on one day, and on which days they stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby
from urllib.parse import quote

from fleetcare.calendar_feed.plain_text import one_line
from fleetcare.calendar_feed.values import EntryKind, FeedEntry
from fleetcare.calendar_feed.words import (
    booking_text,
    booking_title,
    due_title,
    line_text,
    look_again_text,
    look_again_title,
    names_in_titles,
    nothing_due_text,
    nothing_due_title,
    past_late_title,
    reading_text,
    reading_title,
    services_in_titles,
)
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.people import Person
from fleetcare.quantities import DateSpan, DistanceUnit, months_after
from fleetcare.work.record import WorkDone

MONTHS_BACK = 12
MONTHS_AHEAD = 25
STRETCH_DAYS = 7
SLACK_DAYS = 2
"""A bar reaches this much further than its week, since many calendars fetch once a day only."""


def feed_entries(
    person: Person,
    *,
    outlooks: Sequence[VehicleOutlook],
    bookings: Sequence[Booking],
    work: Sequence[WorkDone],
    today: date,
) -> tuple[FeedEntry, ...]:
    """What a person's calendar should show on one day, by first day and seed; at least one entry.

    outlooks: the vehicles that concern this person, and no others: bookings are shown with these vehicles only, and
    those without any of them not at all, nor is work on other vehicles.
    work: its findings that are to be looked at again and are not settled get an entry.

    A service stands on its likely date until its late date is over; from then on the entry of the likely date is gone
    and another reaches from the late date to beyond today. It is stretched once a week, as are readings wanted and
    looks that are waited for. Entries lie within whole months, from twelve back to twenty-five ahead, so that at most
    400 days back and 800 ahead are shown and the edge moves once a month.
    """
    present = tuple(outlook for outlook in outlooks if not _is_gone(outlook, today))
    names = names_in_titles([outlook.vehicle for outlook in present])
    found = [
        *_services(present, names, person.unit, today),
        *_readings_wanted(present, names, today),
        *_bookings(present, names, person.unit, bookings),
        *_looks(present, names, work, today),
    ]
    frame = shown_frame(today)
    shown = [replace(entry, days=days) for entry in found if (days := _within(entry.days, frame))]
    if not shown:
        return (_nothing_due(present, frame, today),)
    return _told_apart(sorted(shown, key=lambda entry: (entry.days.first, entry.seed)))


def shown_frame(today: date) -> DateSpan:
    """The days a feed may show: whole months, at most 396 days back and 792 ahead."""
    this_month = today.replace(day=1)
    return DateSpan(months_after(this_month, -MONTHS_BACK), months_after(this_month, MONTHS_AHEAD))


def stretched_days(first: date, today: date) -> DateSpan:
    """The first day alone until it is over; then up to beyond today, two to eight days ahead, longer once a week."""
    if today <= first:
        return DateSpan.of_days(first, first)
    weeks = (today - first).days // STRETCH_DAYS + 1
    return DateSpan(first, first + timedelta(days=weeks * STRETCH_DAYS + SLACK_DAYS))


def _services(
    outlooks: Sequence[VehicleOutlook], names: dict[str, str], unit: DistanceUnit, today: date
) -> Iterator[FeedEntry]:
    for outlook in outlooks:
        name = names[outlook.vehicle.mark]
        services = services_in_titles(outlook)
        for line in outlook.lines:
            if (window := line.window) is None:
                continue
            late = window.is_past_late(today)
            service = services[line.key.component, line.key.service]
            days = stretched_days(window.late, today) if late else DateSpan.of_days(window.likely, window.likely)
            title = past_late_title if late else due_title
            yield FeedEntry(
                seed=_seed("late" if late else "due", *line.key),
                kind=EntryKind.PAST_LATE if late else EntryKind.DUE,
                title=title(name, service, window.cause),
                days=days,
                text=line_text(outlook, line, unit),
                path=_page_of(outlook.vehicle.mark),
                window=window,
            )


def _readings_wanted(outlooks: Sequence[VehicleOutlook], names: dict[str, str], today: date) -> Iterator[FeedEntry]:
    for outlook in outlooks:
        if (wanted := outlook.wanted) is not None:
            yield FeedEntry(
                seed=_seed("reading", outlook.vehicle.mark, wanted.meter),
                kind=EntryKind.READING,
                title=reading_title(names[outlook.vehicle.mark], outlook.vehicle, wanted.meter),
                days=stretched_days(wanted.since, today),
                text=reading_text(wanted.last_on, on=wanted.since),
                path=_page_of(outlook.vehicle.mark),
            )


def _bookings(
    outlooks: Sequence[VehicleOutlook], names: dict[str, str], unit: DistanceUnit, bookings: Iterable[Booking]
) -> Iterator[FeedEntry]:
    vehicles = {outlook.vehicle.mark: outlook.vehicle for outlook in outlooks}
    for booking in bookings:
        marks = [mark for mark in dict.fromkeys(booking.marks) if mark in vehicles]
        if marks:
            yield FeedEntry(
                seed=_seed("booking", booking.key),
                kind=EntryKind.BOOKING,
                title=booking_title(booking, marks, names),
                days=booking.days,
                text=booking_text(booking, [vehicles[mark] for mark in marks], unit),
                path=_page_of(marks[0]) if len(marks) == 1 else "/",
            )


def _looks(
    outlooks: Sequence[VehicleOutlook], names: dict[str, str], work: Iterable[WorkDone], today: date
) -> Iterator[FeedEntry]:
    vehicles = {outlook.vehicle.mark: outlook.vehicle for outlook in outlooks}
    shorts = {line.key: line.row.short for outlook in outlooks for line in outlook.lines}
    on_shown = sorted((done for done in work if done.line.mark in names), key=lambda done: (done.line, done.on))
    for (line, on), records in groupby(on_shown, key=lambda done: (done.line, done.on)):
        findings = (finding for done in records for finding in done.findings)
        for place, finding in enumerate(findings):
            if finding.look_again_on is None or finding.settled_on is not None:
                continue
            said = finding.text.strip() or shorts.get(line, "")
            yield FeedEntry(
                # The day of the work is what tells one record of a line from another. It is never recomputed, and it
                # survives an export and import, which the store's own numbers do not.
                seed=_seed("look-again", *line, on.isoformat(), str(place)),
                kind=EntryKind.LOOK_AGAIN,
                title=look_again_title(names[line.mark], said),
                days=stretched_days(finding.look_again_on, today),
                text=look_again_text(vehicles[line.mark], said, on),
                path=_page_of(line.mark),
            )


def _nothing_due(outlooks: Sequence[VehicleOutlook], frame: DateSpan, today: date) -> FeedEntry:
    undated = sum(line.window is None for outlook in outlooks for line in outlook.lines)
    day = today.replace(day=1)
    return FeedEntry(
        seed=_seed("nothing-due"),
        kind=EntryKind.NOTHING_DUE,
        title=nothing_due_title(undated, frame.end, len(outlooks)),
        days=DateSpan.of_days(day, day),
        text=nothing_due_text(undated, len(outlooks)),
        path="/",
    )


def _is_gone(outlook: VehicleOutlook, today: date) -> bool:
    gone_on = outlook.vehicle.out_of_fleet_on
    return gone_on is not None and gone_on <= today


def _within(days: DateSpan, frame: DateSpan) -> DateSpan | None:
    if not days.overlaps(frame):
        return None
    return DateSpan(max(days.first, frame.first), min(days.end, frame.end))


def _told_apart(entries: Sequence[FeedEntry]) -> tuple[FeedEntry, ...]:
    """No two entries with one title on one day: some programs take those for one and the same."""
    times: Counter[tuple[date, str]] = Counter()
    apart = []
    for entry in entries:
        times[entry.days.first, entry.title] += 1
        number = times[entry.days.first, entry.title]
        apart.append(entry if number == 1 else replace(entry, title=f"{one_line(entry.title, 94)} ({number})"))
    return tuple(apart)


def _seed(*parts: str) -> str:
    return "/".join(quote(part, safe=" ", errors="replace") for part in parts)


def _page_of(mark: str) -> str:
    return f"/vehicles/{quote(mark, safe='', errors='replace')}"
