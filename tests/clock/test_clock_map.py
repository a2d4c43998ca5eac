"""The one converter, as properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.clock.clock_map import ClockMap

clocks = st.builds(
    ClockMap,
    offset_s=st.floats(-1e5, 1e5),
    rate=st.floats(0.99, 1.01),
    pivot_log_s=st.floats(0, 1e4),
    sigma_pivot_s=st.floats(0, 1),
    sigma_rate=st.floats(0, 1e-3),
)
times = st.floats(-1e5, 1e5)


@given(clocks, times)
def test_there_and_back(clock: ClockMap, log_s: float) -> None:
    assert clock.to_log_s(clock.to_media_s(log_s)) == pytest.approx(log_s, abs=1e-6)


@given(clocks, times, times)
def test_order_is_kept(clock: ClockMap, a: float, b: float) -> None:
    if a + 1e-6 < b:
        assert clock.to_media_s(a) < clock.to_media_s(b)


@given(clocks, times)
def test_arrays_and_numbers_agree(clock: ClockMap, log_s: float) -> None:
    assert clock.to_media_s(np.array([log_s]))[0] == clock.to_media_s(log_s)


@given(clocks, times)
def test_uncertainty_is_least_at_the_pivot(clock: ClockMap, log_s: float) -> None:
    assert clock.half_width_s(log_s) >= clock.half_width_s(clock.pivot_log_s)


def test_half_width_is_the_normal_95_per_cent_interval() -> None:
    from scipy.stats import norm

    assert ClockMap(0.0, sigma_pivot_s=1.0).half_width_s(0.0) == pytest.approx(norm.ppf(0.975))


@pytest.mark.parametrize(("offset_s", "rate"), [(math.nan, 1.0), (0.0, 0.0), (0.0, -1.0), (math.inf, 1.0)])
def test_what_is_no_clock_is_refused(offset_s: float, rate: float) -> None:
    with pytest.raises(ValueError, match="not a clock"):
        ClockMap(offset_s, rate)
