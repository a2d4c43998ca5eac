"""The gap: figure, word and bar agree, and each tells the side without the others."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.gauges.choice import GaugeChoice
from syncview.gauges.colour import ColourCoding
from syncview.gauges.gap_plate import FULL_BAR_S, GapPlate, gap_words
from syncview.gauges.panel import preview
from syncview.gauges.sheet import Box
from syncview.gauges.values import GaugeValues
from syncview.media.planes import LAYOUTS

SIZE = (1280, 720)


@pytest.mark.parametrize(
    ("gap_s", "figure", "word"),
    [
        (0.34, "+0.3", "BEHIND"),
        (-1.26, "−1.3", "AHEAD"),
        (0.04, "0.0", "LEVEL"),
        (-0.04, "0.0", "LEVEL"),
        (12.3, "+12.3", "BEHIND"),
        (99.97, "+1:40", "BEHIND"),
        (-125.0, "−2:05", "AHEAD"),
    ],
)
def test_figure_and_word(gap_s: float, figure: str, word: str) -> None:
    assert gap_words(gap_s) == (figure, word)


@given(st.floats(-5000, 5000))
def test_sign_and_word_always_agree(gap_s: float) -> None:
    figure, word = gap_words(gap_s)
    assert {"+": "BEHIND", "−": "AHEAD"}.get(figure[0], "LEVEL") == word


@pytest.mark.parametrize("gap_s", [math.nan, math.inf])
def test_what_is_no_gap(gap_s: float) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        gap_words(gap_s)


def _grey(gap_s: float) -> NDArray[np.float64]:
    """What somebody sees who sees no colour."""
    ground = np.full((SIZE[1], SIZE[0], 3), 90, dtype=np.uint8)
    shown = preview(ground, GaugeValues(gap_s=gap_s), choice=GaugeChoice.of(["gap"]))
    return np.asarray(shown @ np.array([0.2126, 0.7152, 0.0722]))


def _bar_columns(gap_s: float) -> NDArray[np.int64]:
    changed = np.abs(_grey(gap_s) - _grey(0.0)) > 20
    rows = np.flatnonzero(changed.any(axis=1))
    bar = changed[rows.max() - 4 : rows.max() + 1]  # the figures stand above it
    return np.flatnonzero(bar.any(axis=0))


def test_the_bar_grows_to_the_right_ahead_and_to_the_left_behind() -> None:
    ahead, behind = _bar_columns(-0.5), _bar_columns(0.5)
    assert behind.max() < ahead.min()
    assert len(ahead) == pytest.approx(len(behind), abs=2)


def test_the_bar_is_as_long_as_the_gap_and_ends_at_its_end() -> None:
    full = len(_bar_columns(-FULL_BAR_S))
    assert full > 80
    for share in (0.2, 0.5, 0.8):
        assert len(_bar_columns(-share * FULL_BAR_S)) == pytest.approx(share * full, abs=2)
    assert len(_bar_columns(-7.0)) == full


def test_any_number_of_gaps_keeps_memory_small_and_the_drawing_right() -> None:
    """Patches are let go at some point; what is drawn does not depend on it."""

    def made() -> GapPlate:
        return GapPlate(Box(0, 0, 236, 74), 0.66, coding=ColourCoding("bt709", True), layout=LAYOUTS["yuv444p"])

    long_used = made()
    for tenths in range(-450, 450):
        long_used.plate_for(tenths / 10)
    assert len(long_used._live._patches) <= 400
    for gap_s in (-44.9, 0.0, 0.3, 44.9):
        assert np.array_equal(long_used.plate_for(gap_s).colour[0], made().plate_for(gap_s).colour[0])
