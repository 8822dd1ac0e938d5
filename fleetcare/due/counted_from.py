"""Where a service line counts from: its last work, the first day of its component, or the day nobody knows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from fleetcare.book.rows import BookRow, IntervalBook, IntervalRule, Status
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.pace import Amount, TrackPace
from fleetcare.due.track import delivery_amount
from fleetcare.fleet.component import Component, History, LineStart
from fleetcare.fleet.duty import ALL_DAILY, DutySplit
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import from_books, tr
from fleetcare.meter.checking import true_from_dial
from fleetcare.quantities import MeterUnit
from fleetcare.wear.distance_limit import UsedSpan
from fleetcare.wording import day_words, whole
from fleetcare.work.moves import Carried, Move, last_move_to
from fleetcare.work.record import WorkDone

NEW_WITHIN_DAYS = 31
"""A component that was fitted at most so long before its vehicle was entered here counts as new, if nobody said."""


class Origin(StrEnum):
    """What a line counts from."""

    WORK = "work done"
    NEW = "new"
    SET_UP = "the day it was set up"
    CARRIED = "another vehicle"
    """The component came from another vehicle, with what it had behind it."""
    FINDING = "a finding"


@dataclass(frozen=True, slots=True)
class CountedFrom:
    """The beginning of the interval a line is in.

    km, hours: true amounts then; None if that meter says nothing. look_is_due: nothing is known, a look comes first.
    is_first: the first interval applies. moved_on: the day the component came here; then km and hours are those of that
    day, and km_before, hours_before what was used of the interval by then. told: what it counts from, where the usual
    sentence does not say it.
    """

    origin: Origin
    on: date
    km: Amount | None
    hours: Amount | None
    work: WorkDone | None
    look_is_due: bool
    is_first: bool
    moved_on: date | None = None
    km_before: tuple[UsedSpan, ...] = ()
    hours_before: tuple[UsedSpan, ...] = ()
    told: str = ""

    def follows(self, day: date) -> bool:
        """True if an event on that day makes the line due: after the work, or from the beginning on."""
        return day > self.on if self.origin in (Origin.WORK, Origin.CARRIED) else day >= self.on


def lines_of(vehicle: Vehicle, component: Component, book: IntervalBook) -> tuple[tuple[BookRow, LineStart], ...]:
    """The lines of a component with their rows: its own, or what the book proposes if it has none.

    Proposed lines are new on a component that was new when the vehicle was entered, else of unknown history. A service
    that is not in the book gets a row without limits, so that it does not disappear.
    """
    if component.lines:
        return tuple((book.rows.get(start.service) or _absent(start.service), start) for start in component.lines)
    first_day = component.fitted_on or vehicle.in_service_on
    is_new = (
        first_day is not None
        and vehicle.entered_on is not None
        and vehicle.entered_on - first_day <= timedelta(days=NEW_WITHIN_DAYS)
    )
    history = History.NEW if is_new else History.UNKNOWN
    return tuple((row, LineStart(row.key, history)) for row in book.proposed_for(vehicle.kind, component.kind))


def _absent(service: str) -> BookRow:
    words = service.replace("-", " ")
    return BookRow(
        key=service,
        title=words.capitalize(),
        short=words[:24].strip(),
        components=(),
        vehicles=(),
        rule=IntervalRule(),
        source=from_books("not in the interval book"),
        status=Status.DOUBTFUL,
    )


def is_absent(row: BookRow, book: IntervalBook) -> bool:
    """True if the row stands in for a service that is not in the book."""
    return row.key not in book.rows


def counted_from(
    facts: VehicleFacts,
    component: Component,
    row: BookRow,
    start: LineStart,
    work: Sequence[WorkDone],
    *,
    distance: TrackPace | None,
    hours: TrackPace | None,
    today: date,
) -> CountedFrom:
    """The beginning of the interval. work: records of this line up to today, oldest first."""
    vehicle = facts.vehicle
    if work:
        last = work[-1]
        return CountedFrom(
            Origin.WORK,
            last.on,
            amount_at(distance, last.on, last),
            amount_at(hours, last.on, last),
            last,
            look_is_due=False,
            is_first=False,
        )
    came = last_move_to(vehicle.mark, component.key, facts.moves)
    carried = came.carried_for(row.key) if came is not None and came.on <= today else None
    if came is not None and carried is not None:
        return _carried(came, carried, row, distance=distance, hours=hours, today=today)
    set_up = _set_up_on(facts, start, today)
    if start.history is History.NEW:
        first_day = component.fitted_on or vehicle.in_service_on
        on = first_day or set_up
        came_with_vehicle = component.fitted_on is None or component.fitted_on == vehicle.in_service_on
        return CountedFrom(
            Origin.NEW,
            on,
            _from_new(distance, on, delivered=came_with_vehicle),
            _from_new(hours, on, delivered=came_with_vehicle),
            None,
            look_is_due=False,
            is_first=True,
        )
    repeats = not row.rule.repeat.is_empty or not row.rule.after
    return CountedFrom(
        Origin.SET_UP,
        set_up,
        amount_at(distance, set_up, None),
        amount_at(hours, set_up, None),
        None,
        look_is_due=repeats and row.look_first,
        is_first=False,
    )


def _carried(
    came: Move, carried: Carried, row: BookRow, *, distance: TrackPace | None, hours: TrackPace | None, today: date
) -> CountedFrom:
    """A line whose component came from another vehicle goes on where it was there."""
    used = carried.km
    split = DutySplit.from_parts(dict(carried.km_by_duty or ())) if used else None
    behind = "" if used is None else tr(" with {distance} since then", distance=f"{whole(used)} km")
    repeats = not row.rule.repeat.is_empty or not row.rule.after
    return CountedFrom(
        origin=Origin.CARRIED,
        on=carried.done_on,
        km=None if used is None else amount_at(distance, came.on, None),
        hours=None if carried.hours is None else amount_at(hours, came.on, None),
        work=None,
        look_is_due=not carried.known and repeats and row.look_first,
        is_first=carried.is_first,
        moved_on=came.on,
        km_before=(UsedSpan(used, split),) if used and split is not None else (),
        hours_before=(UsedSpan(carried.hours, ALL_DAILY),) if carried.hours else (),
        told=tr(
            "Counted from {done}, when it was on {mark}; it came here on {came}{behind}.",
            done=day_words(carried.done_on, today),
            mark=came.from_mark,
            came=day_words(came.on, today),
            behind=behind,
        ),
    )


def _set_up_on(facts: VehicleFacts, start: LineStart, today: date) -> date:
    vehicle = facts.vehicle
    first_reading = min((reading.on for reading in facts.readings), default=None)
    known = start.entered_on or vehicle.entered_on or first_reading or vehicle.in_service_on or today
    return min(known, today)


def amount_at(pace: TrackPace | None, on: date, work: WorkDone | None) -> Amount | None:
    """The true amount on that day: as measured with the work, else as reckoned; None without a meter."""
    if pace is None:
        return None
    reckoned = pace.amount_on(on.toordinal())
    track = pace.track
    if work is None or work.at is None or track.checked is None:
        return reckoned
    unit = work.unit or track.checked.meter.unit
    if (unit is MeterUnit.HOURS) != track.is_hours:
        return reckoned
    return Amount(true_from_dial(track.checked, work.at, unit, on, near=reckoned.value), measured=True)


def _from_new(pace: TrackPace | None, on: date, *, delivered: bool) -> Amount | None:
    if pace is None:
        return None
    if delivered:
        meter = pace.track.meter
        return Amount(min(delivery_amount(meter) if meter else 0.0, float(pace.track.amounts[0])))
    return pace.amount_on(on.toordinal())
