"""The marker countdown: whole metres or yards, inside its place, refused where it cannot be."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.gauges.arrangement import arrange
from syncview.gauges.colour import ColourCoding
from syncview.gauges.marker_plate import MarkerPlate
from syncview.gauges.sprites import Sprite
from syncview.gauges.values import MarkerAhead
from syncview.media.planes import LAYOUTS
from syncview.shown_units import Units


def _plate(units: Units = "metric", size: tuple[int, int] = (1280, 720)) -> MarkerPlate:
    places = arrange(*size)
    assert places.marker is not None
    return MarkerPlate(
        places.marker, places.unit, units=units, coding=ColourCoding("bt709", True), layout=LAYOUTS["yuv444p"]
    )


def _same(one: Sprite, other: Sprite) -> bool:
    return one.colour[0].shape == other.colour[0].shape and bool(np.array_equal(one.colour[0], other.colour[0]))


def _at(distance_m: float, units: Units = "metric", words: str = "100 board") -> Sprite:
    return _plate(units).plate_for(MarkerAhead(words, distance_m)).copy()


def test_it_counts_in_whole_metres() -> None:
    assert _same(_at(41.6), _at(42.4))
    assert not _same(_at(41.4), _at(41.6))
    assert not _same(_at(0.4), _at(0.6))


def test_it_counts_in_whole_yards() -> None:
    """One yard is 0.9144 m exactly (NIST SP 811)."""
    assert _same(_at(50 * 0.9144 - 0.4, "imperial"), _at(50 * 0.9144 + 0.4, "imperial"))
    assert not _same(_at(50 * 0.9144, "imperial"), _at(49 * 0.9144, "imperial"))
    assert not _same(_at(50.0, "metric"), _at(50 * 0.9144, "imperial"))  # the unit stands there


def test_cached_figures_look_as_drawn_afresh() -> None:
    plate = _plate()
    for distance_m in (120, 101, 99.6, 99.4, 42, 9.7, 0, 120):
        marker = MarkerAhead("100 board", distance_m)
        assert _same(plate.plate_for(marker), _plate().plate_for(marker))


@pytest.mark.parametrize("size", [(640, 360), (1280, 720), (1080, 1920), (1080, 1080), (426, 240)])
@pytest.mark.parametrize("words", ["50", "100 board", "the end of the painted kerb behind the old brewery", "鈴"])
def test_any_name_stays_in_its_place(size: tuple[int, int], words: str) -> None:
    place = arrange(*size).marker
    assert place is not None
    for distance_m in (0.0, 42.0, 149.0, 999.0):
        for units in ("metric", "imperial"):
            sprite = _plate(units, size).plate_for(MarkerAhead(words, distance_m))
            assert sprite.width <= place.width
            assert sprite.height == place.height


@pytest.mark.parametrize("distance_m", [-0.1, 1000.0, float("nan"), float("inf")])
def test_distances_that_cannot_be(distance_m: float) -> None:
    with pytest.raises(ValueError, match="cannot be"):
        _at(distance_m)
