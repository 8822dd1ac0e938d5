"""The law of the distance ahead and its quantiles, against simulation, inversion and bisection."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq

from fleetcare.usage.distance_law import LEVELS, DistanceLaw
from fleetcare.usage.pace_filter import assimilate, start
from fleetcare.usage.priors import Priors
from tests.usage.test_pace_filter import SHIPPED, after


def random_laws(count: int, seed: int) -> tuple[DistanceLaw, np.random.Generator]:
    """Laws of vehicles drawn from the shipped numbers, each with 0 to 6 increments."""
    rng = np.random.default_rng(seed)
    state = start(SHIPPED, m0=np.full(count, SHIPPED.m0), s0=np.full(count, SHIPPED.s0))
    rate = np.exp(rng.normal(SHIPPED.m0, SHIPPED.s0, count))
    for _ in range(6):
        days = np.where(rng.random(count) < 0.3, 0.0, rng.uniform(5, 60, count))
        safe = np.maximum(days, 1.0)
        state = assimilate(state, days * rate * rng.gamma(safe / 2, 2 / safe), days, SHIPPED)
    return DistanceLaw.of(state, SHIPPED), rng


def test_levels_are_the_deciles_of_the_normal_law() -> None:
    # Oracle: scipy.stats.norm.
    assert np.allclose(stats.norm.cdf(LEVELS), [0.1, 0.5, 0.9], atol=1e-12)


def test_the_fast_solver_is_within_a_twentieth_of_a_day_of_the_root() -> None:
    law, rng = random_laws(3000, 5)
    distance = np.exp(law.mu) * np.exp(rng.uniform(0, np.log(2500), 3000))
    levels = stats.norm.ppf([0.05, 0.10, 0.25, 0.5, 0.75, 0.90, 0.95])
    days = law.days_to(distance, levels)
    checked = 0
    for column in range(0, 3000, 10):
        one = law.rows(np.array([column]))
        for row, z in enumerate(levels):

            def off(y: float, one: DistanceLaw = one, z: float = z, r: float = distance[column]) -> float:
                return float(one.z_at(np.array([np.exp(y)]), np.array([r]))[0] - z)

            if off(0.0) < 0 < off(float(np.log(2000))):
                # Oracle: scipy.optimize.brentq on the law itself.
                root = np.exp(brentq(off, 0.0, np.log(2000), xtol=1e-12))
                assert abs(days[row, column] - root) < 0.05
                checked += 1
    assert checked > 1500


def test_quantiles_invert_the_law() -> None:
    law, rng = random_laws(500, 8)
    days = rng.uniform(5, 1500, 500)
    for z in LEVELS:
        distance = law.quantile(days, z)
        # The distance not passed with the chance of z within u days is reached by then with the chance of -z.
        assert np.abs(law.z_at(days, distance) + z).max() < 1e-9


def test_the_chance_to_have_reached_a_distance_rises_with_time() -> None:
    law, _ = random_laws(500, 9)
    grid = np.geomspace(0.5, 4000, 300)
    for r in (100.0, 3000.0, 20000.0):
        z = np.array([law.z_at(np.full(500, u), np.full(500, r)) for u in grid])
        inner = (np.abs(z[1:]) < 3) & (np.abs(z[:-1]) < 3)
        assert (np.diff(z, axis=0)[inner] > 0).all()


def test_the_law_agrees_with_simulated_paths() -> None:
    # Second method: exact simulation of level and wander in half-day steps, 200 000 paths, seed 11.
    rng = np.random.default_rng(11)
    priors, paths, step = replace(SHIPPED, clip=1e9), 200_000, 0.5
    state = after([-95, -64, -31, 0], [-4100, -2700, -1500, 0], priors)
    law = DistanceLaw.of(state, priors)
    cov = np.array([[law.pmm[0], law.pmx[0]], [law.pmx[0], law.pxx[0]]])
    level, wander = rng.multivariate_normal([law.mu[0], law.x[0]], cov, paths).T
    fade = np.exp(-step / priors.tau)
    kick = np.sqrt(law.c[0] * priors.sig**2 * (1 - fade**2))
    total_log, u = np.zeros(paths), 120.0
    for _ in range(int(u / step)):
        before = level + wander
        level = level + rng.normal(0, np.sqrt(priors.q * step / 365.25), paths)
        wander = fade * wander + rng.normal(0, kick, paths)
        total_log += (before + level + wander) / 2 * step
    # The model's distance: D * exp(average log rate), with CV^2 c psi/D around it, log-normal.
    lv = np.log1p(law.c[0] * priors.psi / u)
    reached = np.log(u) + total_log / u - lv / 2 + rng.normal(0, np.sqrt(lv), paths)
    # The same law reckoned by an independent implementation, and what its own 200 000 paths gave.
    worked = {2500.0: (0.97715, 0.97738), 5000.0: (0.54416, 0.54289), 8000.0: (0.12125, 0.12116)}
    for r, (law_there, paths_there) in worked.items():
        simulated = float(np.mean(reached >= np.log(r)))
        exact = float(stats.norm.cdf(law.z_at(np.array([u]), np.array([r]))[0]))
        error = 4 * np.sqrt(exact * (1 - exact) / paths) + 0.002
        assert abs(simulated - exact) < error
        assert abs(paths_there - exact) < error
        assert exact == pytest.approx(law_there, abs=5e-6)
    # Worked values computed by an independent implementation for the very same readings.
    for r, expected in ((2500.0, 0.97715), (5000.0, 0.54416), (8000.0, 0.12125)):
        assert stats.norm.cdf(law.z_at(np.array([u]), np.array([r]))[0]) == pytest.approx(expected, abs=2e-5)


def test_nothing_left_is_due_now_and_an_endless_distance_never() -> None:
    law, _ = random_laws(3, 1)
    days = law.days_to(np.array([0.0, -50.0, np.inf]))
    assert (days[:, :2] == 0).all()
    assert np.isinf(days[:, 2]).all()


@settings(max_examples=150, deadline=None)
@given(st.floats(1, 60000), st.floats(0, 1), st.lists(st.tuples(st.floats(0, 4000), st.floats(1, 90)), max_size=8))
def test_early_likely_and_late_are_in_order(r: float, spread: float, spans: list[tuple[float, float]]) -> None:
    state = start(SHIPPED, m0=SHIPPED.m0, s0=SHIPPED.s0)
    for km, days in spans:
        state = assimilate(state, np.array([km]), np.array([days]), SHIPPED)
    early, likely, late = DistanceLaw.of(state, SHIPPED, spread=spread).days_to(np.array([r]))[:, 0]
    assert 0 <= early <= likely <= late


@settings(max_examples=150, deadline=None)
@given(st.floats(0.5, 40000), st.floats(1.0001, 3))
def test_a_larger_distance_is_never_reached_earlier(r: float, factor: float) -> None:
    law = DistanceLaw.of(after([0, 30, 61], [0, 1200, 1900]), SHIPPED).rows(np.array([0, 0]))
    days = law.days_to(np.array([r, r * factor]))
    # The fast solver is allowed a twentieth of a day.
    assert (days[:, 1] >= days[:, 0] - 0.05).all()


@settings(max_examples=60, deadline=None)
@given(st.floats(500, 20000), st.lists(st.tuples(st.floats(1, 4000), st.floats(5, 90)), min_size=1, max_size=8))
def test_the_unit_of_distance_changes_no_day(r: float, spans: list[tuple[float, float]]) -> None:
    miles = Priors(m0=SHIPPED.m0 - float(np.log(1.609344)))
    km_state, mi_state = start(SHIPPED, m0=SHIPPED.m0, s0=SHIPPED.s0), start(miles, m0=miles.m0, s0=miles.s0)
    for km, days in spans:
        km_state = assimilate(km_state, np.array([km]), np.array([days]), SHIPPED)
        mi_state = assimilate(mi_state, np.array([km / 1.609344]), np.array([days]), miles)
    in_km = DistanceLaw.of(km_state, SHIPPED).days_to(np.array([r]))
    in_mi = DistanceLaw.of(mi_state, miles).days_to(np.array([r / 1.609344]))
    assert np.abs(in_km - in_mi).max() < 1e-6
