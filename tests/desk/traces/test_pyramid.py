"""Extremes of columns against going through every sample."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.desk.traces.pyramid import BLOCKS_PER_COLUMN, FACTOR, Pyramid


def brute(values: NDArray[np.float32], edges: NDArray[np.int64]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    low = np.full((values.shape[0], edges.size - 1), np.nan, np.float32)
    high = low.copy()
    for row in range(values.shape[0]):
        for column in range(edges.size - 1):
            part = values[row, edges[column] : edges[column + 1]]
            part = part[~np.isnan(part)]
            if part.size:
                low[row, column], high[row, column] = part.min(), part.max()
    return low, high


@given(st.integers(1, 3000), st.integers(1, 60), st.integers(0, 2**32 - 1), st.booleans())
def test_extremes_are_those_of_every_sample(count: int, columns: int, seed: int, holes: bool) -> None:
    random = np.random.default_rng(seed)
    values = random.normal(size=(3, count)).astype(np.float32)
    if holes:
        values[random.random(values.shape) < 0.3] = np.nan
        values[1] = np.nan
    edges = np.sort(random.integers(0, count + 1, columns + 1))
    pyramid = Pyramid(values)
    low, high = pyramid.extremes(edges)
    true_low, true_high = brute(values, pyramid.rounded(edges))
    np.testing.assert_array_equal(low, true_low)
    np.testing.assert_array_equal(high, true_high)


@given(st.integers(200, 200_000), st.integers(1, 400), st.integers(0, 2**32 - 1))
def test_edges_move_little_and_no_sample_is_lost(count: int, columns: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    values = random.normal(size=(1, count)).astype(np.float32)
    pyramid = Pyramid(values)
    begin, end = np.sort(random.integers(0, count + 1, 2))
    edges = np.linspace(begin, end, columns + 1).astype(np.int64)
    rounded = pyramid.rounded(edges)
    per_column = (end - begin) / columns
    assert np.abs(rounded - edges).max() <= max(per_column / BLOCKS_PER_COLUMN, 0) + 1e-9
    low, high = pyramid.extremes(edges)
    if end > begin:
        assert np.nanmin(low) <= values[0, begin:end].min()
        assert np.nanmax(high) >= values[0, begin:end].max()
    else:
        assert np.isnan(low).all()


def test_a_single_spike_in_an_hour_is_seen() -> None:
    values = np.zeros((1, 360_000), np.float32)
    values[0, 123_457] = 9.0
    _low, high = Pyramid(values).extremes(np.linspace(0, 360_000, 801).astype(np.int64))
    assert np.flatnonzero(high[0] == 9.0).size == 1


def test_coarse_columns_use_coarse_levels() -> None:
    pyramid = Pyramid(np.zeros((1, 100_000), np.float32))
    fine = pyramid.level_for(np.arange(0, 1001, 10))
    coarse = pyramid.level_for(np.linspace(0, 100_000, 101).astype(np.int64))
    assert fine == 0
    assert FACTOR**coarse * BLOCKS_PER_COLUMN <= 1000
    assert coarse == 3


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
def test_values_are_kept(dtype: type) -> None:
    values: NDArray[np.floating] = np.arange(20, dtype=dtype).reshape(2, 10)
    np.testing.assert_array_equal(Pyramid(values).values, values)
