"""Cards that fill the picture: everything inside the safe area, readable contrast, nothing cut in silence."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from syncview.gauges import palette
from syncview.gauges.title_card import GROUND, TILE, CardTile, TitleCard, _Face, draw_card

SIZES = [(1920, 1080), (640, 360), (1080, 1920), (1080, 1080), (1440, 1080)]
FOOT = ("Figures hold for this car only: build up to them with margin. " * 2,)


def tiles(count: int, value: str = "31.6 °C") -> tuple[CardTile, ...]:
    return tuple(CardTile(f"Entry {i}", value, "88.9 °F", "measured") for i in range(count))


def luminance(colour: palette.Colour) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [c / 255 for c in colour]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("ink", [palette.INK, palette.QUIET, palette.LINE])
@pytest.mark.parametrize("ground", [GROUND, TILE])
def test_contrast(ink: palette.Colour, ground: palette.Colour) -> None:
    # WCAG 2.2, 1.4.3: at least 4.5 to 1.
    assert (luminance(ink) + 0.05) / (luminance(ground) + 0.05) >= 4.5


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("count", range(21))
def test_tiles_stay_apart_and_between_heading_and_foot(count: int, size: tuple[int, int]) -> None:
    width, height = size
    face = _Face(width, height)
    places = face.places(count, 0.25 * height, 0.85 * height)
    assert len(places) == count
    for place in places:
        assert place.left >= 0.05 * width
        assert place.left + place.width <= 0.95 * width + 1e-6
        assert place.top >= 0.25 * height
        assert place.top + place.height <= 0.85 * height + 1e-6
        assert place.height >= 60 * face.unit
    for a, b in itertools.combinations(places, 2):
        assert (
            a.left + a.width <= b.left + 1e-6 or b.left + b.width <= a.left + 1e-6 or a.top + a.height <= b.top + 1e-6
        )


@pytest.mark.parametrize("size", [(960, 540), (640, 360), (540, 960), (540, 540)])
@pytest.mark.parametrize("count", [0, 4, 20])
def test_nothing_is_written_outside_the_safe_area(count: int, size: tuple[int, int]) -> None:
    width, height = size
    card = TitleCard("A heading that is rather long for a picture", tiles(count, "dry"), FOOT, empty="Nothing said.")
    sheet, _ = draw_card(card, width, height)
    picture = sheet.rgba()[..., :3].astype(int)
    margin_x, margin_y = int(0.05 * width), int(0.05 * height)
    frame = np.ones(picture.shape[:2], dtype=bool)
    frame[margin_y:-margin_y, margin_x:-margin_x] = False
    assert np.abs(picture[frame] - np.array(GROUND)).max() <= 1
    assert np.abs(picture[~frame] - np.array(GROUND)).max() > 100


def test_a_text_that_does_not_fit_is_told() -> None:
    _, remarks = draw_card(TitleCard("Day", tiles(9, "words " * 50)), 1920, 1080)
    assert len(remarks) == 9
    assert "was cut there" in remarks[0]
    _, remarks = draw_card(TitleCard("Day", tiles(1, "words " * 50)), 1920, 1080)
    assert remarks == []
    _, remarks = draw_card(TitleCard("x" * 100), 1920, 1080)
    assert len(remarks) == 1


def test_characters_that_no_font_has_are_told() -> None:
    _, remarks = draw_card(TitleCard("Day", (CardTile("Tyres", "\U0001f3ce"),)), 1920, 1080)
    assert "no font has the characters" in remarks[0]
