"""The scores reward the right law, and only that."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from tests.worlds.scores import CHANCES, ZS, of_date, paired_ratio, scored


def test_a_bare_date_scores_its_absolute_error() -> None:
    result = scored(of_date(np.array([10.0, 50.0, 5000.0])), np.array([14.0, 20.0, np.inf]), 30)
    assert result.crps == pytest.approx([4.0, 30.0, 0.0])
    assert result.error == pytest.approx([-4.0, 30.0, 0.0])
    assert result.crps_by_horizon == pytest.approx(34 / 3 / 30)


def test_the_score_is_the_continuous_one_to_the_width_of_its_grid() -> None:
    # Second method: integral of (F(x) - 1{x >= y})^2 dx for a normal law of mean 100 and spread 20, at y = 117.
    def squared(x: float) -> float:
        return float((stats.norm.cdf(x, 100, 20) - (x >= 117.0)) ** 2)

    exact = integrate.quad(squared, 0, 117)[0] + integrate.quad(squared, 117, 220)[0]
    quantiles = 100.0 + 20.0 * np.array(ZS)[:, None]
    # Nineteen levels stand for twenty parts: their mean is 20/19 of the sum that approaches the integral.
    assert scored(quantiles, np.array([117.0]), 91).crps[0] * 19 / 20 == pytest.approx(exact, rel=0.01)


def test_the_true_law_scores_best_and_covers_what_it_says() -> None:
    rng = np.random.default_rng(1)
    truth = rng.gamma(9.0, 10.0, 20_000)
    right = np.repeat(stats.gamma.ppf(CHANCES, 9.0, scale=10.0)[:, None], len(truth), axis=1)
    result = scored(right, truth, 91)
    # 20,000 draws: one standard error is sqrt(.16/20000) = .003.
    assert result.coverage == pytest.approx(0.80, abs=0.01)
    assert result.early.mean() == pytest.approx(0.10, abs=0.008)
    middle = right[9]
    for wrong in (right * 1.1, right * 0.9, middle + 0.5 * (right - middle), middle + 1.7 * (right - middle)):
        assert scored(wrong, truth, 91).crps.mean() > result.crps.mean()


def test_a_ratio_comes_with_what_luck_may_do_to_it() -> None:
    rng = np.random.default_rng(2)
    theirs = rng.exponential(10.0, 2000)
    ratio = paired_ratio(0.9 * theirs + rng.normal(0, 0.5, 2000), theirs)
    assert ratio.low < 0.9 < ratio.high
    assert ratio.high - ratio.low < 0.02, "pairing takes the spread over vehicles out"


def test_forecasts_of_another_shape_or_that_are_no_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="wanted"):
        scored(np.zeros((3, 2)), np.zeros(2), 30)
    with pytest.raises(ValueError, match="no number"):
        scored(np.full((19, 2), np.nan), np.zeros(2), 30)
