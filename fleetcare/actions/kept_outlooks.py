"""Outlooks kept by a process, so that a page of the whole garage need not work out what has not changed.

Where a vehicle stands follows from what is written about it, the day, and the rules. A vehicle is worked out again when
any of these changed, and no other vehicle with it. Not an action itself.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from datetime import date
from threading import Lock

from fleetcare.actions.gather import Rules, facts_of, outlooks_from, rules_in_force
from fleetcare.actions.line_inputs import fit_number, rules_mark
from fleetcare.actions.ports import ReadView
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.language import in_force
from fleetcare.language.measure import measure_in_force
from fleetcare.work.record import WorkDone

MOST_KEPT = 5_000
"""Vehicles; those not looked at for longest go first. One takes some tens of kilobytes."""
STRETCH = 100
"""Vehicles worked out at a time, so that a page of one vehicle does not wait for all of them."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Where one vehicle stands, what was done to it, and after which write about it."""

    stamp: int
    outlook: VehicleOutlook
    work: tuple[WorkDone, ...]


class KeptOutlooks:
    """What this process has worked out. Any thread may ask; what a view does not show is never in its answer."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._lock = Lock()
        self._working = Lock()
        self._basis: object = None
        self._kept: OrderedDict[tuple[object, str], Kept] = OrderedDict()
        """By how a reader is told of it, and mark: the chain behind a date is in their language and unit."""

    def look(self, view: ReadView, rules: Rules, today: date) -> tuple[Kept, ...]:
        """Where every vehicle stands in this view, in the garage's order."""
        rules = rules_in_force(view, rules)
        # After a restore from a backup the same stamp may stand for other facts; the era rises with it.
        basis = (today, rules_mark(rules), fit_number(view), view.feed_era())
        stamps = view.fact_stamps()
        found = self._there(basis, stamps)
        if len(found) < len(stamps):
            with self._working:
                # Somebody else may have done it meanwhile.
                found = self._there(basis, stamps)
                missing = [mark for mark in stamps if mark not in found]
                for start in range(0, len(missing), STRETCH):
                    some = _worked_out(view, rules, today, missing[start : start + STRETCH], stamps)
                    self._keep(basis, some)
                    found |= some
        return tuple(found[mark] for mark in stamps)

    def _there(self, basis: object, stamps: dict[str, int]) -> dict[str, Kept]:
        with self._lock:
            if basis != self._basis:
                return {}
            told = _told()
            found = {mark: kept for mark in stamps if (kept := self._kept.get((told, mark))) is not None}
            for mark in found:
                self._kept.move_to_end((told, mark))
        return {mark: kept for mark, kept in found.items() if kept.stamp == stamps[mark]}

    def _keep(self, basis: object, found: dict[str, Kept]) -> None:
        with self._lock:
            if basis != self._basis:
                self._kept.clear()
                self._basis = basis
            told = _told()
            for mark, kept in found.items():
                self._kept[told, mark] = kept
                self._kept.move_to_end((told, mark))
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


def _told() -> tuple[object, ...]:
    return in_force().code, measure_in_force()


def _worked_out(view: ReadView, rules: Rules, today: date, marks: list[str], stamps: dict[str, int]) -> dict[str, Kept]:
    facts = facts_of(view, marks)
    outlooks = outlooks_from(facts, rules, today)
    return {
        each.vehicle.mark: Kept(stamps[each.vehicle.mark], outlook, each.work)
        for each, outlook in zip(facts, outlooks, strict=True)
    }
