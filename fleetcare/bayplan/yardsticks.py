"""Sixteen rules a person would plan by, to hold a plan against: what they cost is what planning saves.

A rule says which services come together and on which day they are wanted; a placer then finds the first day from there
on on which they can be done, beside what is planned already.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.bayplan.day_costs import chance_due_by
from fleetcare.bayplan.plan import BayPlan, Visit, in_order
from fleetcare.bayplan.problem import BayProblem, BayService

PPM = 1_000_000
ALL_DAYS = 400
THRESHOLDS = (14, 30, 45, 60, 90, ALL_DAYS)
MONTH_DAYS = 28

Placer = Callable[[BayProblem, Sequence[Visit], str, Sequence[str], int], Visit | None]
"""(problem, visits that stand, vehicle, services, day) to a visit that begins on that day beside them; None if none
can."""


class Habit(StrEnum):
    """How a person goes about it."""

    NEXT = "each service by itself on the next day there is"
    MONTHLY = "one day a month for all that is due before the next"
    TOGETHER = "when one is due, do all that are due within so many days"


@dataclass(frozen=True, slots=True)
class Yardstick:
    """One rule. From which day of a service it counts: the likely or the early one. within_days: for TOGETHER."""

    habit: Habit
    is_early: bool
    within_days: int = 0

    @property
    def name(self) -> str:
        """Its name in a table."""
        words = f"{self.habit.name.lower()} {self.within_days}" if self.within_days else self.habit.name.lower()
        return f"{words}, {'early' if self.is_early else 'likely'}"


YARDSTICKS = tuple(
    [Yardstick(habit, is_early) for habit in (Habit.NEXT, Habit.MONTHLY) for is_early in (False, True)]
    + [Yardstick(Habit.TOGETHER, is_early, days) for days in THRESHOLDS for is_early in (False, True)]
)


@dataclass(frozen=True, slots=True)
class Measured:
    """What a rule led to. unplaced: services that must be done and for which no day was found."""

    yardstick: Yardstick
    plan: BayPlan
    unplaced: tuple[str, ...]


def day_of_chance(service: BayService, ppm: int) -> int:
    """The first day by which the service is due with that chance; of one with day prices alone its cheapest day."""
    if not service.due:
        return service.cost_by_day.index(min(service.cost_by_day))
    day = service.due[0][0]
    while chance_due_by(service.due, day) < ppm:
        day += 1
    return day


def follow(problem: BayProblem, yardstick: Yardstick, place: Placer) -> Measured:
    """Plans by one rule: vehicles and their groups in the order of the days they are wanted."""
    wanted = {
        one.name: max(0, day_of_chance(one, PPM // 10 if yardstick.is_early else PPM // 2)) for one in problem.services
    }
    groups: list[tuple[int, str, list[str]]] = []
    for vehicle in problem.vehicles:
        own = [one for one in problem.services if one.vehicle == vehicle.name]
        own = [one for one in own if one.is_required or wanted[one.name] < problem.days]
        groups += [(day, vehicle.name, names) for day, names in _groups(problem, yardstick, own, wanted)]
    groups.sort(key=lambda group: (group[0], group[1], group[2]))
    visits: list[Visit] = []
    unplaced: list[str] = []
    for day, vehicle_name, names in groups:
        for part in _placed(problem, visits, place, vehicle_name, names, day):
            if isinstance(part, str):
                unplaced.append(part)
            else:
                visits.append(part)
    done = {name for visit in visits for name in visit.services}
    skipped = tuple(one.name for one in problem.services if one.name not in done)
    missing = tuple(name for name in skipped if problem.service_by_name[name].is_required)
    return Measured(yardstick, in_order(BayPlan(problem.name, tuple(visits), skipped)), missing)


def _groups(
    problem: BayProblem, yardstick: Yardstick, own: list[BayService], wanted: dict[str, int]
) -> list[tuple[int, list[str]]]:
    """Services that come together, each group with the day it is wanted."""
    left = sorted(own, key=lambda one: (wanted[one.name], one.name))
    if yardstick.habit is Habit.NEXT:
        return [(_within(problem, one, wanted[one.name]), [one.name]) for one in left]
    found: list[tuple[int, list[str]]] = []
    if yardstick.habit is Habit.MONTHLY:
        for month in range(0, problem.days, MONTH_DAYS):
            # The day before which they are due lies before the next day of this kind.
            due = [one for one in left if wanted[one.name] < month + MONTH_DAYS]
            if due:
                found += [(month, names) for names in _apart(due)]
                left = [one for one in left if one not in due]
        return found
    while left:
        day = wanted[left[0].name]
        due = [one for one in left if wanted[one.name] <= day + yardstick.within_days]
        found += [(_within(problem, due[0], day), names) for names in _apart(due)]
        left = [one for one in left if one not in due]
    return found


def _within(problem: BayProblem, service: BayService, day: int) -> int:
    """The day, or the last week in which the service may still be done."""
    return max(service.not_before, min(day, service.not_after - 7, problem.days - 8), 0)


def _apart(services: list[BayService]) -> list[list[str]]:
    """A service and those it comes after are not done together."""
    names = {one.name for one in services}
    follows = [one.name for one in services if any(each.service in names for each in one.after)]
    return [[one.name for one in services if one.name not in follows], *([name] for name in follows)]


def _placed(
    problem: BayProblem, visits: list[Visit], place: Placer, vehicle: str, names: list[str], day: int
) -> list[Visit | str]:
    """The group on the first day from `day` on that takes it whole; else in halves; else names that found no day."""
    days = sorted({shift.day for shift in problem.shifts if shift.depot == problem.vehicle_by_name[vehicle].depot})
    # Nothing free from there on: a person looks at the days before as well.
    for on in [one for one in days if one >= day] + [one for one in reversed(days) if one < day]:
        made = place(problem, visits, vehicle, names, on)
        if made is not None:
            return [made]
    if len(names) == 1:
        return [names[0]]
    half = len(names) // 2
    first = _placed(problem, visits, place, vehicle, names[:half], day)
    more = [one for one in first if isinstance(one, Visit)]
    return [*first, *_placed(problem, [*visits, *more], place, vehicle, names[half:], day)]
