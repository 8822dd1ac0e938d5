"""How a fleet learns its own numbers of the pace: forecasts from its earlier readings, held against its later ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.learned import LEARNED
from fleetcare.usage.pace_filter import PaceState, assimilate, assimilate_all, start
from fleetcare.usage.priors import Priors

Floats = npt.NDArray[np.float64]

ORIGINS = (0, 1, 2, 4, 7, 12, 18)
"""A forecast is made after so many spans ..."""
AHEAD = (1, 3, 6, 12)
"""... for the next so many."""
MOST_SPANS = ORIGINS[-1] + AHEAD[-1]
"""Spans of one vehicle that are looked at."""
WORST = 16.0
"""A miss counts for four standard deviations at most: a typing error or a lay-up nobody declared is no reason to widen
every window. Measured on simulated cars: without it their windows are too wide, with a Student law too narrow."""
LEAST_RATE = 0.02
"""A pace of nought is taken for this share of the vehicle's own mean, so that it has a logarithm."""
PULL = 0.7
"""The pull to the shipped numbers weighs 1/0.7 against one vehicle and 1/0.7k against k: few do not lead far away."""
WIDTHS = {"m0": 1.0, "s0": 0.4, "psi": 0.5, "sig": 0.4, "tau": 0.5, "q": 0.8}
"""How far a garage's own number may well lie from the shipped one: of m0 itself, of the others the log."""
MOST_WIDTHS = 5.0
"""No logarithm goes further than so many widths: made-up readings of perfect regularity must not close all windows."""
MOST_TRIES = 400
"""Numbers tried before the search ends, found or not; some 200 are usual."""
NEAR = 0.01
"""The search ends when it knows the numbers to a hundredth of their logs, which no window shows."""

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Uses:
    """Spans of k vehicles, oldest first from the top of each column; days of nought after the last one.

    km, days: (rounds, k), everyday distance and operational days. wider: (rounds, k), variance that the level gains
    before the span. named_m0: (k,), mean log rate that the vehicle's people named; nan where nobody did.
    """

    km: Floats
    days: Floats
    wider: Floats
    named_m0: Floats

    @classmethod
    def of(cls, vehicles: list[tuple[Floats, Floats, Floats, float]]) -> Uses:
        """From (km, days, wider, named_m0) of each vehicle; the first three (spans,), at most `MOST_SPANS` each."""
        km, days, wider = (np.zeros((MOST_SPANS, len(vehicles))) for _ in range(3))
        for column, (gained, spans, more, _) in enumerate(vehicles):
            km[: len(spans), column] = gained
            days[: len(spans), column] = spans
            wider[: len(spans), column] = more
        return cls(km, days, wider, np.array([named for *_, named in vehicles], dtype=float))

    @property
    def vehicles(self) -> int:
        """How many there are."""
        return len(self.named_m0)

    def some(self, which: npt.NDArray[np.bool_]) -> Uses:
        """Those vehicles; which: (k,)."""
        return Uses(self.km[:, which], self.days[:, which], self.wider[:, which], self.named_m0[which])


@dataclass(frozen=True, slots=True)
class _Course:
    """What is forecast at one origin. u, y: (horizons, k) operational days ahead and the log rate over them, with
    seen: (horizons, k) True where the vehicle has them."""

    u: Floats
    y: Floats
    seen: npt.NDArray[np.bool_]


