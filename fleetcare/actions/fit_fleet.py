"""The garage learns its own forecast numbers from its readings, and every vehicle is worked out by them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from fleetcare.actions.fleet_pass import pass_over_fleet
from fleetcare.actions.gather import FORECAST_NUMBERS, Rules, facts_of, garage_day, garage_of
from fleetcare.actions.ports import Change, ReadView, Store
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.learning import MOST_VEHICLES, Lesson, in_fixed_order, learn, teaches
from fleetcare.usage.learned import Fitted, FleetNumbers
from fleetcare.wording import counted, grouped

FIT_EVERY = timedelta(days=30)
"""A month of new readings is the least that can teach anything new."""
QUIET_FROM, QUIET_TO = 3, 5
"""Hours of the garage's night in which it is done: dates that move then are there in the morning, all at once."""
A_NIGHT = timedelta(days=1)
"""Who waited for so long has missed a night: the machine is off at night, and it is done by day."""
SUBJECT = "forecast"
AT_A_TIME = 500
"""Vehicles read at a time while looking for those that teach."""

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class FitCame:
    """What came of it.

    stored: what stands in the store now; None if there was not enough to go by, or if another process was quicker.
    moved: lines whose window moved by it.
    """

    lesson: Lesson
    stored: Fitted | None = None
    moved: int = 0


def fit_fleet(
    store: Store,
    rules: Rules,
    *,
    now: datetime,
    base_url: str,
    who: str,
    why: str = "forecast fitted to this garage",
    progress: Progress | None = None,
) -> FitCame:
    """Learns the numbers from what is stored, stores them with what they rest on, and works every vehicle out.

    rules: as they are without what was learned. Learning happens before the transaction and holds nobody up; if
    another process has stored a fit meanwhile, that one stands. Where there is not enough to go by, nothing changes.
    Where the shipped numbers serve as well, that is stored, and they are in force. Raises BadInput (no garage yet).
    """
    tell = progress or (lambda what, done, of: None)
    with store.read() as view:
        today = garage_day(garage_of(view), now)
        seen = view.newest_fit()
        facts = _facts_that_teach(view, lambda done, of: tell("reading", done, of))
    lesson = learn(
        facts,
        rules.priors,
        today,
        fixed=rules.own_numbers,
        progress=lambda done, of: tell("learning", done, of),
    )
    if lesson.basis is None:
        return FitCame(lesson)
    fit = Fitted(now, who, lesson.numbers, lesson.basis)
    change = Change(who, why, now)
    with store.write(change) as unit:
        newest = unit.newest_fit()
        if newest != seen:
            return FitCame(lesson)
        unit.add_fit(fit)
        before = lesson.before if seen is None or seen.numbers is None else seen.numbers
        unit.log_change(SUBJECT, FORECAST_NUMBERS, before.words(), _in_words(fit, lesson.before))
        stored = unit.newest_fit()
    # Stretch by stretch, so that nobody has to wait; what is left undone if this is killed, the next pass does.
    came = pass_over_fleet(
        store, rules, change, base_url=base_url, progress=lambda done, of: tell("working out", done, of)
    )
    return FitCame(lesson, stored, came.moved)


def fit_is_due(store: Store, now: datetime, *, first_look_today: bool) -> bool:
    """Whether it is time for a fit: the newest is older than `FIT_EVERY`, or there is none, and the hour is quiet.

    By day only if a whole night went by since it was due, which is looked for once a day (first_look_today).
    """
    with store.read() as view:
        garage = view.garage()
        if garage is None:
            return False
        newest = view.newest_fit()
        if newest is not None and now < newest.at + FIT_EVERY:
            return False
        if QUIET_FROM <= now.astimezone(ZoneInfo(garage.zone)).hour < QUIET_TO:
            return True
        if not first_look_today:
            return False
        due_since = newest.at + FIT_EVERY if newest is not None else _first_entered_at(view)
        return due_since is not None and now - due_since > A_NIGHT


def _facts_that_teach(view: ReadView, tell: Callable[[int, int], None]) -> tuple[VehicleFacts, ...]:
    """As many vehicles as are looked at, in fixed order; of a large fleet the others are not even read."""
    marks = in_fixed_order(view.marks())
    found: list[VehicleFacts] = []
    for start in range(0, len(marks), AT_A_TIME):
        found += [facts for facts in _in_order(view, marks[start : start + AT_A_TIME]) if teaches(facts)]
        tell(min(len(found), MOST_VEHICLES), min(len(marks), MOST_VEHICLES))
        if len(found) >= MOST_VEHICLES:
            break
    return tuple(found[:MOST_VEHICLES])


def _in_order(view: ReadView, marks: list[str]) -> list[VehicleFacts]:
    by_mark = {facts.vehicle.mark: facts for facts in facts_of(view, marks)}
    return [by_mark[mark] for mark in marks if mark in by_mark]


def _first_entered_at(view: ReadView) -> datetime | None:
    """When the first readings came in, as far as some vehicles tell; None without any."""
    some = in_fixed_order(view.marks())[:AT_A_TIME]
    return min((reading.entered_at for reading in view.readings(some)), default=None)


def _in_words(fit: Fitted, shipped: FleetNumbers) -> str:
    basis = fit.basis
    came_from = (
        f"from {counted(basis.vehicles, 'vehicle')} and {counted(basis.readings, 'reading')} "
        f"over {counted(basis.months, 'month')}"
    )
    if fit.numbers is None:
        return f"{shipped.words()}, as shipped, {came_from}: no numbers of its own foretold the readings better"
    times = grouped(round(fit.basis.times_as_likely, 1))
    return (
        f"{fit.numbers.words()}, {came_from}; misses {basis.after:.3f}, before {basis.before:.3f};"
        f" on vehicles left out {basis.others_after:.3f}, before {basis.others_before:.3f} ({times} times as likely)"
    )
