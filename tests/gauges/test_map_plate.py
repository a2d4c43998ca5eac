"""The map: the lap's shape, a dot that runs along it, numbers only where there is room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from syncview.gauges.colour import ColourCoding
from syncview.gauges.map_plate import MapOutline, MapPlate
from syncview.gauges.sheet import Box
from syncview.media.planes import LAYOUTS

STEPS = np.linspace(0, 2 * np.pi, 400, endpoint=False)
LONG = MapOutline(900 * np.cos(STEPS), 200 * np.sin(STEPS), 4000.0, ((1, 200.0), (2, 1900.0)))
ROUND = MapOutline(300 * np.cos(STEPS), 300 * np.sin(STEPS), 1885.0, ((1, 400.0),))


def _plate(outline: MapOutline, place: Box, unit: float = 1.0, *, hangs_low: bool = False) -> MapPlate:
    return MapPlate(
        outline, place, unit, hangs_low=hangs_low, coding=ColourCoding("bt709", True), layout=LAYOUTS["yuv444p"]
    )


def _bright(plate: MapPlate) -> NDArray[np.bool_]:
    return np.asarray(plate.sprite.colour[0] > 150)


@given(st.integers(30, 200), st.integers(30, 200), st.floats(0.25, 2.0), st.booleans(), st.sampled_from([LONG, ROUND]))
def test_plate_and_dot_stay_in_their_place(
    half_width: int, half_height: int, unit: float, hangs_low: bool, outline: MapOutline
) -> None:
    place = Box(40, 60, 40 + 2 * half_width, 60 + 2 * half_height)
    if min(place.width, place.height) < 170 * unit:
        return
    plate = _plate(outline, place, unit, hangs_low=hangs_low)
    assert place.left == plate.place.left
    assert plate.place.right <= place.right
    assert place.top <= plate.place.top
    assert plate.place.bottom <= place.bottom
    assert plate.place.bottom == place.bottom if hangs_low else plate.place.top == place.top
    for lap_distance_m in np.linspace(-2 * outline.lap_length_m, 2 * outline.lap_length_m, 60):
        dot, x, y = plate.dot_at(float(lap_distance_m))
        assert x % 2 == 0
        assert y % 2 == 0
        assert plate.place.left <= x
        assert x + dot.width <= plate.place.right
        assert plate.place.top <= y
        assert y + dot.height <= plate.place.bottom


def test_the_dot_runs_on_the_line() -> None:
    plate = _plate(ROUND, Box(0, 0, 300, 300))
    bright = _bright(plate)
    for lap_distance_m in np.linspace(0, 1885, 24):
        dot, x, y = plate.dot_at(float(lap_distance_m))
        around = bright[
            y + dot.height // 2 - 3 : y + dot.height // 2 + 3, x + dot.width // 2 - 3 : x + dot.width // 2 + 3
        ]
        assert around.any()


def test_the_dot_goes_round_the_way_the_lap_does() -> None:
    """Counter-clockwise from the east, as the line was given: north is up, so the quarter point lies at the top."""
    plate = _plate(ROUND, Box(0, 0, 300, 300))
    places = [plate.dot_at(share * 1885)[1:] for share in (0.0, 0.25, 0.5, 0.75)]
    assert places[0][0] > places[1][0] > places[2][0]
    assert places[1][1] < places[0][1] < places[3][1]


def test_the_shape_is_kept() -> None:
    """However it is turned: the spread along and across an ellipse are as its axes."""
    plate = _plate(MapOutline(LONG.x_m, LONG.y_m, 4000.0), Box(0, 0, 400, 400))
    spread = np.linalg.eigvalsh(np.cov(np.array([plate.dot_at(d)[1:] for d in np.linspace(0, 4000, 400)]).T))
    assert np.sqrt(spread[1] / spread[0]) == pytest.approx(900 / 200, rel=0.05)


def test_the_plate_is_no_larger_than_the_map_needs() -> None:
    plate = _plate(MapOutline(LONG.x_m, LONG.y_m, 4000.0), Box(0, 0, 400, 200))
    assert plate.place.width > 380
    assert plate.place.height < 170


def test_a_long_lap_is_turned_where_its_room_is_tall() -> None:
    plate = _plate(MapOutline(LONG.x_m, LONG.y_m, 4000.0), Box(0, 0, 200, 400))
    rows, columns = np.nonzero(_bright(plate))
    assert np.ptp(rows) > 2 * np.ptp(columns)


def test_numbers_stand_beside_the_line_where_there_is_room() -> None:
    place = Box(0, 0, 300, 300)
    bare = _bright(_plate(MapOutline(ROUND.x_m, ROUND.y_m, 1885.0, ((1, 1e9),)), place))
    crowded = MapOutline(ROUND.x_m, ROUND.y_m, 1885.0, tuple((number, 10.0 * number) for number in range(1, 100)))
    numbers = _bright(_plate(crowded, place))
    assert numbers.sum() > _bright(_plate(ROUND, place)).sum() > 0
    # What is drawn for numbers leaves the line as it was.
    line = _bright(_plate(MapOutline(ROUND.x_m, ROUND.y_m, 1885.0, ((1, 0.0),)), place))
    assert bare.shape == line.shape
    assert (numbers & line).sum() >= 0.97 * (bare & line).sum()


@pytest.mark.parametrize("size", [4, 7])
def test_what_is_no_line(size: int) -> None:
    with pytest.raises(ValueError, match="eight points"):
        MapOutline(np.zeros(size), np.zeros(size), 100.0)
    with pytest.raises(ValueError, match="no holes"):
        MapOutline(np.full(20, np.nan), np.zeros(20), 100.0)
    with pytest.raises(ValueError, match="lap length"):
        MapOutline(np.zeros(20), np.zeros(20), 0.0)
