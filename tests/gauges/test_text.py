"""Fonts, scripts and cells."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.gauges.fonts import characters, font_files
from syncview.gauges.text import (
    advance_px,
    digit_cell_px,
    draw_text,
    em_for_cap_height,
    shortened,
    unwritable,
)


def _drawn(text: str, em_px: int = 40) -> np.ndarray:
    mask = np.zeros((60, 500), dtype=np.uint8)
    draw_text(mask, text, left_px=4, baseline_px=44, em_px=em_px, weight="bold")
    return mask


def test_coverage_is_what_fonttools_reads() -> None:
    """fontTools comes with matplotlib; it reads the same cmap tables."""
    ttlib = pytest.importorskip("fontTools.ttLib")
    for path in font_files("bold"):
        assert characters(path) == frozenset(ttlib.TTFont(path).getBestCmap())


def test_own_font_is_first_and_a_wide_one_follows() -> None:
    names = [path.name for path in font_files("regular")]
    assert names == ["B612-Regular.ttf", "DejaVuSans.ttf"]


@pytest.mark.parametrize("text", ["Kübel", "Řepa", "Łódź", "Σ", "Юг", "تلة", "km/h", "–", "←"])
def test_common_scripts_are_written(text: str) -> None:
    assert unwritable(text) == ""
    assert _drawn(text).max() == 255


def test_what_no_font_has_is_told() -> None:
    assert unwritable("A鈴B鈴鹿") == "鈴鹿"


def test_combining_marks_stay_with_their_letter() -> None:
    """ě as one sign or as e with a caron takes the same width in the same font."""
    assert advance_px("e\u030c", 40, "regular") == pytest.approx(advance_px("e", 40, "regular"), abs=1)


def test_right_to_left_text_is_ordered_as_a_whole() -> None:
    """In "تلة 4" the number comes after the word, so it stands to its left."""
    columns = np.flatnonzero(_drawn("تلة 4").max(axis=0))
    word = np.flatnonzero(_drawn("تلة").max(axis=0))
    number = _drawn("4")
    width = np.flatnonzero(number.max(axis=0))
    first = _drawn("تلة 4")[:, columns[0] : columns[0] + len(width)]
    assert columns[-1] > word[-1]
    assert len(np.flatnonzero(first.max(axis=0))) >= len(width) - 2


@pytest.mark.parametrize("cap_px", [9.0, 14.4, 27.5, 44.0, 148.0])
def test_capitals_are_at_least_as_tall_as_asked(cap_px: float) -> None:
    em_px = em_for_cap_height(cap_px, "bold")
    mask = np.zeros((400, 400), dtype=np.uint8)
    draw_text(mask, "H", left_px=10, baseline_px=300, em_px=em_px, weight="bold")
    rows = np.flatnonzero(mask.max(axis=1) > 100)
    assert cap_px - 1 <= len(rows) <= cap_px * 1.05 + 2


def test_every_digit_fits_its_cell() -> None:
    for em_px in (12, 13, 20, 59, 100):
        cell = digit_cell_px(em_px, "bold")
        assert cell % 2 == 0
        for digit in "0123456789":
            mask = np.zeros((200, 200), dtype=np.uint8)
            draw_text(mask, digit, left_px=50, baseline_px=150, em_px=em_px, weight="bold")
            assert len(np.flatnonzero(mask.max(axis=0) > 40)) <= cell


def test_long_names_are_shortened_with_an_ellipsis() -> None:
    assert shortened("Hairpin", em_px=40, weight="regular", width_px=500) == "Hairpin"
    short = shortened("Hairpin at the old brewery", em_px=40, weight="regular", width_px=200)
    assert short.endswith("…")
    assert advance_px(short, 40, "regular") <= 200
