"""Stretches above thresholds, crossings between samples, turning points."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import find_peaks

from syncview.track.runs import crossing_s, onset_s, runs_above, steepest_rise_per_s
from syncview.track.steering_facts import turning_points


def test_hysteresis_joins_what_only_dips() -> None:
    values = np.array([0.0, 0.2, 0.6, 0.3, 0.7, 0.1, 0.3, 0.0, 0.9, np.nan, 0.9])
    runs = runs_above(values, on=0.5, off=0.2)
    assert list(zip(runs.first.tolist(), runs.stop.tolist(), strict=True)) == [(1, 5), (8, 9), (10, 11)]


def test_nothing_above() -> None:
    assert len(runs_above(np.array([0.1, np.nan]), on=0.5, off=0.2)) == 0
    assert len(runs_above(np.array([]), on=0.5, off=0.2)) == 0


def test_crossing_lies_on_the_line() -> None:
    """Linear interpolation t0 + (t1 − t0)·d0/(d0 − d1) (standards sheet, section 9)."""
    assert crossing_s(np.array([1.0, 1.1]), np.array([0.2, 0.7]), 1, 0.3) == pytest.approx(1.02)
    assert crossing_s(np.array([1.0, 1.1]), np.array([0.7, 0.2]), 1, 0.3) == pytest.approx(1.08)
    assert crossing_s(np.array([1.0, 1.1]), np.array([np.nan, 0.2]), 1, 0.1) == 1.1
    assert crossing_s(np.array([1.0, 1.1]), np.array([0.5, 0.9]), 0, 0.1) == 1.0


@pytest.mark.parametrize("onset", [0.301, 0.35, 0.399])
def test_onset_between_slow_samples_is_found_on_the_rise(onset: float) -> None:
    """A pedal that stands and then rises by 2 per second, seen at 10 Hz: exact wherever it began."""
    time_s = np.arange(0, 1.0, 0.1)
    level = np.clip(2 * (time_s - onset), 0, 0.9)
    index = int(np.argmax(level > 0))
    assert onset_s(time_s, level, index, 0.0) == pytest.approx(onset, abs=1e-9)


@pytest.mark.parametrize("onset", [0.31, 0.35, 0.39])
def test_onset_of_a_rise_that_is_over_at_once(onset: float) -> None:
    """8 per second and full after 0.1 s: only the foot's usual pace, seen elsewhere, tells when it began."""
    time_s = np.arange(0, 1.0, 0.1)
    level = np.clip(8 * (time_s - onset), 0, 0.8)
    index = int(np.argmax(level > 0))
    assert onset_s(time_s, level, index, 0.0, usual_rise_per_s=8.0) == pytest.approx(onset, abs=1e-9)


def test_usual_rise() -> None:
    time_s = np.arange(0, 3.0, 0.01)
    level = np.clip(5 * (time_s - 0.5), 0, 0.8) * (time_s < 1.5) + np.clip(2 * (time_s - 2), 0, 0.8)
    runs = runs_above(level, on=0.2, off=0.02)
    assert steepest_rise_per_s(time_s, level, runs, quantile=1.0) == pytest.approx(5.0)
    assert steepest_rise_per_s(time_s, level, runs, quantile=0.0) == pytest.approx(2.0)
    assert steepest_rise_per_s(time_s, level * 0, runs_above(level * 0, on=0.2, off=0.1), quantile=0.5) is None


@pytest.mark.parametrize("seed", range(8))
def test_turning_points_are_the_prominent_peaks(seed: int) -> None:
    """Highs between lows are what scipy.signal.find_peaks calls peaks of that prominence."""
    random = np.random.default_rng(seed)
    values = np.cumsum(random.normal(size=400))
    points = turning_points(values, 3.0)
    highs = [
        b for a, b, c in zip(points, points[1:], points[2:], strict=False) if values[b] > max(values[a], values[c])
    ]
    peaks = find_peaks(values, prominence=3.0)[0]
    # A high before the first low, or after the last, may lack a drop of its own on one side: inner ones must agree.
    assert set(highs) == {p for p in peaks.tolist() if points[0] < p < points[-1]}
