"""One limit of one line: the days it names and where the wear stands by it; and the first of several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fleetcare.due.outlook import Cause, DueWindow
from fleetcare.usage.priors import Priors

LAST_DAY = date(2200, 1, 1)
SLOWEST_PER_DAY = 1e-6
"""Share a day below which a rod would not move; keeps wear and calendar in step while a vehicle stands."""


@dataclass(frozen=True, slots=True)
class LimitOutlook:
    """One limit on one day. early, likely, late: ordinals with fractions, in order, inf for never.

    q_read, q_now: wear share at the last reading and today; per_day: wear share a day on the likely course.
    told: sentences on how it came about, in order.
    """

    cause: Cause
    early: float
    likely: float
    late: float
    q_read: float
    q_now: float
    per_day: float
    told: tuple[str, ...] = ()


def wear_course(*, q_now: float, likely: float, today: float, pace: float) -> float:
    """Wear share a day between today and the likely date: so that the wear is 1 on that date, always more than nought.

    pace: what to go by if the likely date is today or never comes.
    """
    ahead = likely - today
    if math.isfinite(ahead) and abs(ahead) >= 0.5 and (1.0 - q_now) / ahead > 0:
        return max(SLOWEST_PER_DAY, (1.0 - q_now) / ahead)
    return max(SLOWEST_PER_DAY, pace)


def dated_limit(
    cause: Cause,
    due_on: date,
    *,
    since: date,
    today: date,
    give_days: int,
    give_before: int | None = None,
    told: Sequence[str] = (),
) -> LimitOutlook:
    """A limit that is a bare day, spread by its give to both sides (give_before: another one to the early side).

    The wear is the share of the days from `since` to `due_on` that are gone; nought before `since`.
    """
    due, now = due_on.toordinal(), today.toordinal()
    allowed = max(1, due - since.toordinal())
    share = (now - since.toordinal()) / allowed
    return LimitOutlook(
        cause=cause,
        early=float(due - (give_days if give_before is None else give_before)),
        likely=float(due),
        late=float(due + give_days),
        q_read=max(0.0, share),
        q_now=max(0.0, share),
        per_day=1.0 / allowed if share >= 0 else 1.0 / max(1, due - now),
        told=tuple(told),
    )


def give_days_for(days_allowed: int, own: int | None, priors: Priors) -> int:
    """Half width of the window of a bare date: the row's own, else a share of the interval with a least width."""
    return own if own is not None else max(priors.give_min_days, int(priors.give_share * days_allowed))


def first_of(limits: Sequence[LimitOutlook]) -> tuple[LimitOutlook, DueWindow] | None:
    """The limit that is reached first, and the window of all of them: each date is the earliest any limit names.

    The distance, the hours and the date of one vehicle rise together, so the first of them is found date by date; to
    take them as independent would make windows early and narrow. None if no limit comes before LAST_DAY.
    """
    if not limits:
        return None
    first = min(limits, key=lambda limit: limit.likely)
    end = float(LAST_DAY.toordinal())
    if first.likely >= end:
        return None
    early = min(limit.early for limit in limits)
    late = min(end, *(limit.late for limit in limits))
    window = DueWindow(_day(min(early, first.likely)), _day(first.likely), _day(max(late, first.likely)), first.cause)
    return first, window


def _day(ordinal: float) -> date:
    return date.fromordinal(max(1, math.floor(ordinal + 0.5)))
