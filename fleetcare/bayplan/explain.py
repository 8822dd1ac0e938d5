"""Why a visit is on its day, in at most three reasons with figures; and what each other day would cost, or what forbids
it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from fleetcare.bayplan.calm import service_days
from fleetcare.bayplan.cost import blocked
from fleetcare.bayplan.day_costs import PPM, day_chances, day_costs
from fleetcare.bayplan.plan import BayPlan, Visit, WorkKind
from fleetcare.bayplan.problem import DAY_MIN, BayProblem, BayService, Shift
from fleetcare.language import later

NEAR_DAYS = 28
"""Other days within so many are priced."""
DELAY_DAYS = 14
"""The delay by which services are compared: which of them suffers most."""
MOST_REASONS = 3


class Forbidden(StrEnum):
    """What forbids a day, the first that does."""

    NOBODY = later("nobody is there")
    TAKEN = later("the bay is taken")
    """Somebody would be there, and something inked or in its calendar holds the bay."""
    AWAY = later("the vehicle is away")
    WINDOW = later("a service may not be done then")
    ORDER = later("too close to a service it comes after or before")
    OTHER_VISIT = later("the vehicle is in the workshop then already")
    SKILL = later("nobody there may do it")
    ROOM = later("no hands or no bay are left")


@dataclass(frozen=True, slots=True)
class DayPrice:
    """What moving a visit whole to a day would cost more (less than nothing: it would save), or what forbids it."""

    day: int
    extra_cents: int | None
    forbidden: Forbidden | None = None


class DayPricer(Protocol):
    """Prices other days of a visit exactly, everything else as it stands."""

    def other_days(self, problem: BayProblem, plan: BayPlan, visit: Visit, days: Sequence[int]) -> tuple[DayPrice, ...]:
        """For each day: the price of the plan with this visit, moved whole, beginning on it, less that of the plan."""
        ...


class ReasonKind(StrEnum):
    """What a reason is about."""

    LEADS = "leads"
    """This service would cost so much more a fortnight later; it leads the visit."""
    TOGETHER = "together"
    """Doing these services in one visit saves so much fetching and setting up."""
    NEXT_BEST = "next best"
    """The next best day costs so much more."""
    ONLY_DAY = "only day"
    """No other day within a month is possible."""
    TOLD = "told"
    """People have been told this day; moving costs so much."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason. cents: the figure; names: services it is about; day: another day it is about.

    late_cents: how much of the figure is for being late, before the life that waiting keeps is taken off; chance: that
    the service is overdue on that day, in ppm. Both nought where its prices do not come from due dates.
    """

    kind: ReasonKind
    cents: int
    names: tuple[str, ...] = ()
    day: int | None = None
    late_cents: int = 0
    chance: int = 0

    @property
    def kept_cents(self) -> int:
        """What waiting would keep of its life."""
        return max(0, self.late_cents - self.cents)


@dataclass(frozen=True, slots=True)
class Explained:
    """A visit with its reasons, the most telling first, and the other days by day."""

    visit: Visit
    day: int
    reasons: tuple[Reason, ...]
    other_days: tuple[DayPrice, ...]


def explain(problem: BayProblem, plan: BayPlan, visit: Visit, pricer: DayPricer) -> Explained:
    """Why this visit of the plan is on its day. The prices of other days are differences of whole plans, to the
    cent."""
    day = blocked(problem, visit)[0] // DAY_MIN
    days = [on for on in range(max(0, day - NEAR_DAYS), min(problem.days, day + NEAR_DAYS + 1)) if on != day]
    prices = pricer.other_days(problem, plan, visit, days)
    reasons = [
        *_leads(problem, visit, day),
        *_together(problem, visit),
        *_next_best(prices),
        *_told(problem, visit, day),
    ]
    return Explained(visit, day, tuple(reasons[:MOST_REASONS]), prices)


def _leads(problem: BayProblem, visit: Visit, day: int) -> list[Reason]:
    """The service that loses most by a delay, if any does."""
    later = min(day + DELAY_DAYS, problem.days - 1)
    losses = []
    for name in visit.services:
        prices = day_costs(problem.service_by_name[name], problem.days)
        losses.append((prices[later] - prices[day], name))
    if later == day or not losses:
        return []
    cents, name = max(losses, key=lambda pair: (pair[0], pair[1]))
    if cents <= 0:
        return []
    late, chance = _lateness(problem.service_by_name[name], problem.days, day, later)
    return [Reason(ReasonKind.LEADS, cents, (name,), later, late, chance)]


def _lateness(service: BayService, days: int, day: int, later: int) -> tuple[int, int]:
    """How much dearer being late is on a later day, in cents, and the chance of being overdue on it, in ppm."""
    if service.cost_by_day:
        return 0, 0
    chances = day_chances(service.due, days)
    late, over = (each[later] - each[day] for each in (chances.late, chances.over))
    return round((service.late_cents_per_day * late + service.overdue_cents * over) / PPM), chances.over[later]


def _together(problem: BayProblem, visit: Visit) -> list[Reason]:
    """What one visit saves against one for each service: arrivals, and set-ups that several of them want."""
    names = visit.services
    if len(names) < 2:
        return []
    saved = (len(names) - 1) * problem.vehicle_by_name[visit.vehicle].arrive_cents
    for work in visit.work:
        if work.kind is WorkKind.SETUP:
            wanting = sum(work.setup in problem.service_by_name[name].setups for name in names)
            saved += (wanting - 1) * problem.setup_by_name[work.setup].cents
    return [Reason(ReasonKind.TOGETHER, saved, names)] if saved > 0 else []


def _next_best(prices: Sequence[DayPrice]) -> list[Reason]:
    open_days = [price for price in prices if price.extra_cents is not None]
    if not open_days:
        return [Reason(ReasonKind.ONLY_DAY, 0)]
    best = min(open_days, key=lambda price: (price.extra_cents or 0, price.day))
    return [Reason(ReasonKind.NEXT_BEST, best.extra_cents or 0, (), best.day)]


def _told(problem: BayProblem, visit: Visit, day: int) -> list[Reason]:
    told = [problem.service_by_name[name].published for name in visit.services]
    cents = sum(one.move_cents for one in told if one is not None and one.day == day)
    return [Reason(ReasonKind.TOLD, cents, visit.services)] if cents else []


def why_not(problem: BayProblem, plan: BayPlan, visit: Visit, day: int) -> Forbidden:
    """The first rule that keeps this visit from beginning on the day; `ROOM` if no single one does."""
    return Obstacles(problem, plan, visit).on(day)


class Obstacles:
    """What keeps one visit from other days, all else as planned: looked up once, then asked day by day."""

    def __init__(self, problem: BayProblem, plan: BayPlan, visit: Visit) -> None:
        self._problem = problem
        self._vehicle = problem.vehicle_by_name[visit.vehicle]
        self._services = [problem.service_by_name[name] for name in visit.services]
        others = [one for one in plan.visits if one.vehicle == visit.vehicle and one is not visit and one != visit]
        # What a service comes after, or before, is done on the same vehicle.
        days = service_days(problem, BayPlan(plan.problem, tuple(others)))
        names = {one.name for one in self._services}
        self._first = max(
            (
                days[each.service].last + each.gap_days
                for one in self._services
                for each in one.after
                if each.service in days
            ),
            default=0,
        )
        self._last = min(
            (
                days[other.name].first - each.gap_days
                for other in problem.services
                if other.name in days
                for each in other.after
                if each.service in names
            ),
            default=problem.days,
        )
        self._stays = [blocked(problem, one) for one in others]
        self._shifts: dict[int, list[Shift]] = {}
        for shift in problem.shifts:
            if shift.depot == self._vehicle.depot and shift.people:
                self._shifts.setdefault(shift.day, []).append(shift)

    def on(self, day: int) -> Forbidden:
        """The first rule that keeps the visit from beginning on the day; `ROOM` if no single one does."""
        shifts = self._shifts.get(day, [])
        if not shifts:
            return Forbidden.NOBODY
        if all(_meets_away(shift, self._vehicle.away) for shift in shifts):
            return Forbidden.AWAY
        if any(not one.not_before <= day <= one.not_after for one in self._services):
            return Forbidden.WINDOW
        if not self._first <= day <= self._last:
            return Forbidden.ORDER
        if any(begins // DAY_MIN <= day <= (ends - 1) // DAY_MIN for begins, ends in self._stays):
            return Forbidden.OTHER_VISIT
        able = {skill for shift in shifts for skill in self._problem.skills_of(shift)}
        if any(one.stages[0].skill and one.stages[0].skill not in able for one in self._services):
            return Forbidden.SKILL
        return Forbidden.ROOM


def _meets_away(shift: Shift, away: Sequence[tuple[int, int]]) -> bool:
    return any(shift.starts_at < back and gone < shift.ends_at for gone, back in away)
