"""The engine's gain under voices: the stated depth and times, and no step."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.lesson.ducking import DuckGain, Ducking, joined_spans

RATE_HZ = 1000


def _gain_db(spans: list[tuple[float, float]], length_s: float, ducking: Ducking) -> NDArray[np.float64]:
    gain = DuckGain(spans, ducking).gain(0, round(length_s * RATE_HZ), rate_hz=RATE_HZ)
    return np.asarray(20 * np.log10(gain.astype(np.float64)))


def test_down_before_the_first_word_and_up_after_the_last() -> None:
    gain_db = _gain_db([(2.0, 3.0)], 5.0, Ducking())
    assert gain_db[:1850] == pytest.approx(0, abs=1e-5)
    assert gain_db[2000:3000] == pytest.approx(-12, abs=1e-5)
    assert gain_db[3400:] == pytest.approx(0, abs=1e-5)
    assert gain_db[1925] == pytest.approx(-6, abs=0.01)  # half-way down after 75 ms, half-way up after 200 ms
    assert gain_db[3200] == pytest.approx(-6, abs=0.01)
    assert np.abs(np.diff(gain_db)).max() < 12 / 150 * 1.6


def test_the_engine_stays_down_in_short_breaks() -> None:
    ducking = Ducking(bridged_s=1.0)
    assert _gain_db([(1.0, 2.0), (2.9, 4.0)], 6.0, ducking)[2000:2900] == pytest.approx(-12, abs=1e-5)
    assert _gain_db([(1.0, 2.0), (3.2, 4.0)], 6.0, ducking)[2450:3000] == pytest.approx(0, abs=1e-5)


def test_overlapping_and_unordered_voices_are_one() -> None:
    assert joined_spans([(5, 6), (1, 3), (2, 2.5), (7.5, 8)], 1.0) == [(1, 3), (5, 6), (7.5, 8)]
    assert joined_spans([], 1.0) == []


@given(
    st.lists(st.tuples(st.floats(0, 20), st.floats(0.1, 4)), max_size=5),
    st.lists(st.integers(0, 20_000), min_size=1, max_size=6),
)
def test_blocks_continue_each_other_without_steps(pairs: list[tuple[float, float]], cuts: list[int]) -> None:
    spans = [(begin, begin + length) for begin, length in pairs]
    duck = DuckGain(spans, Ducking())
    borders = sorted({0, 20_000, *cuts})
    parts = [duck.gain(a, b, rate_hz=RATE_HZ) for a, b in pairwise(borders)]
    whole = np.concatenate(parts)
    assert np.array_equal(whole, duck.gain(0, 20_000, rate_hz=RATE_HZ))
    assert np.abs(np.diff(20 * np.log10(whole.astype(np.float64)))).max(initial=0) < 12 / 150 * 1.6
    for begin_s, end_s in spans:
        inside = whole[round(begin_s * RATE_HZ) + 1 : min(round(end_s * RATE_HZ), 20_000)]
        assert inside == pytest.approx(10 ** (-12 / 20), rel=1e-4)


@pytest.mark.parametrize("wrong", [{"depth_db": 3.0}, {"attack_s": 0.0}, {"release_s": -1.0}])
def test_senseless_figures_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="ducking"):
        Ducking(**wrong)