class Trial:
    """Forecasts of the later readings of some vehicles from their earlier ones, for any numbers.

    Source of the score: negative log density of a normal law, its square capped (`WORST`); Huber (1964) for the cap.
    """

    def __init__(self, uses: Uses) -> None:
        # Longest first: after each round only those with more spans go on.
        order = np.argsort(-np.count_nonzero(uses.days > 0, axis=0), kind="stable")
        self._km, self._days, self._wider = uses.km[:, order], uses.days[:, order], uses.wider[:, order]
        self._named = uses.named_m0[order]
        self._left = np.count_nonzero(self._days > 0, axis=1)
        self._courses = {origin: course for origin in ORIGINS if (course := self._course(origin)) is not None}
        self.forecasts = sum(int(course.seen.sum()) for course in self._courses.values())
        """How many forecasts are held against what was read."""

    def _course(self, origin: int) -> _Course | None:
        through_km = np.vstack((np.zeros((1, self._km.shape[1])), np.cumsum(self._km, axis=0)))
        through_days = np.vstack((np.zeros((1, self._days.shape[1])), np.cumsum(self._days, axis=0)))
        spans = np.count_nonzero(self._days > 0, axis=0)
        goes_on = np.flatnonzero((spans > origin) & (through_km[-1] > 0))
        if not goes_on.size:
            return None
        here = slice(0, int(goes_on[-1]) + 1)
        ends = np.minimum(origin + np.array(AHEAD), MOST_SPANS)[:, None]
        seen = (spans[None, here] >= origin + np.array(AHEAD)[:, None]) & (through_km[-1, here] > 0)
        columns = np.arange(here.stop)[None, :]
        u = np.where(seen, through_days[ends, columns] - through_days[origin, here], 1.0)
        gained = np.where(seen, through_km[ends, columns] - through_km[origin, here], 1.0)
        mean = np.where(through_km[-1, here] > 0, through_km[-1, here], 1.0) / np.maximum(through_days[-1, here], 1e-9)
        y = np.log(np.maximum(gained / u, LEAST_RATE * mean))
        return _Course(u, y, seen)

    def score(self, priors: Priors) -> float:
        """Mean of log(V)/2 + min((y - m)^2/V, 16)/2 over all forecasts; 0 if there is none."""
        if not self.forecasts:
            return 0.0
        is_named = np.isfinite(self._named)
        state = start(
            priors,
            m0=np.where(is_named, self._named, priors.m0),
            s0=np.where(is_named, priors.own_rate_s0, priors.s0),
        )
        total = 0.0
        for origin, following in zip(ORIGINS, (*ORIGINS[1:], None), strict=True):
            course = self._courses.get(origin)
            if course is None:
                break
            total += _miss(course, _first(state, course.u.shape[1]), priors)
            if following is not None:
                state = self._carried(_first(state, int(self._left[origin])), origin, following, priors)
        return total / self.forecasts

    def _carried(self, state: PaceState, origin: int, following: int, priors: Priors) -> PaceState:
        """The states of the vehicles that go on, after the spans from one origin to the next."""
        here = (slice(origin, following), slice(0, len(state.mu)))
        km, days, wider = self._km[here], self._days[here], self._wider[here]
        if not wider.any():
            return assimilate_all(state, km, days, priors)
        for gained, span, more in zip(km, days, wider, strict=True):
            state = assimilate(replace(state, pmm=state.pmm + more), gained, span, priors)
        return state


def _miss(course: _Course, state: PaceState, priors: Priors) -> float:
    mean, variance = DistanceLaw.of(state, priors).moments(course.u)
    off = np.minimum((course.y - mean) ** 2 / variance, WORST)
    return float(np.sum((np.log(variance) + off)[course.seen])) / 2.0


def _first(state: PaceState, count: int) -> PaceState:
    if len(state.mu) == count:
        return state
    return PaceState(*(getattr(state, name)[:count] for name in PaceState.__slots__))


def fit_numbers(
    trial: Trial,
    shipped: Priors,
    *,
    vehicles: int,
    fixed: frozenset[str] = frozenset(),
    progress: Progress | None = None,
) -> Priors:
    """The numbers with which the later readings of a fleet are foretold best, pulled to the shipped ones.

    vehicles: how many took part; the pull weighs as 1/(0.7 * vehicles). fixed: numbers that stay as they are.
    progress: told how many numbers were tried, and how many may be. Raises nothing. The same in, the same out.
    Method: Nelder and Mead (1965) over m0 and the logs of the others.
    """
    # Here and not above: the server imports this file, and fits once a month.
    from scipy.optimize import minimize

    free = [name for name in LEARNED if name not in fixed]
    if not free or not trial.forecasts:
        return shipped
    widths = np.array([WIDTHS[name] for name in free])
    home = np.array([_as_searched(name, getattr(shipped, name)) for name in free])
    tries = 0

    def loss(theta: Floats) -> float:
        nonlocal tries
        tries += 1
        if progress is not None and tries % 10 == 0:
            progress(min(tries, MOST_TRIES), MOST_TRIES)
        away = (theta - home) / widths
        return trial.score(_with(shipped, free, theta)) + 0.5 * float(away @ away) / (PULL * vehicles)

    bounds = [
        (h - MOST_WIDTHS * w, h + MOST_WIDTHS * w) if name != "m0" else (-19.0, 19.0)
        for name, h, w in zip(free, home, widths, strict=True)
    ]
    corners = np.vstack((home, home + np.diag(widths / 2.0)))
    found = minimize(
        loss,
        home,
        method="Nelder-Mead",
        bounds=bounds,
        options={"initial_simplex": corners, "maxfev": MOST_TRIES, "xatol": NEAR, "fatol": NEAR**2},
    )
    if progress is not None:
        progress(MOST_TRIES, MOST_TRIES)
    return _with(shipped, free, found.x)


def _as_searched(name: str, figure: float) -> float:
    # A drift of nought has no logarithm; it is met with one that nobody would see.
    return figure if name == "m0" else float(np.log(max(figure, 1e-6)))


def _with(priors: Priors, free: list[str], theta: Floats) -> Priors:
    figures = {
        name: float(value) if name == "m0" else float(np.exp(value)) for name, value in zip(free, theta, strict=True)
    }
    return replace(priors, **figures)  # type: ignore[arg-type]
