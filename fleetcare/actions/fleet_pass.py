"""The whole fleet worked out again by stretches; what `refresh` and `fit_fleet` have in common, no action itself.

A stretch is one transaction. It reads columns: the packed inputs of its vehicles, from which all their dates follow in
one go. Vehicles that cannot be packed, or were packed under other rules, are worked out the long way. Only lines whose
window changed are written. Killed at any point, it is run again: what was done stands, and the rest is found undone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass, replace
from datetime import date

import numpy as np

from fleetcare.actions.gather import Rules, facts_of, garage_day, garage_of, rules_in_force, worked_out_from
from fleetcare.actions.kept_outlooks import KeptOutlooks
from fleetcare.actions.line_inputs import fit_number, inputs_of, keep_inputs, known_from, rules_mark, stored_inputs
from fleetcare.actions.ports import Change, LineState, PackedInputs, Store, WriteUnit
from fleetcare.actions.renew_feeds import renew_feeds
from fleetcare.actions.settle import change_windows, store_windows
from fleetcare.due.columns import FleetColumns, state_of_words
from fleetcare.fleet.component import LineKey

STRETCH = 500
"""Vehicles in one transaction: a writer beside it waits for no longer than that takes."""


@dataclass(frozen=True, slots=True)
class FleetPass:
    """Vehicles worked out by columns, the long way, or left because nothing could have changed; lines that moved."""

    by_columns: int
    long_way: int
    as_before: int
    moved: int


def pass_over_fleet(
    store: Store,
    rules: Rules,
    change: Change,
    *,
    base_url: str,
    progress: Callable[[int, int], None] | None = None,
    stretch: int = STRETCH,
    kept: KeptOutlooks | None = None,
) -> FleetPass:
    """Works out every vehicle as of the change and brings the feeds up to date. There has to be a garage.

    progress: told how many vehicles are done, and how many there are. stretch: vehicles in one transaction.
    kept: what this process has worked out before; feeds are made of that then.
    """
    with store.read() as view:
        marks = view.marks()
    done = FleetPass(0, 0, 0, 0)
    for start in range(0, len(marks), stretch):
        with store.write(change, typed=False) as unit:
            came = _stretch(unit, rules, marks[start : start + stretch], garage_day(garage_of(unit), change.at))
        done = FleetPass(*(so_far + more for so_far, more in zip(astuple(done), astuple(came), strict=True)))
        if progress is not None:
            progress(min(len(marks), start + stretch), len(marks))
    with store.write(change, typed=False) as unit:
        garage = garage_of(unit)
        # Nothing is written about any vehicle in this unit, so that what is kept holds within it, too.
        looked = () if kept is None else kept.look(unit, rules, garage_day(garage, change.at))
        # A day that begins changes what feeds show even of lines that stay where they are.
        outlooks = tuple(each.outlook for each in looked)
        renew_feeds(unit, rules, garage, touched=None, outlooks=outlooks, now=change.at, base_url=base_url)
    return done


def _stretch(unit: WriteUnit, rules: Rules, marks: Sequence[str], today: date) -> FleetPass:
    rules, mark, fit = rules_in_force(unit, rules), rules_mark(rules), fit_number(unit)
    stored = stored_inputs(unit, marks)
    packed = [each for each in stored.values() if each.rules == mark and each.whole]
    at_hand = {each.mark for each in packed}
    rest = tuple(each for each in marks if each not in at_hand)
    columns = FleetColumns.of([each.numbers for each in packed])
    current = bool((columns.fits == fit).all())
    # Under the numbers they were worked out with, dates that are packed follow from nothing that changes with the day.
    moved = 0 if current else _by_columns(unit, rules, packed, columns, fit)
    if rest:
        worked_out = worked_out_from(facts_of(unit, rest), rules, today, known_from(stored, mark, fit))
        moved += len(store_windows(unit, tuple(each.outlook for each in worked_out), rest))
        keep_inputs(unit, inputs_of(worked_out, mark, fit), stored)
    return FleetPass(0 if current else len(packed), len(rest), len(packed) if current else 0, moved)


def _by_columns(unit: WriteUnit, rules: Rules, packed: Sequence[PackedInputs], columns: FleetColumns, fit: int) -> int:
    """Works out packed vehicles under the numbers in force; how many lines moved."""
    states = columns.states(rules.priors)
    windows = columns.windows(rules.priors, states)
    changed = np.flatnonzero((windows != columns.stored).any(axis=1))
    moved = _named(unit, packed, columns, windows, changed)
    change_windows(unit, moved)
    unit.put_line_inputs(
        replace(each, numbers=numbers)
        for each, numbers in zip(packed, columns.put(fit, states, windows), strict=True)
        if numbers != each.numbers
    )
    return len(moved)


def _named(
    unit: WriteUnit,
    packed: Sequence[PackedInputs],
    columns: FleetColumns,
    windows: np.ndarray[tuple[int, ...], np.dtype[np.float64]],
    changed: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> dict[LineKey, tuple[LineState | None, LineState]]:
    """The lines at these places by their keys. Packed lines stand in the order of their keys, as stored windows do."""
    owners = columns.vehicle_of_line[changed]
    marks = sorted({packed[owner].mark for owner in owners.tolist()})
    if not marks:
        return {}
    keys: dict[str, list[LineKey]] = {}
    for key in unit.lines(marks):
        keys.setdefault(key.mark, []).append(key)
    before = columns.stored
    moved: dict[LineKey, tuple[LineState | None, LineState]] = {}
    for place, owner in zip(changed.tolist(), owners.tolist(), strict=True):
        key = keys[packed[owner].mark][place - int(columns.first_line[owner])]
        moved[key] = (state_of_words(before[place]), state_of_words(windows[place]))
    return moved
