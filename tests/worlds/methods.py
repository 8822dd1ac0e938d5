"""Ways to say when a service is due: what people do in a spreadsheet, two simple laws, and the program's own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy import optimize, special

from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.fitting import MOST_SPANS, Trial, Uses, fit_numbers
from fleetcare.usage.pace_filter import PaceState, assimilate, start
from fleetcare.usage.priors import Priors
from fleetcare.usage.running_days import RunningDays, season_days
from fleetcare.usage.standing import STOOD_BELOW, spells_passed_over
from tests.worlds.cells import SURVEY_KM_PER_DAY, Cell, Visible
from tests.worlds.scores import CAP_DAYS, CHANCES, ZS, Floats, of_date

FLAT = (1.0,) * 12
Method = Callable[[Cell, Cell], Floats]
"""(training cell, test cell) -> (19, k) days from the last reading. Only the truth of the training cell may be used."""


@dataclass(frozen=True, slots=True)
class Ours:
    """The program's own forecast. in_service: the date counts as a reading, where it lies 30 days back or more.

    passing_over: spells of rest that are over are passed over, as the program does.
    """

    priors: Priors = field(default_factory=Priors)
    in_service: bool = False
    passing_over: bool = True

    @property
    def clock(self) -> RunningDays:
        """The clock of a vehicle that is not laid up."""
        return RunningDays.of(season_days(self.priors.season))

    def state(self, visible: Visible) -> PaceState:
        """What is believed of each vehicle after the readings in sight."""
        ordinals, km = visible.ordinals, visible.km
        if self.in_service:
            old_enough = ordinals[0] - visible.in_service >= self.priors.anchor_min_days
            ordinals = np.vstack((np.where(old_enough, visible.in_service, ordinals[0]), ordinals))
            km = np.vstack((np.where(old_enough, 0.0, km[0]), km))
        days = np.diff(self.clock.at(ordinals), axis=0)
        count = ordinals.shape[1]
        state = start(self.priors, m0=np.full(count, self.priors.m0), s0=np.full(count, self.priors.s0))
        gained = np.diff(km, axis=0)
        over = (
            rest_passed_over(gained, np.diff(ordinals, axis=0).astype(float))
            if self.passing_over
            else np.zeros(days.shape, dtype=bool)
        )
        for km_, span, stood in zip(gained, days, over, strict=True):
            state = assimilate(state, km_, np.where(stood, 0.0, span), self.priors)
            state = replace(state, back=state.back + np.where(stood & (state.n > 0), span, 0.0))
        return state

    def law(self, visible: Visible) -> DistanceLaw:
        """The law of the distance ahead of each vehicle."""
        return DistanceLaw.of(self.state(visible), self.priors)

    def calendar_days(self, visible: Visible, operational: Floats) -> Floats:
        """Days after the last reading for operational days (levels, k) after it."""
        passed = self.clock.at(visible.last)
        return self.clock.ordinals_at(passed + operational) - visible.last

    def days(self, visible: Visible, remaining: Floats, levels: Sequence[float] = ZS) -> Floats:
        """Days until that distance is reached, (levels, k)."""
        return self.calendar_days(visible, self.law(visible).days_to(remaining, levels))

    def __call__(self, train: Cell, test: Cell) -> Floats:
        return self.days(test.visible, test.remaining)


def rest_passed_over(gained: Floats, days: Floats) -> np.ndarray[tuple[int, ...], np.dtype[np.bool_]]:
    """(spans, k) the spans of spells of rest that are over, vehicle by vehicle."""
    over = np.zeros(gained.shape, dtype=bool)
    for vehicle in np.flatnonzero((gained < STOOD_BELOW * gained.mean(axis=0)).any(axis=0)) if len(gained) else ():
        over[sorted(spells_passed_over(gained[:, vehicle].tolist(), days[:, vehicle].tolist())), vehicle] = True
    return over


def fitted_numbers(visible: Visible, shipped: Priors) -> Priors:
    """The numbers the program learns from these readings and nothing else; the season stays as shipped."""
    shape = (MOST_SPANS, visible.ordinals.shape[1])
    km, days = np.zeros(shape), np.zeros(shape)
    rounds = min(MOST_SPANS, len(visible.ordinals) - 1)
    km[:rounds] = np.diff(visible.km, axis=0)[:rounds]
    days[:rounds] = np.diff(Ours(shipped).clock.at(visible.ordinals), axis=0)[:rounds]
    uses = Uses(km, days, np.zeros(shape), np.full(shape[1], np.nan))
    return fit_numbers(Trial(uses), shipped, vehicles=uses.vehicles)


def without_season(ours: Ours) -> Ours:
    """The same with every month alike."""
    return replace(ours, priors=replace(ours.priors, season=FLAT))


def year_average_days(cell: Cell, mean_per_day: float = SURVEY_KM_PER_DAY) -> Floats:
    """Remaining distance over the average of the last twelve months in sight; the survey's mean for one reading."""
    days, km = cell.visible.year_sums()
    return _days(cell.remaining, np.where(days > 0, km / np.maximum(days, 1.0), mean_per_day))


