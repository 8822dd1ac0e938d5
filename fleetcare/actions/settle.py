"""The last step of every write: windows worked out again, what moved written to the log, feeds renewed.

It runs in the writer's own transaction, so a reading, the dates it gives and the feeds that show them are stored
together or not at all. Not an action: it is never called from outside.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, outlooks_from, outlooks_of
from fleetcare.actions.ports import LineState, WriteUnit
from fleetcare.calendar_feed.entries import feed_entries
from fleetcare.calendar_feed.publishing import publish
from fleetcare.calendar_feed.render import feed_body
from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.fleet.access import Purpose
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.naming import marks_seen_by
from fleetcare.fleet.people import Garage, Person

STRETCH = 200
"""Vehicles worked out between two words about how far it is."""


@dataclass(frozen=True, slots=True)
class Moved:
    """A line whose window changed: before (None: it is new) and after."""

    line: LineOutlook
    before: LineState | None
    after: LineState


@dataclass(frozen=True, slots=True)
class Settled:
    """Where the vehicles stand after the write, and what moved by it."""

    today: date
    outlooks: tuple[VehicleOutlook, ...]
    moved: tuple[Moved, ...]


def settle(
    unit: WriteUnit,
    rules: Rules,
    *,
    now: datetime,
    base_url: str,
    marks: Iterable[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Settled:
    """Works out these vehicles again (all if None), stores and logs what changed, renews the feeds that show them.

    progress: told how many vehicles are worked out, and how many there are.
    """
    garage = garage_of(unit)
    today = garage_day(garage, now)
    wanted = None if marks is None else tuple(marks)
    facts = facts_of(unit, wanted)
    outlooks: tuple[VehicleOutlook, ...] = ()
    for start in range(0, len(facts), STRETCH):
        outlooks += outlooks_from(facts[start : start + STRETCH], rules, today)
        if progress is not None:
            progress(len(outlooks), len(facts))
    moved = _store_windows(unit, outlooks, wanted)
    touched = {outlook.vehicle.mark for outlook in outlooks}
    vehicles = unit.vehicles()
    for person in _feed_readers(unit):
        if wanted is None or touched.intersection(marks_seen_by(person, garage, vehicles)):
            renew_feed(unit, rules, garage, person, now=now, base_url=base_url)
    return Settled(today, outlooks, moved)


def renew_feed(unit: WriteUnit, rules: Rules, garage: Garage, person: Person, *, now: datetime, base_url: str) -> bytes:
    """Publishes one person's feed as of now and returns its bytes; entries that did not change keep theirs."""
    today = garage_day(garage, now)
    marks = marks_seen_by(person, garage, unit.vehicles())
    outlooks = outlooks_of(unit, rules, today, marks)
    bookings = tuple(booking for booking in unit.bookings() if set(booking.marks) & set(marks))
    entries = feed_entries(person, outlooks=outlooks, bookings=bookings, work=unit.work(marks), today=today)
    published = publish(unit.published(person.key), entries, garage_id=garage.id, base_url=base_url, now=now)
    before = unit.feed(person.key)
    body = feed_body(person.key, garage.name, published.entries, previous=before, now=now)
    if published.changed or before != body:
        unit.put_published(person.key, published.changed, body)
    return body.body


def state_of(line: LineOutlook) -> LineState:
    """The window of a line, or the reason why it has none."""
    if line.window is not None:
        return line.window
    assert line.no_date is not None  # LineOutlook sees to it
    return line.no_date


def state_in_words(state: LineState | None) -> str:
    """A window or a reason for the log."""
    if state is None:
        return ""
    if isinstance(state, DueWindow):
        return f"early {state.early}, likely {state.likely}, late {state.late}, by {state.cause.value}"
    return state.value


def _store_windows(
    unit: WriteUnit, outlooks: tuple[VehicleOutlook, ...], marks: tuple[str, ...] | None
) -> tuple[Moved, ...]:
    stored = unit.windows(marks)
    lines = {line.key: line for outlook in outlooks for line in outlook.lines}
    moved = tuple(
        Moved(line, stored.get(key), state_of(line))
        for key, line in sorted(lines.items())
        if stored.get(key) != state_of(line)
    )
    unit.put_windows({each.line.key: each.after for each in moved})
    gone: list[LineKey] = sorted(set(stored) - set(lines))
    unit.drop_windows(gone)
    for each in moved:
        unit.log_change(str(each.line.key), "due window", state_in_words(each.before), state_in_words(each.after))
    for key in gone:
        unit.log_change(str(key), "due window", state_in_words(stored[key]), "the line is gone")
    return moved


def _feed_readers(unit: WriteUnit) -> tuple[Person, ...]:
    with_key = {key.person for key in unit.keys(Purpose.FEED) if key.revoked_at is None}
    return tuple(person for person in unit.people() if person.key in with_key)
