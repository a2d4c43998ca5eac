"""The picture in rooms of any shape: shares do not depend on them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.picture.fit import fit

SIDES = st.integers(40, 5000)
SHARES = st.floats(0, 1)


@given(SIDES, SIDES, st.integers(16, 4096), st.integers(16, 4096), SHARES, SHARES)
def test_a_share_comes_back_from_its_point_in_any_room(
    width: int, height: int, across: int, down: int, x: float, y: float
) -> None:
    place = fit(width, height, across, down)
    assert place is not None
    assert place.share_of(*place.point_of((x, y))) == pytest.approx((x, y), abs=1e-9)


@given(SIDES, SIDES, st.integers(16, 4096), st.integers(16, 4096))
def test_the_picture_lies_inside_fills_one_side_and_keeps_its_shape(
    width: int, height: int, across: int, down: int
) -> None:
    place = fit(width, height, across, down)
    assert place is not None
    assert place.left >= 0
    assert place.top >= 0
    assert place.left + place.width <= width
    assert place.top + place.height <= height
    assert width - place.width <= 1 or height - place.height <= 1
    assert place.width % 2 == place.height % 2 == 0
    if min(place.width, place.height) > 100:
        # Even sides are at most two pixels from the exact ones.
        assert abs(place.width * down / across - place.height) <= 2 * (1 + down / across)


def test_points_beside_the_picture_count_to_its_edge() -> None:
    place = fit(1000, 500, 500, 500)
    assert place is not None
    assert (place.left, place.top, place.width, place.height) == (250, 0, 500, 500)
    assert place.share_of(100, 250) == (0.0, 0.5)
    assert place.share_of(900, 600) == (1.0, 1.0)
    assert place.holds(250, 0)
    assert not place.holds(249, 0)


def test_no_room_no_picture() -> None:
    assert fit(1, 500, 16, 9) is None
