"""Outlooks kept by a process, so that a page of the whole garage need not work out what has not changed.

Where a vehicle stands follows from what is written about it, the day, and the rules. A vehicle is worked out again when
any of these changed, and no other vehicle with it. Not an action itself.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from threading import Lock

from fleetcare.actions.gather import Rules, facts_of, outlooks_from, rules_in_force
from fleetcare.actions.line_inputs import fit_number, rules_mark
from fleetcare.actions.ports import ReadView
from fleetcare.due.cut_intervals import IntervalCut, cuts_in_force
from fleetcare.due.judging import HeldDoubt, held_doubts
from fleetcare.due.outlook import VehicleOutlook
from fleetcare.language import in_force
from fleetcare.language.measure import measure_in_force
from fleetcare.work.open_findings import WaitingFinding, open_findings
from fleetcare.work.record import WorkDone

MOST_KEPT = 8_000
"""Vehicles, once for each way of telling; those not looked at for longest go first. One takes some 45 kB."""
STRETCH = 100
"""Vehicles worked out at a time; a page about no more than these does not wait for one that works all of them out."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Where one vehicle stands, what was done to it, and after which write about it.

    findings: those that wait for somebody, under the place where their component is now. held: readings kept aside.
    cuts: findings that cut an interval short.
    """

    stamp: int
    outlook: VehicleOutlook
    work: tuple[WorkDone, ...]
    findings: tuple[WaitingFinding, ...]
    held: tuple[HeldDoubt, ...]
    cuts: tuple[IntervalCut, ...] = ()


class KeptOutlooks:
    """What this process has worked out. Any thread may ask; what a view does not show is never in its answer."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        self._most = most
        self._lock = Lock()
        self._working = Lock()
        self._basis: object = None
        self._kept: OrderedDict[tuple[object, str], Kept] = OrderedDict()
        """By how a reader is told of it, and mark: the chain behind a date is in their language and unit."""

    def look(self, view: ReadView, rules: Rules, today: date, marks: Collection[str] | None = None) -> tuple[Kept, ...]:
        """Where these vehicles (all if None) stand in this view, in the garage's order."""
        rules = rules_in_force(view, rules)
        # After a restore from a backup the same stamp may stand for other facts; the era rises with it.
        basis = (today, rules_mark(rules), fit_number(view), view.feed_era())
        stamps = view.fact_stamps()
        if marks is not None:
            wanted = frozenset(marks)
            stamps = {mark: stamp for mark, stamp in stamps.items() if mark in wanted}
        found = self._there(basis, stamps)
        if len(stamps) - len(found) > STRETCH:
            with self._working:
                # Somebody else may have done it meanwhile.
                found = self._there(basis, stamps)
                self._work_out(view, rules, today, basis, stamps, found)
        else:
            self._work_out(view, rules, today, basis, stamps, found)
        return tuple(found[mark] for mark in stamps)

    def _work_out(
        self, view: ReadView, rules: Rules, today: date, basis: object, stamps: dict[str, int], found: dict[str, Kept]
    ) -> None:
        missing = [mark for mark in stamps if mark not in found]
        for start in range(0, len(missing), STRETCH):
            some = _worked_out(view, rules, today, missing[start : start + STRETCH], stamps)
            self._keep(basis, some)
            found |= some

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
        each.vehicle.mark: Kept(
            stamps[each.vehicle.mark],
            outlook,
            each.work,
            open_findings(each.found, each.work),
            held_doubts(each, rules.priors),
            cuts_in_force(each.found, outlook),
        )
        for each, outlook in zip(facts, outlooks, strict=True)
    }
