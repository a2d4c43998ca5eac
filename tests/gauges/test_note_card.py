"""The note on the picture: inside its place, legible over any picture, no line lost."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import FloatArray
from syncview.gauges.arrangement import arrange
from syncview.gauges.panel import preview
from syncview.gauges.values import GaugeValues

TWO_LINES = "Brakes on just before the fifty\nboard, down to second."


def drawn(width: int, height: int, text: str, ground: int) -> tuple[FloatArray, FloatArray]:
    """The picture without and with the note, both float, over an even ground."""
    picture = np.full((height, width, 3), ground, dtype=np.uint8)
    values = GaugeValues()
    return preview(picture, values).astype(float), preview(picture, GaugeValues(note=text)).astype(float)


@pytest.mark.parametrize(("width", "height"), [(640, 360), (1920, 1080), (1080, 1920), (720, 720)])
@pytest.mark.parametrize("text", [TWO_LINES, "W" * 60, "One\ntwo\nthree", "Größe – ça va"])
def test_it_keeps_to_the_place_for_captions(width: int, height: int, text: str) -> None:
    plain, noted = drawn(width, height, text, 255)
    rows, columns = np.nonzero(np.abs(noted - plain).max(axis=2) > 8)
    place = arrange(width, height).captions
    assert rows.size
    assert place.left - 2 <= columns.min()
    assert columns.max() < place.right + 2
    assert place.top - 2 <= rows.min()
    assert rows.max() < place.bottom + 2


@pytest.mark.parametrize("ground", [0, 128, 255])
def test_text_keeps_the_contrast_of_wcag_over_any_ground(ground: int) -> None:
    # WCAG 2.2, 1.4.3: 4.5:1; relative luminance as defined there.
    plain, noted = drawn(1280, 720, TWO_LINES, ground)
    place = arrange(1280, 720).captions
    card = noted[place.top : place.bottom, place.left : place.right]
    changed = np.abs(noted - plain)[place.top : place.bottom, place.left : place.right].max(axis=2) > 0
    value = card[changed].mean(axis=1) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    text, plate = np.percentile(linear, 99.5), np.percentile(linear, 20)
    assert (text + 0.05) / (plate + 0.05) >= 4.5


def test_blank_lines_take_no_room() -> None:
    _, one = drawn(640, 360, "Flat", 255)
    _, padded = drawn(640, 360, "Flat\n \n", 255)
    assert np.array_equal(one, padded)
