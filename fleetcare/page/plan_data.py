"""Bay days as plain data, for `--json` and the API: one shape for both. Money in cents."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any, Protocol
from zoneinfo import ZoneInfo

from fleetcare.bayplan.cost import PlanCost
from fleetcare.bayplan.explain import DayPrice, Forbidden, Reason
from fleetcare.bayplan.held_days import BayHolder
from fleetcare.bayplan.plan_changes import PlanChange
from fleetcare.bayplan.port import Answer
from fleetcare.fleet.bay_visit import BayVisit
from fleetcare.fleet.component import LineKey
from fleetcare.page.cards.no_day import Troubled, trouble_sentences

Data = dict[str, Any]


class GrantedWish(Protocol):
    """A wish that a plan was made around."""

    @property
    def was(self) -> BayVisit:
        """The visit as it stands."""
        ...

    @property
    def on(self) -> date:
        """The day it is wished on."""
        ...

    @property
    def extra_cents(self) -> int:
        """What that costs more."""
        ...


class Proposed(Troubled, Protocol):
    """A plan that was worked out and is not written down."""

    @property
    def visits(self) -> Sequence[BayVisit]:
        """What would be pencilled."""
        ...

    @property
    def kept(self) -> Sequence[BayVisit]:
        """What is inked."""
        ...

    @property
    def gone(self) -> Sequence[BayVisit]:
        """What would be rubbed out."""
        ...

    @property
    def moved(self) -> Sequence[tuple[BayVisit, BayVisit]]:
        """Visits for another time, before and after."""
        ...

    @property
    def granted(self) -> GrantedWish | None:
        """The wish it was made around."""
        ...

    @property
    def changes(self) -> Sequence[PlanChange]:
        """Each with its cause."""
        ...

    @property
    def left(self) -> Sequence[LineKey]:
        """Services left for a later plan."""
        ...

    @property
    def answer(self) -> Answer | None:
        """What the search said."""
        ...

    @property
    def cost(self) -> PlanCost | None:
        """Its price."""
        ...

    @property
    def untouched(self) -> int | None:
        """How many other pencilled visits stand, where only what a change hit was planned anew."""
        ...


def proposal_data(found: Proposed) -> Data:
    """A plan as `--json` prints it and the API answers it. untouched: how many other pencilled visits stand,
    where only what a change hit was planned anew; null for a whole plan. troubles: what it could not do, a sentence
    each."""
    return {
        "visits": [visit_data(visit, found.zone) for visit in found.visits],
        "inked": [visit_data(visit, found.zone) for visit in found.kept],
        "gone": [f"{visit.mark} {visit.number}" for visit in found.gone],
        "moved": [{"from": visit_data(was, found.zone), "to": visit_data(now, found.zone)} for was, now in found.moved],
        "wish": None
        if found.granted is None
        else {
            "vehicle": found.granted.was.mark,
            "number": found.granted.was.number,
            "on": found.granted.on.isoformat(),
            "extra_cents": found.granted.extra_cents,
        },
        "changes": changes_data(found.changes, found.zone),
        "left": [str(line) for line in found.left],
        "untouched": found.untouched,
        "troubles": list(trouble_sentences(found)),
        **price_data(found.answer, found.cost),
    }


def visit_data(visit: BayVisit, zone: ZoneInfo) -> Data:
    """One visit; times with the garage's offset."""
    return {
        "vehicle": visit.mark,
        "number": visit.number,
        "state": visit.state.value,
        "begins": _written(visit.begins_at, zone),
        "free": _written(visit.free_at, zone),
        "services": [f"{line.component}/{line.service}" for line in visit.lines],
        "stretches": [
            {"kind": each.kind.value, "begins": _written(each.begins_at, zone), "ends": _written(each.ends_at, zone)}
            for each in visit.stretches
        ],
        "hands": visit.mechanic or None,
        "why": visit.reason or None,
    }


def changes_data(changes: Iterable[PlanChange], zone: ZoneInfo) -> list[Data]:
    """What a plan changes, each visit with its cause."""
    return [
        {
            "vehicle": each.mark,
            "number": each.number,
            "was": None if each.was is None else _written(each.was, zone),
            "now": None if each.now is None else _written(each.now, zone),
            "cause": each.cause.value,
        }
        for each in changes
    ]


def days_data(
    prices: Iterable[DayPrice], day_0: date, held: Mapping[date, Sequence[BayHolder]] | None = None
) -> list[Data]:
    """What each other day costs more, or what forbids it. day_0: from which days are counted. held: by which visits
    the bay is taken, by day."""
    return [
        {
            "day": (day_0 + timedelta(days=price.day)).isoformat(),
            "extra_cents": price.extra_cents,
            "forbidden": None if price.forbidden is None else price.forbidden.value,
            "taken_by": [f"{each.mark}/{each.number}" for each in _holders(price, day_0, held or {}) if each.mark],
        }
        for price in prices
    ]


def _holders(price: DayPrice, day_0: date, held: Mapping[date, Sequence[BayHolder]]) -> Sequence[BayHolder]:
    return held.get(day_0 + timedelta(days=price.day), ()) if price.forbidden is Forbidden.TAKEN else ()


def reasons_data(reasons: Iterable[Reason], day_0: date) -> list[Data]:
    """Reasons as kinds with their figures."""
    return [
        {
            "kind": each.kind.value,
            "cents": each.cents,
            "services": [name.partition("/")[2] for name in each.names],
            "day": None if each.day is None else (day_0 + timedelta(days=each.day)).isoformat(),
        }
        for each in reasons
    ]


def price_data(answer: Answer | None, cost: PlanCost | None) -> Data:
    """How good a plan is, and what it costs term by term."""
    return {
        "outcome": None if answer is None else answer.outcome.value,
        "total_cents": None if answer is None else answer.total,
        "lower_bound_cents": None if answer is None else answer.bound,
        "gap": None if answer is None or answer.gap is None else round(answer.gap, 6),
        "cost_cents": None if cost is None else asdict(cost),
    }


def _written(at: datetime, zone: ZoneInfo) -> str:
    return at.astimezone(zone).isoformat(timespec="minutes")
