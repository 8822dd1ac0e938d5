"""Bay days as plain data, for `--json` and the API: one shape for both. Money in cents."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from fleetcare.bayplan.cost import PlanCost
from fleetcare.bayplan.explain import DayPrice, Reason
from fleetcare.bayplan.plan_changes import PlanChange
from fleetcare.bayplan.port import Answer
from fleetcare.fleet.bay_visit import BayVisit

Data = dict[str, Any]


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


def days_data(prices: Iterable[DayPrice], day_0: date) -> list[Data]:
    """What each other day costs more, or what forbids it. day_0: from which days are counted."""
    return [
        {
            "day": (day_0 + timedelta(days=price.day)).isoformat(),
            "extra_cents": price.extra_cents,
            "forbidden": None if price.forbidden is None else price.forbidden.value,
        }
        for price in prices
    ]


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
