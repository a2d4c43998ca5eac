"""The card as a picture: everything inside the safe area, readable contrast, nothing cut in silence."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from syncview.gauges import palette
from syncview.lesson import conditions_picture as card
from syncview.lesson.conditions import ConditionRow


def row(i: int, text: str = "dry", other: str | None = None) -> ConditionRow:
    return ConditionRow(f"e{i}", f"Entry {i}", text, text if other is None else other, "said")


def luminance(colour: palette.Colour) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [c / 255 for c in colour]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET, palette.LINE])
@pytest.mark.parametrize("ground", [card._GROUND, card._TILE])
def test_contrast(ink: palette.Colour, ground: palette.Colour) -> None:
    # WCAG 2.2, 1.4.3: at least 4.5 to 1.
    assert (luminance(ink) + 0.05) / (luminance(ground) + 0.05) >= 4.5


@pytest.mark.parametrize("count", range(21))
def test_tiles_stay_apart_and_inside_the_safe_area(count: int) -> None:
    tiles = card._tiles(count)
    assert len(tiles) == count
    for tile in tiles:
        assert tile.left >= 0.05 * card.WIDTH
        assert tile.left + tile.width <= 0.95 * card.WIDTH + 1e-6
        assert tile.top + tile.height <= 0.95 * card.HEIGHT
        assert tile.height >= 90
    for a, b in itertools.combinations(tiles, 2):
        apart = a.left + a.width <= b.left or a.top + a.height <= b.top
        assert apart or b.left + b.width <= a.left


@pytest.mark.parametrize("count", [0, 1, 4, 9, 20])
def test_nothing_is_written_outside_the_safe_area(count: int) -> None:
    sheet, remarks = card.card_picture([row(i, "31.6 °C", "88.9 °F") for i in range(count)], units="metric")
    assert remarks == []
    picture = sheet.rgba()[..., :3].astype(int)
    margin_x, margin_y = int(0.05 * card.WIDTH), int(0.05 * card.HEIGHT)
    ground = np.array(card._GROUND)
    frame = np.ones(picture.shape[:2], dtype=bool)
    frame[margin_y:-margin_y, margin_x:-margin_x] = False
    assert np.abs(picture[frame] - ground).max() <= 1
    assert np.abs(picture[~frame] - ground).max() > 100


def test_a_text_that_does_not_fit_is_told() -> None:
    _, remarks = card.card_picture([row(i, "words " * 50) for i in range(9)], units="metric")
    assert len(remarks) == 9
    assert "was cut there" in remarks[0]
    _, remarks = card.card_picture([row(0, "words " * 50)], units="metric")
    assert remarks == []


def test_the_other_units_are_given_without_the_words() -> None:
    both = row(0, "slicks, 1.9 bar hot", "slicks, 27.6 psi hot")
    assert card._texts(both, "metric") == ("slicks, 1.9 bar hot", "27.6 psi")
    assert card._texts(both, "imperial") == ("slicks, 27.6 psi hot", "1.9 bar")
