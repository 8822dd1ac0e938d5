"""Lines of the log and numbers that were learned as rows, and back."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from fleetcare.actions.ports import Change, LogEntry
from fleetcare.store.cells import Columns, instant_of, instant_text, json_object
from fleetcare.store.sentences import kept_text, told_again
from fleetcare.usage.learned import FitBasis, Fitted, FleetNumbers


def log_columns(change: Change, subject: str, what: str, before: str, after: str) -> Columns:
    """A line of the log on its way in."""
    return {
        "who": change.who,
        "why": str(change.why),
        "why_said": kept_text(change.why),
        "before_said": kept_text(before),
        "after_said": kept_text(after),
        "at": instant_text(change.at),
        "subject": subject,
        "what": what,
        "before": str(before),
        "after": str(after),
    }


def log_entry(row: Any) -> LogEntry:
    """A line of the log on its way out."""
    change = Change(row.who, told_again(row.why, row.why_said), instant_of(row.at))
    before, after = told_again(row.before, row.before_said), told_again(row.after, row.after_said)
    return LogEntry(change, row.subject, row.what, before, after, row.id)


def fit_columns(fit: Fitted) -> Columns:
    """Learned numbers on their way in."""
    return {
        "fitted_at": instant_text(fit.at),
        "who": fit.who,
        "numbers": json_object({} if fit.numbers is None else asdict(fit.numbers)),
        "basis": json_object(asdict(fit.basis)),
    }


def fit(row: Any) -> Fitted:
    """Learned numbers on their way out."""
    numbers = json.loads(row.numbers)
    return Fitted(
        at=instant_of(row.fitted_at),
        who=row.who,
        numbers=FleetNumbers(**{**numbers, "season": tuple(numbers["season"])}) if numbers else None,
        basis=FitBasis(**json.loads(row.basis)),
        id=row.id,
    )
