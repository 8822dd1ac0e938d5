"""The last step of every write: windows worked out again, what moved written to the log, feeds renewed.

It runs in the writer's own transaction, so a reading, the dates it gives and the feeds that show them (or that these
are still owed it) are stored together or not at all. Not an action: it is never called from outside.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, worked_out_from
from fleetcare.actions.line_inputs import fit_number, inputs_of, keep_inputs, known_from, rules_mark, stored_inputs
from fleetcare.actions.ports import LineState, WriteUnit
from fleetcare.actions.renew_feeds import renew_feeds
from fleetcare.due.facts import VehicleFacts
from fleetcare.due.outlook import DueWindow, LineOutlook, VehicleOutlook
from fleetcare.due.reckon import WorkedOut
from fleetcare.fleet.component import LineKey

WINDOW = "due window"
"""What the log calls a window."""
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
    facts: tuple[VehicleFacts, ...] | None = None,
    progress: Callable[[int, int], None] | None = None,
    feeds_later: bool = False,
) -> Settled:
    """Works out these vehicles again (all if None), stores and logs what changed, renews the feeds that show them.

    facts: of these vehicles, if whoever calls has just read them; they are not read again.
    progress: told how many vehicles are worked out, and how many there are. feeds_later: somebody waits for the answer,
    so calendars are brought up to date afterwards (`bring_feeds_up`); that they are owed it is stored with the rest.
    """
    garage = garage_of(unit)
    rules = rules_in_force(unit, rules)
    today = garage_day(garage, now)
    wanted = None if marks is None else tuple(marks)
    mark, fit = rules_mark(rules), fit_number(unit)
    stored = stored_inputs(unit, wanted)
    known = known_from(stored, mark, fit)
    facts = facts_of(unit, wanted) if facts is None else facts
    worked_out: list[WorkedOut] = []
    for start in range(0, len(facts), STRETCH):
        worked_out += worked_out_from(facts[start : start + STRETCH], rules, today, known)
        if progress is not None:
            progress(len(worked_out), len(facts))
    outlooks = tuple(each.outlook for each in worked_out)
    moved = store_windows(unit, outlooks, wanted)
    keep_inputs(unit, inputs_of(worked_out, mark, fit), stored)
    touched = None if wanted is None else {outlook.vehicle.mark for outlook in outlooks}
    if feeds_later and touched is not None:
        unit.owe_feeds(touched)
    else:
        renew_feeds(unit, rules, garage, touched=touched, outlooks=outlooks, now=now, base_url=base_url)
    return Settled(today, outlooks, moved)


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


def store_windows(
    unit: WriteUnit, outlooks: tuple[VehicleOutlook, ...], marks: tuple[str, ...] | None
) -> tuple[Moved, ...]:
    """Stores and logs the windows that moved; lines of these vehicles (all if None) that are gone are forgotten."""
    stored = unit.windows(marks)
    lines = {line.key: line for outlook in outlooks for line in outlook.lines}
    moved = tuple(
        Moved(line, stored.get(key), state_of(line))
        for key, line in sorted(lines.items())
        if stored.get(key) != state_of(line)
    )
    gone: list[LineKey] = sorted(set(stored) - set(lines))
    unit.drop_windows(gone)
    change_windows(unit, {each.line.key: (each.before, each.after) for each in moved})
    unit.log_changes((str(key), WINDOW, state_in_words(stored[key]), "the line is gone") for key in gone)
    return moved


def change_windows(unit: WriteUnit, moved: Mapping[LineKey, tuple[LineState | None, LineState]]) -> None:
    """Stores windows that moved, each with its line in the log. moved: (before, after) by line."""
    unit.put_windows({key: after for key, (_, after) in moved.items()})
    unit.log_changes(
        (str(key), WINDOW, state_in_words(before), state_in_words(after)) for key, (before, after) in moved.items()
    )
