"""Outlooks kept by a process, so that a page of the whole garage need not work out what has not changed.

Where a vehicle stands follows from what is written about it, the day, and the rules. A vehicle is worked out again when
any of these changed, and no other vehicle with it. What is kept is the same for every reader: dates and shares, without
the sentences of the way to them, which only a look at one vehicle tells. Not an action itself.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import date
from threading import Lock

from fleetcare.actions.gather import Rules, facts_of, outlooks_from, rules_in_force
from fleetcare.actions.line_inputs import fit_number, rules_mark
from fleetcare.actions.ports import ReadView
from fleetcare.due.cut_intervals import IntervalCut, cuts_in_force
from fleetcare.due.judging import HeldDoubt, held_doubts
from fleetcare.due.outlook import DueWindow, VehicleOutlook
from fleetcare.fleet.vehicle import Vehicle
from fleetcare.language import as_written_down
from fleetcare.work.open_findings import WaitingFinding, open_findings
from fleetcare.work.record import WorkDone

MOST_KEPT = 8_000
"""Vehicles; those not looked at for longest go first."""
STRETCH = 100
"""Vehicles worked out at a time; a page about no more than these does not wait for one that works all of them out."""
AT_ONCE = 60
"""Vehicles a page works out by itself that would else wait for a whole garage: what its first screens show."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Where one vehicle stands, what was done to it, and after which write about it.

    outlook: without the steps of its lines, and its basis as it is written down. findings: those that wait for
    somebody, under the place where their component is now. held: readings kept aside. cuts: findings that cut an
    interval short.
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
        self._kept: OrderedDict[str, Kept] = OrderedDict()
        self._whole: tuple[Mapping[str, int], tuple[Kept, ...]] | None = None
        """The whole garage as it was last asked for, and by which stamps; of the same basis as what is kept."""

    def look(self, view: ReadView, rules: Rules, today: date, marks: Collection[str] | None = None) -> tuple[Kept, ...]:
        """Where these vehicles (all if None) stand in this view, in the garage's order."""
        rules = rules_in_force(view, rules)
        basis = self._basis_of(view, rules, today)
        stamps = view.fact_stamps()
        if marks is None and (whole := self._as_before(basis, stamps)) is not None:
            return whole
        if marks is not None:
            wanted = frozenset(marks)
            stamps = {mark: stamp for mark, stamp in stamps.items() if mark in wanted}
        found = self._there(basis, stamps)
        if len(stamps) - len(found) > STRETCH:
            with self._working:
                # Somebody else may have done it meanwhile.
                found = self._there(basis, stamps)
                missing = _by_late_date(view, [mark for mark in stamps if mark not in found])
                self._work_out(view, rules, today, basis, stamps, missing, found)
        else:
            missing = [mark for mark in stamps if mark not in found]
            self._work_out(view, rules, today, basis, stamps, missing, found)
        looked = tuple(found[mark] for mark in stamps)
        if marks is None:
            with self._lock:
                if basis == self._basis and len(looked) <= self._most:
                    self._whole = stamps, looked
        return looked

    def so_far(
        self, view: ReadView, rules: Rules, today: date, first: Callable[[Vehicle], bool] | None = None
    ) -> tuple[Kept, ...]:
        """The whole garage as `look` has it; where that would take long, those of it that are worked out by now.

        Among these are for certain the `AT_ONCE` that were last known to be due first, of those for which `first` holds
        before any other. For pages that rather show a part at once than all of it in a minute.
        """
        rules = rules_in_force(view, rules)
        basis = self._basis_of(view, rules, today)
        stamps = view.fact_stamps()
        found = self._there(basis, stamps)
        missing = [mark for mark in stamps if mark not in found]
        if len(missing) <= STRETCH:
            return self.look(view, rules, today)
        in_order = _by_late_date(view, stamps)
        if first is not None:
            named = {vehicle.mark for vehicle in view.vehicles() if first(vehicle)}
            in_order.sort(key=lambda mark: mark not in named)
        near = [mark for mark in in_order[:AT_ONCE] if mark not in found]
        self._work_out(view, rules, today, basis, stamps, near, found)
        return tuple(found[mark] for mark in stamps if mark in found)

    def _basis_of(self, view: ReadView, rules: Rules, today: date) -> object:
        # After a restore from a backup the same stamp may stand for other facts; the era rises with it.
        return today, rules_mark(rules), fit_number(view), view.feed_era()

    def _as_before(self, basis: object, stamps: Mapping[str, int]) -> tuple[Kept, ...] | None:
        """The whole garage, if nothing was written about any vehicle since it was last asked for."""
        with self._lock:
            if self._whole is None or basis != self._basis or self._whole[0] != stamps:
                return None
            return self._whole[1]

    def _work_out(
        self,
        view: ReadView,
        rules: Rules,
        today: date,
        basis: object,
        stamps: Mapping[str, int],
        missing: list[str],
        found: dict[str, Kept],
    ) -> None:
        for start in range(0, len(missing), STRETCH):
            some = _worked_out(view, rules, today, missing[start : start + STRETCH], stamps)
            self._keep(basis, some)
            found |= some

    def _there(self, basis: object, stamps: Mapping[str, int]) -> dict[str, Kept]:
        with self._lock:
            if basis != self._basis:
                return {}
            found = {mark: kept for mark in stamps if (kept := self._kept.get(mark)) is not None}
            for mark in found:
                self._kept.move_to_end(mark)
        return {mark: kept for mark, kept in found.items() if kept.stamp == stamps[mark]}

    def _keep(self, basis: object, found: dict[str, Kept]) -> None:
        with self._lock:
            if basis != self._basis:
                self._kept.clear()
                self._whole, self._basis = None, basis
            for mark, kept in found.items():
                self._kept[mark] = kept
                self._kept.move_to_end(mark)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)


def _by_late_date(view: ReadView, marks: Collection[str]) -> list[str]:
    """These vehicles, those first whose services were last known to be due first; those without a date last."""
    late: dict[str, date] = {}
    for key, state in view.windows().items():
        if isinstance(state, DueWindow) and state.late < late.get(key.mark, date.max):
            late[key.mark] = state.late
    return sorted(marks, key=lambda mark: late.get(mark, date.max))


def _worked_out(
    view: ReadView, rules: Rules, today: date, marks: list[str], stamps: Mapping[str, int]
) -> dict[str, Kept]:
    facts = facts_of(view, marks)
    with as_written_down():
        outlooks = outlooks_from(facts, rules, today, with_steps=False)
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
