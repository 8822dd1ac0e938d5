"""Wear by time: the day a line falls due by months or weeks, and the share of that time gone."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from fleetcare.book.rows import IntervalRule, Limits
from fleetcare.quantities import months_after
from fleetcare.wording import counted


@dataclass(frozen=True, slots=True)
class TimeLimit:
    """Due on `due_on`, counted from `anchor`; `words` says which figure, for example `12 months`."""

    anchor: date
    due_on: date
    words: str

    @property
    def days(self) -> int:
        """Days allowed, at least 1."""
        return max(1, (self.due_on - self.anchor).days)

    def wear(self, day: date) -> float:
        """Days since the anchor over days allowed, nought before it; 1 means due."""
        return max(0.0, (day - self.anchor).days / self.days)


def limits_in_force(rule: IntervalRule, *, is_first: bool, has_modifier: bool = False) -> Limits:
    """The first interval until the service was done once on a new component, then the repeat interval.

    has_modifier: the component's fluid has a friction modifier.
    """
    limits = rule.first if is_first and rule.first is not None else rule.repeat
    return limits.shortened_by_modifier() if has_modifier else limits


def time_limit(limits: Limits, anchor: date) -> TimeLimit | None:
    """The earlier of months and weeks after the anchor; None without either, or past the end of the calendar.

    Months are counted from the anchor with the day clamped to the month's length, never chained.
    """
    found: list[TimeLimit] = []
    if limits.months:
        try:
            due_on = months_after(anchor, limits.months)
        except OverflowError:
            pass
        else:
            found.append(TimeLimit(anchor, due_on, counted(limits.months, "month", "months")))
    if limits.weeks:
        try:
            due_on = anchor + timedelta(weeks=limits.weeks)
        except OverflowError:
            pass
        else:
            found.append(TimeLimit(anchor, due_on, counted(limits.weeks, "week", "weeks")))
    return min(found, key=lambda limit: limit.due_on, default=None)
