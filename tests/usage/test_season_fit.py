"""A fleet learns its own season where it has one, and none where it has none."""

from __future__ import annotations

from datetime import date

import numpy as np
import numpy.typing as npt
import pytest

from fleetcare.usage.priors import SHIPPED_SEASON, Priors
from fleetcare.usage.season_fit import ENOUGH_VEHICLES, PLAIN_YEAR, Months, estimate_months
from tests.usage.fleets import daily_km

Floats = npt.NDArray[np.float64]

FLAT = (1.0,) * 12
COASTERS = (0.3, 0.3, 0.6, 0.9, 1.2, 1.5, 2.0, 2.0, 1.2, 0.9, 0.6, 0.45)
"""An invented fleet of a seaside place."""
FIRST = date(2021, 3, 11)


def months_of_days(days: int) -> npt.NDArray[np.int64]:
    return np.array([date.fromordinal(FIRST.toordinal() + day).month - 1 for day in range(days)], dtype=np.int64)


def months(
    season: tuple[float, ...], vehicles: int, days: int, *, every: int = 30, seed: int = 1, priors: Priors | None = None
) -> Months:
    """Spans of a fleet whose distance is so many times the usual one in each month."""
    month = months_of_days(days)
    # A day of a month with factor f is f operational days of the law.
    km = daily_km(priors or Priors(), vehicles, days, seed=seed) * np.array(season)[month]
    count = days // every
    gained = km[:, : count * every].reshape(vehicles, count, every).sum(axis=2)
    in_month = np.eye(12)[month][: count * every].reshape(count, every, 12).sum(axis=1)
    return Months(np.repeat(np.arange(vehicles), count), gained.ravel(), np.tile(in_month, (vehicles, 1)))


def normalised(season: tuple[float, ...]) -> Floats:
    return np.asarray(np.array(season) * (365.0 / float(np.array(season) @ PLAIN_YEAR)))


def test_a_planted_season_is_found() -> None:
    """400 vehicles over two years: a month has some 800 spans, and the shipped factors weigh 40, a twentieth of it."""
    found = estimate_months(months(COASTERS, 400, 730), SHIPPED_SEASON)
    assert found is not None
    planted = normalised(COASTERS)
    assert np.abs(np.array(found) - planted).max() < 0.12
    assert np.abs(np.array(found) / planted - 1).mean() < 0.07
    assert float(np.array(found) @ PLAIN_YEAR) == pytest.approx(365.0, rel=1e-12)


def test_a_fleet_without_a_season_is_left_without_one() -> None:
    found = estimate_months(months(FLAT, 1500, 730, seed=2), SHIPPED_SEASON)
    assert found is not None
    assert all(0.97 < factor < 1.03 for factor in found), found


def test_few_vehicles_or_less_than_a_year_learn_no_season() -> None:
    assert estimate_months(months(COASTERS, ENOUGH_VEHICLES - 1, 730), SHIPPED_SEASON) is None
    assert estimate_months(months(COASTERS, 200, 360), SHIPPED_SEASON) is None
    assert estimate_months(months(COASTERS, ENOUGH_VEHICLES, 730), SHIPPED_SEASON) is not None
    empty = Months(np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros((0, 12)))
    assert estimate_months(empty, SHIPPED_SEASON) is None


def test_at_the_least_there_may_be_the_shipped_factors_hold_about_as_much_as_the_fleet() -> None:
    """Fifty vehicles over a year: some 50 spans a month against a weight of 40, so about half the way is gone."""
    found = estimate_months(months(COASTERS, 50, 390, seed=3), SHIPPED_SEASON)
    assert found is not None
    gone = (np.array(found) - normalised(SHIPPED_SEASON)) / (normalised(COASTERS) - normalised(SHIPPED_SEASON))
    far = np.abs(normalised(COASTERS) - normalised(SHIPPED_SEASON)) > 0.3
    assert 0.35 < float(np.median(gone[far])) < 0.85


def test_a_typing_error_makes_no_season() -> None:
    fleet = months(FLAT, 200, 730, seed=4)
    clean = estimate_months(fleet, SHIPPED_SEASON)
    km = fleet.km.copy()
    km[5] *= 100.0
    spoilt = estimate_months(Months(fleet.vehicle, km, fleet.days), SHIPPED_SEASON)
    assert clean is not None
    assert spoilt is not None
    assert np.abs(np.array(spoilt) - np.array(clean)).max() < 0.02


def test_neither_the_unit_nor_how_far_each_vehicle_runs_matters() -> None:
    fleet = months(COASTERS, 80, 500, seed=5)
    scale = np.exp(np.random.default_rng(6).normal(0.0, 1.0, 80))[fleet.vehicle] / 1.609344
    found = estimate_months(fleet, SHIPPED_SEASON)
    other = estimate_months(Months(fleet.vehicle, fleet.km * scale, fleet.days), SHIPPED_SEASON)
    assert found is not None
    assert other == pytest.approx(found, rel=1e-9)


def test_months_in_which_nobody_drives_are_found_and_no_factor_is_negative() -> None:
    still = (0.0, 0.0, *(1.2,) * 10)
    found = estimate_months(months(still, 300, 730, seed=7), SHIPPED_SEASON)
    assert found is not None
    assert all(factor >= 0 for factor in found)
    assert found[0] < 0.15
