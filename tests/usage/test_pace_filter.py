"""The log-rate filter against worked cases, closed forms and the credibility formula."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

from fleetcare.usage.distance_law import DistanceLaw
from fleetcare.usage.pace_filter import (
    PaceState,
    assimilate,
    assimilate_all,
    dispersion,
    inner_variance,
    start,
    start_weight,
    window_weight,
)
from fleetcare.usage.priors import Priors

# Worked cases computed by an independent implementation.
GOLDEN = json.loads((Path(__file__).parent / "golden.json").read_text())
SHIPPED = Priors()


def after(days: list[float], km: list[float], priors: Priors = SHIPPED) -> PaceState:
    state = start(priors, m0=priors.m0, s0=priors.s0)
    for i in range(1, len(days)):
        state = assimilate(state, np.array([km[i] - km[i - 1]]), np.array([days[i] - days[i - 1]]), priors)
    return state


def test_the_shipped_numbers_are_those_of_the_worked_cases() -> None:
    assert {name: getattr(SHIPPED, name) for name in GOLDEN["hyper"]} == GOLDEN["hyper"]


@pytest.mark.parametrize("case", GOLDEN["cases"], ids=lambda case: case["name"])
def test_states_meet_the_worked_cases(case: dict[str, object]) -> None:
    state = after(case["t"], case["d"])  # type: ignore[arg-type]
    for name in PaceState.__slots__:
        assert getattr(state, name)[0] == pytest.approx(case[name], rel=1e-6, abs=1e-12), name


@pytest.mark.parametrize("case", GOLDEN["cases"], ids=lambda case: case["name"])
def test_due_days_meet_the_worked_cases(case: dict[str, object]) -> None:
    law = DistanceLaw.of(after(case["t"], case["d"]), SHIPPED)  # type: ignore[arg-type]
    days = law.days_to(np.array([case["r"]], dtype=float))[:, 0]
    assert np.abs(days - np.array(case["due"])).max() < 0.05


@pytest.mark.parametrize("w", [0.01, 0.5, 3.0, 20.0])
def test_window_functions_are_the_integrals_they_stand_for(w: float) -> None:
    # Oracle: scipy's adaptive quadrature of the covariance exp(-|s-t|) over the window, in correlation times.
    # The double integral of exp(-|s-t|) over a square, folded along its diagonal.
    double, _ = integrate.quad(lambda lag: 2 * (w - lag) * np.exp(-lag), 0, w, epsabs=1e-13, epsrel=1e-12)
    single, _ = integrate.quad(lambda s: np.exp(-s), 0, w, epsabs=1e-13, epsrel=1e-12)
    arg = np.array([w])
    assert window_weight(arg)[0] == pytest.approx(double / w**2, rel=1e-6)
    assert start_weight(arg)[0] == pytest.approx(single / w, rel=1e-6)
    # Variance given the start: var(average) - weight^2, by the law of total variance.
    assert inner_variance(arg)[0] == pytest.approx(double / w**2 - (single / w) ** 2, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("w", [0.01, 0.5, 3.0, 20.0])
def test_window_functions_are_double_integrals_of_covariances(w: float) -> None:
    # Oracle: scipy.integrate.dblquad over the triangle t < s, twice. Covariance of X over the window exp(-|s-t|), and
    # exp(-|s-t|) - exp(-(s+t)) given X at the start (Uhlenbeck and Ornstein, Phys. Rev. 36, 1930).
    def mean_over_the_square(covariance: Callable[[float, float], float]) -> float:
        half, _ = integrate.dblquad(covariance, 0, w, 0, lambda s: s, epsabs=1e-13, epsrel=1e-11)
        return 2 * float(half) / w**2

    arg = np.array([w])
    free = mean_over_the_square(lambda t, s: np.exp(t - s))
    given_start = mean_over_the_square(lambda t, s: np.exp(t - s) - np.exp(-(s + t)))
    assert window_weight(arg)[0] == pytest.approx(free, rel=1e-6)
    assert inner_variance(arg)[0] == pytest.approx(given_start, rel=1e-6)


def test_window_functions_join_smoothly_at_the_short_end() -> None:
    below, above = np.array([0.999e-3]), np.array([1.001e-3])
    for function in (window_weight, start_weight, inner_variance):
        assert function(below)[0] == pytest.approx(function(above)[0], rel=3e-3)


def test_without_wander_and_drift_the_update_is_the_credibility_formula() -> None:
    # Buehlmann's credibility (1967): weights 1/s0^2 on the fleet's rate and D/psi on the observed one.
    for s0, psi, days, km in ((0.57, 2.0, 50.0, 1700.0), (0.3, 5.0, 50.0, 1700.0), (1.0, 1.0, 50.0, 1700.0)):
        plain = Priors(s0=s0, psi=psi, sig=1e-9, q=0.0, clip=1e9)
        state = after([0.0, days], [0.0, km], plain)
        fleet, observed = np.exp(plain.m0), km / days
        a, k = 1 / s0**2, days / psi
        assert np.exp(state.mu[0]) == pytest.approx((a * fleet + k * observed) / (a + k), rel=1e-6)
        assert state.pmm[0] == pytest.approx(1 / (a + k), rel=1e-6)


def test_a_row_without_days_keeps_its_state() -> None:
    state = after([0.0, 30.0], [0.0, 1200.0])
    again = assimilate(state, np.array([500.0]), np.array([0.0]), SHIPPED)
    assert all(getattr(again, name)[0] == getattr(state, name)[0] for name in PaceState.__slots__)


def test_many_vehicles_at_once_are_the_same_as_one_by_one() -> None:
    cases = [case for case in GOLDEN["cases"] if len(case["t"]) > 1]
    rounds = max(len(case["t"]) for case in cases) - 1
    km, days = np.zeros((rounds, len(cases))), np.zeros((rounds, len(cases)))
    for column, case in enumerate(cases):
        spans = len(case["t"]) - 1
        km[rounds - spans :, column] = np.diff(case["d"])
        days[rounds - spans :, column] = np.diff(case["t"])
    fleet = start(SHIPPED, m0=np.full(len(cases), SHIPPED.m0), s0=np.full(len(cases), SHIPPED.s0))
    fleet = assimilate_all(fleet, km, days, SHIPPED)
    for column, case in enumerate(cases):
        for name in PaceState.__slots__:
            assert getattr(fleet, name)[column] == pytest.approx(case[name], rel=1e-9, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 5000), st.floats(0.5, 400)), min_size=1, max_size=12))
def test_variances_stay_sound_whatever_the_increments(spans: list[tuple[float, float]]) -> None:
    state = start(SHIPPED, m0=SHIPPED.m0, s0=SHIPPED.s0)
    for km, days in spans:
        state = assimilate(state, np.array([km]), np.array([days]), SHIPPED)
    assert state.pmm[0] > 0
    assert state.pxx[0] > 0
    assert state.pmm[0] * state.pxx[0] - state.pmx[0] ** 2 > -1e-12
    assert np.isfinite(state.mu[0])
    assert dispersion(state, SHIPPED)[0] > 0


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 20000), st.floats(1, 300), st.floats(1.01, 3))
def test_a_larger_increment_never_makes_the_pace_slower(km: float, days: float, factor: float) -> None:
    less, more = after([0, days], [0, km]), after([0, days], [0, km * factor])
    assert more.mu[0] >= less.mu[0] - 1e-12


def test_an_hour_meter_is_the_same_filter_in_another_unit() -> None:
    speed = 32.0
    hours = replace(SHIPPED, m0=SHIPPED.m0 - np.log(speed))
    in_km, in_hours = after([0, 30, 60], [0, 900, 2100]), after([0, 30, 60], [0, 900 / speed, 2100 / speed], hours)
    assert in_hours.mu[0] == pytest.approx(in_km.mu[0] - np.log(speed), abs=1e-12)
    assert in_hours.pmm[0] == pytest.approx(in_km.pmm[0], rel=1e-12)
