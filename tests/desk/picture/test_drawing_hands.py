"""Hands on drawings, in shares of the picture."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.picture.drawing_hands import drawing_under, drawn, moved
from syncview.desk.picture.fit import fit
from syncview.gauges.drawing import KINDS, Drawing, Kind, checked

SHARES = st.floats(0, 1)
PLACES = st.tuples(SHARES, SHARES)
WIDE = fit(1280, 720, 16, 9)
assert WIDE is not None


@given(st.sampled_from(KINDS), PLACES, PLACES)
def test_what_is_drawn_can_be_kept(kind: Kind, begin: tuple[float, float], end: tuple[float, float]) -> None:
    made = drawn(kind, begin, end)
    if made is not None:
        assert checked(made) == made
        assert made.begin == pytest.approx(begin, abs=1e-4)
        assert made.end == pytest.approx(end, abs=1e-4)


def test_a_slip_of_the_hand_draws_nothing() -> None:
    assert drawn("arrow", (0.5, 0.5), (0.503, 0.503)) is None
    assert drawn("ellipse", (0.2, 0.5), (0.8, 0.503)) is None


@given(st.sampled_from(KINDS), PLACES, PLACES, st.floats(-2, 2), st.floats(-2, 2))
def test_moving_keeps_the_size_and_stays_in_the_picture(
    kind: Kind, begin: tuple[float, float], end: tuple[float, float], across: float, down: float
) -> None:
    old = drawn(kind, begin, end, label="kerb")
    if old is None:
        return
    new = moved(old, across, down)
    assert checked(new).label == "kerb"
    for axis in (0, 1):
        assert new.end[axis] - new.begin[axis] == pytest.approx(old.end[axis] - old.begin[axis], abs=2e-4)


def test_one_end_moves_alone_and_not_onto_the_other() -> None:
    old = Drawing("arrow", (0.2, 0.2), (0.5, 0.5))
    assert moved(old, 0.1, -0.1, end="end") == Drawing("arrow", (0.2, 0.2), (0.6, 0.4))
    assert moved(old, -0.3, -0.3, end="end") == old


def test_a_pointer_means_the_shape_that_it_touches() -> None:
    assert WIDE is not None
    arrow, ring = Drawing("arrow", (0.1, 0.1), (0.5, 0.5)), Drawing("ellipse", (0.6, 0.6), (0.8, 0.9))
    light = Drawing("spotlight", (0.0, 0.6), (0.3, 0.9))
    drawings = (arrow, ring, light)

    def under(x: float, y: float) -> int | None:
        return drawing_under(drawings, WIDE, *WIDE.point_of((x, y)))

    assert under(0.3, 0.305) == 0  # on the shaft, 4 pixels off
    assert under(0.3, 0.4) is None
    assert under(0.6, 0.75) == 1  # on the ring's left side
    assert under(0.7, 0.75) is None  # inside the ring one sees the road: it stays free
    assert under(0.15, 0.75) == 2  # anywhere in the light
    assert under(0.55, 0.55) is None  # beyond the arrow's head
