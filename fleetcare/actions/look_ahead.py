"""Where the garage stands today: what the pages, the commands and the API show."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of, outlooks_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import LogEntry, ReadView, Store
from fleetcare.due.change_words import State, WindowChange, change_words, state_read_back
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.booking import Booking
from fleetcare.fleet.component import LineKey
from fleetcare.fleet.people import Garage, Person
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.work.record import WorkDone

_ENTRIES_A_CHANGE = 4
"""Entries of a line that are looked through for each change of its window; work done on it is one, too."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """The garage on one day.

    missing: how many vehicles are not among these, because they are still being worked out.
    """

    garage: Garage
    today: date
    people: tuple[Person, ...]
    outlooks: tuple[VehicleOutlook, ...]
    bookings: tuple[Booking, ...]
    work: tuple[WorkDone, ...]
    visits: tuple[BayVisit, ...] = ()
    missing: int = 0


def look_ahead(
    store: Store, rules: Rules, *, now: datetime, marks: Iterable[str] | None = None, kept: KeptOutlooks | None = None
) -> Ahead:
    """Reads these vehicles (all if None) and works out where they stand. Writes nothing.

    kept: what this process has worked out before; of the whole garage only what has changed since is worked out then.
    """
    wanted = None if marks is None else tuple(marks)
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        outlooks: tuple[VehicleOutlook, ...]
        if kept is not None and wanted is None:
            found = kept.look(view, rules, today)
            outlooks = tuple(each.outlook for each in found)
            work = tuple(done for each in found for done in each.work)
        else:
            outlooks, work = outlooks_of(view, rules, today, wanted), view.work(wanted)
        return Ahead(
            garage=garage,
            today=today,
            people=view.people(),
            outlooks=outlooks,
            bookings=view.bookings(),
            work=work,
            visits=tuple(visit for visit in view.bay_visits(wanted) if visit.takes_place and visit.free_at > now),
        )


def look_at_once(
    store: Store,
    rules: Rules,
    *,
    now: datetime,
    kept: KeptOutlooks,
    first: Callable[[Vehicle, Garage], bool] | None = None,
) -> Ahead:
    """The whole garage, or where that would take long, the vehicles that are worked out by now (`KeptOutlooks.so_far`).

    For pages that somebody waits for. first: which vehicles the page is about.
    """
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        found = kept.so_far(view, rules, today, None if first is None else lambda vehicle: first(vehicle, garage))
        missing = len(view.fact_stamps()) - len(found)
        there = {each.outlook.vehicle.mark for each in found} if missing else ()
        return Ahead(
            garage=garage,
            today=today,
            people=view.people(),
            outlooks=tuple(each.outlook for each in found),
            bookings=view.bookings(),
            work=tuple(done for each in found for done in each.work),
            visits=tuple(
                visit
                for visit in view.bay_visits()
                if visit.takes_place and visit.free_at > now and (not missing or visit.mark in there)
            ),
            missing=missing,
        )


def changes_of(store: Store, line: LineKey, limit: int = 5) -> tuple[WindowChange, ...]:
    """The newest changes of one line's window, newest first; see `window_changes`."""
    with store.read() as view:
        return window_changes(view, line, limit)


def window_changes(view: ReadView, line: LineKey, limit: int = 3) -> tuple[WindowChange, ...]:
    """The newest changes of one line's window, newest first, each with its cause and by how much.

    An entry in words that nobody here wrote (a line of another version) is told as it stands.
    """
    zone = ZoneInfo(garage_of(view).zone)
    entries = [entry for entry in view.log(str(line), limit * _ENTRIES_A_CHANGE) if entry.what == "due window"]
    return tuple(_window_change(entry, entry.change.at.astimezone(zone).date()) for entry in entries[:limit])


def _window_change(entry: LogEntry, on: date) -> WindowChange:
    before: State | None = None
    after: State | None = None
    try:
        before, after = state_read_back(entry.before), state_read_back(entry.after)
        told = change_words(before, after, on)
    except ValueError:
        told = f"from {entry.before or 'nothing'} to {entry.after}"
    change = entry.change
    return WindowChange(change.at, on, change.who, change.why, before, after, told)
