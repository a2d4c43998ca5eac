"""Turning of the camera told apart from travelling, on pictures that are moved by the textbook's own motion field."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

from syncview.clock.camera_turn import FOCAL_WIDTHS, HEADING_ROW, TurnMeter

ROWS, COLUMNS = 90, 160
FOCAL_PX = FOCAL_WIDTHS * COLUMNS


def pair(
    pan: float, roll: float, nearness: NDArray[np.float64], column_px: float = 0.0
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Two pictures: the first is the second moved by turning and by driving on, at each point (scipy, cubic).

    The motion field is that of Longuet-Higgins and Prazdny (1980), from memory.
    """
    texture = gaussian_filter(np.random.default_rng(0).normal(size=(ROWS, COLUMNS)), 1.5)
    second = 128 + 90 * texture / np.abs(texture).max()
    row, column = np.mgrid[:ROWS, :COLUMNS].astype(np.float64)
    x, y = column - (COLUMNS - 1) / 2, row - (ROWS - 1) / 2
    u = pan * (FOCAL_PX + x**2 / FOCAL_PX) + roll * y + nearness * (x - column_px)
    v = pan * x * y / FOCAL_PX - roll * x + nearness * (y - HEADING_ROW * ROWS)
    first = map_coordinates(second, [row + v, column + u], order=3, mode="nearest")
    return first.astype(np.uint8), second.astype(np.uint8)


def measured(first: NDArray[np.uint8], second: NDArray[np.uint8]) -> NDArray[np.float64]:
    meter = TurnMeter(*first.shape)
    return meter.between(meter.prepared(first), meter.prepared(second))


def near_on_the_right(nearness: float) -> NDArray[np.float64]:
    return np.where(np.arange(COLUMNS) > 0.6 * COLUMNS, nearness, 0.0) * np.ones((ROWS, 1))


@pytest.mark.parametrize("pan", [0.004, -0.012, 0.03])
def test_turning_alone_is_measured(pan: float) -> None:
    assert measured(*pair(pan, 0.0, np.zeros((ROWS, COLUMNS))))[0] == pytest.approx(pan, rel=0.02, abs=1e-4)


@pytest.mark.parametrize("roll", [0.0, 0.01])
def test_near_things_on_one_side_and_roll_do_not_look_like_turning(roll: float) -> None:
    first, second = pair(0.006, roll, near_on_the_right(0.04))
    assert measured(first, second)[0] == pytest.approx(0.006, rel=0.05)


def test_a_car_that_slips_a_little_does_not_look_like_a_turning_one() -> None:
    first, second = pair(0.0, 0.0, near_on_the_right(0.04), column_px=3.0)
    # Near things alone move by up to 0.04 x 45 px, that is as much as a turning by 0.02.
    assert abs(measured(first, second)[0]) < 0.001


def test_exposure_does_not_matter() -> None:
    first, second = pair(0.01, 0.0, np.zeros((ROWS, COLUMNS)))
    darker = (second * 0.7).astype(np.uint8)
    assert measured(first, darker)[0] == pytest.approx(0.01, rel=0.05)


@pytest.mark.parametrize("size", [(284, 160), (120, 160), (8, 160), (67, 160)])
def test_pictures_of_any_size_are_taken(size: tuple[int, int]) -> None:
    still = np.random.default_rng(1).integers(0, 255, size).astype(np.uint8)
    assert measured(still, still) == pytest.approx(np.zeros(3), abs=1e-6)
