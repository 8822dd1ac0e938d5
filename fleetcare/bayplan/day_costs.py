"""What each day costs a service: life thrown away if early, expected harm if late, from when it may be due.

The slope on the early side is that of the penalty of shifting one activity off its own best day (Wildeman, Dekker and
Smit, European Journal of Operational Research 99, 1997, pages 530 to 551: published source); the late side is two plain
numbers a person can set.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate, pairwise

from fleetcare.bayplan.problem import BayProblem, BayService

PPM = 1_000_000
MOST_MOVED_DAYS = 30
"""Moving further than this costs no more."""


@dataclass(frozen=True, slots=True)
class DayChances:
    """For each day d of the horizon, in ppm: early = expected days thrown away, late = expected days overdue if done on
    d, over = the chance of being overdue then."""

    early: tuple[int, ...]
    late: tuple[int, ...]
    over: tuple[int, ...]


def due_points(early: int, likely: int, late: int) -> tuple[tuple[int, int], ...]:
    """The due days a problem takes, from the day it is due before with 10, 50 and 90 in 100 chances.

    The feet lie at twice the distance, and one day later on the late side so that the days rise. Days closer together
    than one are drawn apart. Source: a straight-line form of the three levels, judgement.
    """
    before, behind = max(likely - early, 1), max(late - likely, 1)
    return (
        (likely - 2 * before, 0),
        (likely - before, PPM // 10),
        (likely, PPM // 2),
        (likely + behind, 9 * PPM // 10),
        (likely + 2 * behind + 1, PPM),
    )


def chance_due_by(due: tuple[tuple[int, int], ...], day: int) -> int:
    """The chance in ppm of being due on or before the day: straight lines between the points, rounded down."""
    if not due or day < due[0][0]:
        return 0
    for (left, low), (right, high) in pairwise(due):
        if day < right:
            return low + (high - low) * (day - left) // (right - left)
    return due[-1][1]


def _chances_due_by(due: tuple[tuple[int, int], ...], first: int, end: int) -> list[int]:
    """`chance_due_by` for each day from `first` to before `end`, line by line: thousands of days are asked for."""
    found = [0] * max(0, min(end, due[0][0]) - first)
    for (left, low), (right, high) in pairwise(due):
        rise, run = high - low, right - left
        found += [low + rise * (day - left) // run for day in range(max(first, left), min(end, right))]
    return found + [due[-1][1]] * max(0, end - max(first, due[-1][0]))


def day_chances(due: tuple[tuple[int, int], ...], days: int) -> DayChances:
    """Expected days early and late, and the chance of being overdue, for each day from 0 to days - 1, in ppm."""
    first, last = due[0][0], due[-1][0]
    late_now = sum(_chances_due_by(due, first, min(0, last)))
    if last < 0:
        late_now += PPM * -last
    early_now = sum(PPM - chance for chance in _chances_due_by(due, max(0, first), last))
    if first > 0:
        early_now += PPM * first
    by_day = _chances_due_by(due, -1, days)
    by_now = by_day[1:-1]
    return DayChances(
        tuple(accumulate((chance - PPM for chance in by_now), initial=early_now)),
        tuple(accumulate(by_now, initial=late_now)),
        tuple(by_day[:-1]),
    )


def day_costs(service: BayService, days: int) -> tuple[int, ...]:
    """The price in cents of doing the service, counted by the day of its last stage, for each day of the horizon."""
    if service.cost_by_day:
        return service.cost_by_day
    chances = day_chances(service.due, days)
    a_day_early, a_day_late, once = service.early_cents_per_day, service.late_cents_per_day, service.overdue_cents
    return tuple(
        [
            (a_day_early * early + a_day_late * late + once * over + PPM // 2) // PPM
            for early, late, over in zip(chances.early, chances.late, chances.over, strict=True)
        ]
    )


class DayPrices:
    """Day prices of a problem's services, each worked out when it is first asked for and then kept."""

    def __init__(self, problem: BayProblem) -> None:
        self._problem = problem
        self._known: dict[str, tuple[int, ...]] = {}

    def of(self, name: str) -> tuple[int, ...]:
        """In cents, by day of the last stage; KeyError for a name the problem does not have."""
        if name not in self._known:
            self._known[name] = day_costs(self._problem.service_by_name[name], self._problem.days)
        return self._known[name]


def all_day_costs(problem: BayProblem) -> dict[str, tuple[int, ...]]:
    """The day prices of every service, by name."""
    return {service.name: day_costs(service, problem.days) for service in problem.services}


def move_cents(service: BayService, day: int | None) -> int:
    """The price of beginning on another day than people were told; day None: it is left out altogether."""
    told = service.published
    if told is None or day == told.day:
        return 0
    if day is None:
        return told.move_cents
    return told.move_cents + told.per_day_cents * min(abs(day - told.day), MOST_MOVED_DAYS)


def out_of_use_cents(cents_per_hour: int, minutes: int) -> int:
    """The price of so many minutes out of use, to the nearest cent."""
    return (cents_per_hour * minutes + 30) // 60