def last_two_days(cell: Cell, mean_per_day: float = SURVEY_KM_PER_DAY) -> Floats:
    """Remaining distance over the pace between the last two readings."""
    if cell.n == 1:
        return year_average_days(cell, mean_per_day)
    days = (cell.visible.ordinals[-1] - cell.visible.ordinals[-2]).astype(float)
    return _days(cell.remaining, (cell.visible.km[-1] - cell.visible.km[-2]) / days)


def lifetime_days(cell: Cell) -> Floats:
    """Remaining distance over odometer by age."""
    age = np.maximum(cell.visible.last - cell.visible.in_service, 1)
    return _days(cell.remaining, cell.visible.km[-1] / age)


def _days(remaining: Floats, per_day: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.minimum(CAP_DAYS, np.where(per_day > 0, remaining / per_day, np.inf))


def bare(point: Callable[[Cell], Floats]) -> Method:
    """The date alone, as a spreadsheet gives it."""
    return lambda train, test: of_date(point(test))


def with_learned_window(point: Callable[[Cell], Floats]) -> Method:
    """The date with the best window it could have: the ratios true / said of this very cell, over other vehicles.

    No spreadsheet can do that: it would need thousands of true due dates.
    """

    def given(train: Cell, test: Cell) -> Floats:
        ratios = np.quantile(np.minimum(train.truth, CAP_DAYS) / np.maximum(point(train), 1e-3), CHANCES)
        return np.asarray(ratios[:, None] * point(test)[None, :])

    return given


@dataclass(frozen=True, slots=True)
class GammaProcess:
    """Distance over u days is gamma(kappa u) over a rate that is gamma(a, b) over vehicles: P(T <= u) is a beta prime.

    P(T_r <= u) = I_{b/(b+r)}(a, kappa u); an increment d over D days adds kappa D to a and d to b.
    """

    a: float
    b: float
    kappa: float

    @classmethod
    def fitted(cls, visible: Visible) -> GammaProcess:
        """The numbers that make these increments likeliest."""
        days = np.diff(visible.ordinals, axis=0).astype(float)
        km = np.maximum(np.diff(visible.km, axis=0), 1.0)

        def minus_log_likelihood(theta: Floats) -> float:
            a, b, kappa = np.exp(theta)
            shape = a + kappa * days.sum(axis=0)
            each = np.sum((kappa * days - 1) * np.log(km) - special.gammaln(kappa * days), axis=0)
            each += a * np.log(b) - special.gammaln(a) + special.gammaln(shape) - shape * np.log(b + km.sum(axis=0))
            return -float(each.mean())

        begin = np.log([3.0, 12.0, 0.1])
        found = optimize.minimize(minus_log_likelihood, begin, method="Nelder-Mead", options={"maxiter": 150})
        a, b, kappa = np.exp(found.x)
        return cls(float(a), float(b), float(kappa))

    def days(self, visible: Visible, remaining: Floats) -> Floats:
        """(19, k) days, read off a table of the law on a grid of days that rises by 6 % a step."""
        a = self.a + self.kappa * (visible.last - visible.ordinals[0])
        b = self.b + visible.km[-1] - visible.km[0]
        grid = np.exp(np.arange(np.log(0.5), np.log(4 * CAP_DAYS), 0.06))
        chance = special.betainc(a[:, None], self.kappa * grid[None, :], (b / (b + remaining))[:, None])
        log_days = np.log(grid)
        return np.array([np.exp(np.interp(CHANCES, row, log_days)) for row in chance]).T

    def __call__(self, train: Cell, test: Cell) -> Floats:
        return self.days(test.visible, test.remaining)
