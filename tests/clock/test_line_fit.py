"""The robust line against numpy's and scipy's own."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import FloatArray
from syncview.clock.line_fit import robust_line, weighted_line


def _points(seed: int, count: int = 40) -> tuple[FloatArray, FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, 1800, count))
    sigma = rng.uniform(0.002, 0.008, count)
    return x, -7.3 + 150e-6 * x + rng.normal(0, sigma), sigma


def test_without_outliers_it_is_numpy_polyfit_with_its_covariance() -> None:
    x, y, sigma = _points(1)
    line = weighted_line(x, y, sigma, np.ones(x.size, dtype=bool), prior_slope=1e6)
    # numpy.polyfit(cov=True) scales the covariance by chi² / (n - 2), ours too where that is above one.
    (slope, height), cov = np.polyfit(x, y, 1, w=1 / sigma, cov=True)
    assert line.slope == pytest.approx(slope, rel=1e-6)
    assert line(np.array([500.0]))[0] == pytest.approx(height + slope * 500, abs=1e-9)
    scale = max(1.0, line.scatter) / line.scatter
    assert line.sigma_slope == pytest.approx(np.sqrt(cov[0, 0]) * scale, rel=1e-6)
    lever = np.array([line.pivot, 1.0])
    assert line.sigma_at_pivot == pytest.approx(np.sqrt(lever @ cov @ lever) * scale, rel=1e-6)


@pytest.mark.parametrize("share", [0.1, 0.25])
def test_a_quarter_of_wrong_measurements_changes_little(share: float) -> None:
    x, y, sigma = _points(2)
    clean = robust_line(x, y, sigma)
    rng = np.random.default_rng(5)
    wrong = rng.choice(x.size, round(share * x.size), replace=False)
    y[wrong] += rng.uniform(0.05, 1.0, wrong.size)
    line = robust_line(x, y, sigma)
    assert not line.kept[wrong].any()
    assert line(np.array([0.0, 1800.0])) == pytest.approx(clean(np.array([0.0, 1800.0])), abs=0.004)


def test_a_single_measurement_keeps_the_prior_drift() -> None:
    line = robust_line(np.array([100.0]), np.array([5.0]), np.array([0.01]))
    assert (line.at_pivot, line.slope) == (5.0, 0.0)
    assert line.sigma_slope == pytest.approx(200e-6)


def test_stated_95_per_cent_holds_over_many_fits() -> None:
    inside = 0
    for seed in range(300):
        x, y, sigma = _points(seed, 12)
        line = weighted_line(x, y, sigma, np.ones(12, dtype=bool), prior_slope=1e6)
        half = 1.96 * np.hypot(line.sigma_at_pivot, (1800 - line.pivot) * line.sigma_slope)
        inside += abs(line(np.array([1800.0]))[0] - (-7.3 + 150e-6 * 1800)) <= half
    # 300 trials of 95 %: 285 ± 4; widening for scatter, never narrowing, may only raise it.
    assert 273 <= inside <= 300
