"""What to buy for the weeks ahead or for one day's sheets, and what lies on the shelf."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple
from zoneinfo import ZoneInfo

from fleetcare.actions.gather import Rules, garage_day, garage_of
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.book.bench import Need, needs_of
from fleetcare.book.jobs import JobBook
from fleetcare.book.rows import BookRow
from fleetcare.book.shopping import ShelfItem, ToBuy, Wanted, shopping_list
from fleetcare.due.outlook import Cause, VehicleOutlook
from fleetcare.errors import BadInput, NotFound
from fleetcare.fleet.component import Component, LineKey
from fleetcare.fleet.tag import Tag
from fleetcare.fleet.tag_reading import tag_of
from fleetcare.language import saying, tr_book
from fleetcare.wording import of_vehicle

MOST_WEEKS = 520
MOST_DAYS = 6


@dataclass(frozen=True, slots=True)
class Shopping:
    """A list, the day it was made, and services that no job does, so that nothing is known of what they need."""

    today: date
    until: date
    lines: tuple[ToBuy, ...]
    without_job: tuple[LineKey, ...] = ()
    without_words: tuple[str, ...] = ()
    """The same in words: `Raft's lights, wiring`."""


def shopping_ahead(
    store: Store, rules: Rules, jobs: JobBook, *, now: datetime, weeks: int, kept: KeptOutlooks | None = None
) -> Shopping:
    """What the services take whose early date comes within so many weeks. Raises BadInput.

    kept: what this process has worked out before; only what has changed since is worked out then.
    """
    if not 0 <= weeks <= MOST_WEEKS:
        raise BadInput(
            saying("{weeks} weeks is no time to shop for.", weeks=weeks), remedy="Give 0 to 520.", field="weeks"
        )
    with store.read() as view:
        today = garage_day(garage_of(view), now)
        until = today + timedelta(weeks=weeks)
        due = [
            (line.key, line.row, line.component, max(today, line.window.early))
            for each in (kept or KeptOutlooks()).look(view, rules, today)
            for line in each.outlook.lines
            # of unknown history a look is due, which takes nothing
            if line.window is not None and line.window.cause is not Cause.UNKNOWN_HISTORY and line.window.early <= until
        ]
        return _shopping(view, jobs, due, today, until)


def shopping_for_day(
    store: Store, rules: Rules, jobs: JobBook, *, now: datetime, on: date, kept: KeptOutlooks | None = None
) -> Shopping:
    """What the open sheets and the bay visits of one day take. Raises BadInput if there is neither."""
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        planned = _planned(view, ZoneInfo(garage.zone), today)
        wanted = {line for day, line in planned if day == on}
        if not wanted:
            raise BadInput(
                saying("Nothing is in the bay on {on}.", on=on),
                remedy="Take a day on which something is planned.",
                field="on",
            )
        fleet = (kept or KeptOutlooks()).look(view, rules, today, {line.mark for line in wanted})
        outlooks = [each.outlook for each in fleet]
        due = [(key, row, component, on) for key, row, component in _lines(outlooks) if key in wanted]
        return _shopping(view, jobs, due, today, on)


def shopping_days(store: Store, *, now: datetime) -> tuple[date, ...]:
    """The next days on which something is planned, today among them."""
    with store.read() as view:
        garage = garage_of(view)
        today = garage_day(garage, now)
        days = sorted({day for day, _ in _planned(view, ZoneInfo(garage.zone), today)})
    return tuple(days[:MOST_DAYS])


def _planned(view: ReadView, zone: ZoneInfo, today: date) -> list[tuple[date, LineKey]]:
    """What is to be done on which day from today on, by sheet or by visit."""
    sheets = [
        (order.planned_on, line)
        for order in view.orders()
        if order.planned_on is not None and order.state.is_open
        for line in order.lines
    ]
    visits = [
        (visit.begins_at.astimezone(zone).date(), line)
        for visit in view.bay_visits()
        if visit.takes_place
        for line in visit.lines
    ]
    return [(day, line) for day, line in (*sheets, *visits) if day >= today]


def shelf_of(store: Store) -> tuple[ShelfItem, ...]:
    """What lies on the shelf, by name."""
    with store.read() as view:
        return view.shelf()


def put_on_shelf(
    store: Store,
    what: str,
    amount: Decimal,
    *,
    now: datetime,
    who: str,
    unit: str | None = None,
    pack: Decimal | None = None,
) -> ShelfItem:
    """Says how much of something lies there now; unit, pack: as they were if they are not given. Raises BadInput."""
    with store.write(Change(who, "put on the shelf", now)) as unit_of_work:
        garage_of(unit_of_work)
        there = {item.key: item for item in unit_of_work.shelf()}
        wanted = ShelfItem(what, amount, unit or "pieces", pack)
        before = there.get(wanted.key)
        if before is not None:
            wanted = replace(before, amount=amount, unit=unit or before.unit, pack=pack or before.pack)
        unit_of_work.put_on_shelf([wanted])
        unit_of_work.log_change("shelf", wanted.what, "" if before is None else _words(before), _words(wanted))
        return wanted


def take_off_shelf(store: Store, what: str, *, now: datetime, who: str) -> None:
    """Takes something off the shelf for good. Raises NotFound."""
    with store.write(Change(who, "taken off the shelf", now)) as unit:
        there = {item.key: item for item in unit.shelf()}
        key = " ".join(what.casefold().split())
        if key not in there:
            raise NotFound("item on the shelf", what, [item.what for item in there.values()])
        unit.take_off_shelf([key])
        unit.log_change("shelf", there[key].what, _words(there[key]), "")


def _words(item: ShelfItem) -> str:
    return f"{item.amount:f} {item.unit}"


def _lines(outlooks: Iterable[VehicleOutlook]) -> Iterator[tuple[LineKey, BookRow, Component]]:
    return ((line.key, line.row, line.component) for outlook in outlooks for line in outlook.lines)


class _Takes(NamedTuple):
    """What the job of a service takes. job: its key; called: the component and the job, in the reader's language."""

    job: str
    called: str
    needs: tuple[Need, ...]


