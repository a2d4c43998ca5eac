"""The map's geometry, its nearest place and its speeds."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.map.course import LapCourse, fitted, lap_course, pace_shares
from syncview.desk.map.painting import pace_colours
from syncview.desk.map.words import legend_words, place_words
from syncview.lesson.session import Session


@pytest.fixture(scope="module")
def course(sample_session: Session) -> LapCourse:
    return lap_course(sample_session, sample_session.lap(2))


def test_the_line_closes_and_is_as_long_as_the_lap(course: LapCourse) -> None:
    steps_m = np.hypot(np.diff(course.x_m), np.diff(course.y_m))
    assert steps_m.sum() == pytest.approx(course.lap_length_m, rel=5e-3)
    assert np.hypot(course.x_m[0] - course.x_m[-1], course.y_m[0] - course.y_m[-1]) < 0.5


def test_speeds_are_those_of_the_lap(course: LapCourse, sample_session: Session) -> None:
    trace = sample_session.track.traces[2]
    speed = sample_session.log.values("speed")
    assert speed is not None
    known = np.isfinite(speed)
    for number in range(10, course.lap_m.size - 10, 61):
        log_s = trace.log_s_at(course.lap_m[number : number + 1])[0]
        expected = np.interp(log_s, sample_session.log.time_s[known], speed[known])
        assert course.speed_mps[number] == pytest.approx(expected, abs=0.3)


def test_corners_carry_their_facts(course: LapCourse, sample_session: Session) -> None:
    assert [place.corner for place in course.corners] == list(sample_session.corners)
    for place in course.corners:
        if place.brake_m is not None and place.slowest_mps is not None:
            at_brake = np.interp(place.brake_m, course.lap_m, course.speed_mps)
            assert at_brake > place.slowest_mps
    assert any(place.brake_m is not None for place in course.corners)


@given(st.floats(60, 1500), st.floats(60, 1500))
def test_the_map_fits_and_keeps_its_shape(course: LapCourse, width: float, height: float) -> None:
    line = fitted(course, (10, 20, width, height))
    assert line.px.min() >= 10 - 1e-6
    assert line.px.max() <= 10 + width + 1e-6
    assert line.py.min() >= 20 - 1e-6
    assert line.py.max() <= 20 + height + 1e-6
    assert max(np.ptp(line.px) / width, np.ptp(line.py) / height) == pytest.approx(1.0)
    steps = np.hypot(np.diff(line.px), np.diff(line.py)) / np.hypot(np.diff(course.x_m), np.diff(course.y_m))
    assert steps.max() / steps.min() == pytest.approx(1.0, rel=1e-6)


def test_north_is_up_and_east_right_unless_turned(course: LapCourse) -> None:
    line = fitted(course, (0, 0, 400, 400))
    if line.turned_rad == 0:
        assert np.corrcoef(line.px, course.x_m)[0, 1] == pytest.approx(1)
        assert np.corrcoef(line.py, course.y_m)[0, 1] == pytest.approx(-1)
    tall = fitted(course, (0, 0, 200, 900))
    back = (tall.px - 1j * tall.py) * np.exp(-1j * tall.turned_rad)
    assert np.corrcoef(back.real, course.x_m)[0, 1] == pytest.approx(1)
    assert np.corrcoef(back.imag, course.y_m)[0, 1] == pytest.approx(1)


@given(st.floats(0, 400), st.floats(0, 300))
def test_the_nearest_place_is_the_nearest(course: LapCourse, px: float, py: float) -> None:
    line = fitted(course, (0, 0, 400, 300))
    lap_m, off = line.nearest(px, py)
    x, y = line.at(lap_m)
    assert np.hypot(x - px, y - py) == pytest.approx(off, abs=1e-6)
    dense_m = np.linspace(0, course.lap_length_m, 4001)
    dense = np.hypot(np.interp(dense_m, course.lap_m, line.px) - px, np.interp(dense_m, course.lap_m, line.py) - py)
    assert off <= dense.min() + 1e-6


def test_pace(course: LapCourse) -> None:
    shares = pace_shares(np.array([10.0, 20.0, 40.0, np.nan]))
    np.testing.assert_allclose(shares, [0, 1 / 3, 1, np.nan])
    assert np.isnan(pace_shares(np.array([np.nan]))).all()
    assert pace_shares(np.array([7.0, 7.0])).tolist() == [1.0, 1.0]
    assert course.speed_range_mps is not None


def test_colours_grow_lighter_with_speed() -> None:
    """So that they are told apart without hue; weights of ITU-R BT.709 (from memory) on linear light."""
    linear = [[(part / 255) ** 2.2 for part in tone] for tone in pace_colours(24)]
    luminance = [0.2126 * r + 0.7152 * g + 0.0722 * b for r, g, b in linear]
    assert all(a < b for a, b in itertools.pairwise(luminance))


def test_words(course: LapCourse) -> None:
    """NIST SP 811: 44.704 m/s are 100 mph."""
    assert legend_words((11.176, 44.704), "imperial") == ("slow, wide: 25", "fast, narrow: 100 mph")
    assert legend_words(None, "metric")[0] == "speed unknown"
    corner = course.corners[0].corner
    assert place_words(course, corner.apex_m, "metric").startswith(f"corner {corner.number}")