class _NeedsKnown:
    """What services take, looked up once for all components that are alike: a garage has thousands of few kinds."""

    def __init__(self, jobs: JobBook) -> None:
        self._jobs = jobs
        self._known: dict[tuple[str, str, str, str, int], tuple[Tag, _Takes | None]] = {}

    def of(self, row: BookRow, component: Component) -> _Takes | None:
        """None if no job does that service on that component."""
        tag = tag_of(component)
        # The tag is kept beside what it led to, so that its identity is not given to another.
        place = (row.key, row.short, component.kind, component.title, id(tag))
        if place not in self._known:
            self._known[place] = (tag, self._looked_up(row, component, tag))
        return self._known[place][1]

    def _looked_up(self, row: BookRow, component: Component, tag: Tag) -> _Takes | None:
        job = self._jobs.job_for(row, component.kind, tag)
        if job is None:
            return None
        called = f"{tr_book(component.title)}: {tr_book(job.title)}"
        return _Takes(job.key, called, needs_of(job.stages, tag))


def _shopping(
    view: ReadView,
    jobs: JobBook,
    due: Iterable[tuple[LineKey, BookRow, Component, date]],
    today: date,
    until: date,
) -> Shopping:
    """The list for these services; several that one job does on one component take its things once."""
    done: dict[tuple[str, str, str], tuple[_Takes, date]] = {}
    without: list[LineKey] = []
    words: dict[LineKey, str] = {}
    names = {vehicle.mark: vehicle.name for vehicle in view.vehicles()}
    needs = _NeedsKnown(jobs)
    for key, row, component, by in due:
        takes = needs.of(row, component)
        if takes is None:
            without.append(key)
            words[key] = f"{of_vehicle(names.get(key.mark, key.mark))} {tr_book(row.short)}"
            continue
        place = (key.mark, key.component, takes.job)
        first = min(by, done[place][1]) if place in done else by
        done[place] = (takes, first)
    wanted = [
        Wanted(need, mark, takes.called, by) for (mark, _, _), (takes, by) in done.items() for need in takes.needs
    ]
    found = shopping_list(wanted, view.shelf())
    return Shopping(today, until, found, tuple(sorted(without)), tuple(words[key] for key in sorted(without)))
