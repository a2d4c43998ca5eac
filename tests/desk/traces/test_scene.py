"""Views, rows, scales and words."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from syncview.desk.traces.lines import TraceSet, trace_set
from syncview.desk.traces.marks import marks_of
from syncview.desk.traces.readout import readout_at
from syncview.desk.traces.scale import mark_words, row_ranges, unit_of, words_of
from syncview.desk.traces.scene import View, row_places
from syncview.desk.traces.ticks import nice_step, scale_ticks, time_step_s, time_words
from syncview.lesson.session import Session

VIEW = View.whole("distance", (100.0, 2100.0))


@given(st.floats(0.01, 100), st.floats(100, 2100), st.floats(-5000, 5000))
def test_views_stay_inside(factor: float, about: float, by: float) -> None:
    view = VIEW.zoomed(0.3, 700).zoomed(factor, about).panned(by)
    assert view.least - 1e-6 <= view.begin < view.end <= view.most + 1e-6
    assert view.length >= view.smallest - 1e-6


@given(st.floats(0.05, 0.9))
def test_zooming_keeps_the_place_below_the_pointer(factor: float) -> None:
    before = VIEW.zoomed(0.5, 1000)
    after = before.zoomed(factor, 900)
    assert (900 - before.begin) / before.length == pytest.approx((900 - after.begin) / after.length)


def test_rows_fill_the_height(sample_traces: TraceSet) -> None:
    places = row_places(sample_traces, 40, 540)
    assert [place.row.key for place in places] == [row.key for row in sample_traces.rows]
    assert places[0].top == 40
    assert places[-1].bottom == pytest.approx(540)
    assert all(a.bottom < b.top for a, b in itertools.pairwise(places))


def test_where_there_is_little_room_rows_are_left_out(sample_traces: TraceSet) -> None:
    def shown(height: float) -> list[str]:
        return [place.row.key for place in row_places(sample_traces, 0, height)]

    assert shown(120) == ["speed", "brake", "throttle", "gap"]
    assert shown(20) == ["speed", "brake", "throttle", "gap"]
    assert len(shown(220)) == 7
    for height in range(100, 400, 7):
        places = row_places(sample_traces, 0, height)
        assert min(place.height for place in places) >= 14 - 1e-9
        assert places[-1].bottom == pytest.approx(height)


@pytest.mark.parametrize(("least", "step"), [(0.011, 0.02), (1.0, 1.0), (3.0, 5.0), (7.0, 10.0), (140.0, 200.0)])
def test_nice_steps(least: float, step: float) -> None:
    assert nice_step(least) == pytest.approx(step)


def test_times() -> None:
    assert time_words(83.456, 0.01) == "1:23.46"
    assert time_words(59.999, 0.01) == "1:00.00"
    assert time_words(-3.0) == "−0:03"
    assert time_words(3600.0) == "60:00"
    assert time_step_s(7.0) == 10.0


def test_values_in_units() -> None:
    """NIST SP 811: a mile an hour is 0.44704 m/s; 1 rad is 180/π degrees."""
    assert words_of("speed", 50.0, "metric") == "180"
    assert words_of("speed", 44.704, "imperial") == "100"
    assert words_of("gear", 0.0, "metric") == "N"
    assert words_of("gear", -1.0, "metric") == "R"
    assert words_of("steering", math.radians(-17.2), "metric") == "−17"
    assert words_of("engine_speed", 2 * math.pi * 100, "metric") == "6000"
    assert words_of("gap", -0.3534, "metric") == "−0.353"
    assert words_of("gap", 0.0001, "metric") == "0.000"
    assert words_of("brake", None, "metric") == "–"
    assert words_of("brake", math.nan, "metric") == "–"
    assert mark_words("gap", -0.5, "metric") == "−0.5"
    assert mark_words("gap", 0.0, "metric") == "0"
    assert unit_of("speed", "imperial").label == "mph"


def test_distance_marks_count_from_each_lap_start(sample_traces: TraceSet, sample_session: Session) -> None:
    begin, end = sample_traces.limits("distance", None)
    ticks = scale_ticks(sample_traces, "distance", None, begin, end, most=20, units="metric")
    length_m = sample_session.track.lap_length_m
    for tick in ticks:
        if tick.words:
            assert tick.x % length_m == pytest.approx(float(tick.words))
        else:
            assert min(tick.x % length_m, length_m - tick.x % length_m) < 1e-6
    assert [tick.lap for tick in ticks if tick.lap is not None] == [1, 2, 3, 4]


def test_marks_in_yards(sample_traces: TraceSet, sample_session: Session) -> None:
    """NIST SP 811: a yard is 0.9144 m."""
    lap = sample_session.lap(1)
    begin, end = sample_traces.limits("distance", lap)
    ticks = scale_ticks(sample_traces, "distance", lap, begin, end, most=10, units="imperial")
    words = [tick for tick in ticks if tick.words]
    assert [tick.x - begin for tick in words] == pytest.approx([0.9144 * float(tick.words) for tick in words])


def test_times_count_from_the_lap(sample_traces: TraceSet, sample_session: Session) -> None:
    lap = sample_session.lap(2)
    ticks = scale_ticks(sample_traces, "time", lap, lap.start_s, lap.end_s, most=8, units="metric")
    assert [tick.x for tick in ticks if tick.words == "0:20"] == pytest.approx([lap.start_s + 20])


def test_every_lap_has_its_corners(sample_traces: TraceSet, sample_session: Session) -> None:
    for axis in ("distance", "time"):
        marks = marks_of(sample_traces, axis)
        for lap in sample_session.track.timed:
            shown = marks.corners_between(*sample_traces.limits(axis, lap))
            apexes = [mark for mark in shown if sample_traces.limits(axis, lap)[0] <= mark.apex
                      < sample_traces.limits(axis, lap)[1]]  # fmt: skip
            assert [mark.corner.number for mark in apexes] == [corner.number for corner in sample_session.corners]
        first = marks.corners[0]
        assert marks.corner_at(first.apex) is first
        assert marks.corner_after(first.apex, steps=1) is marks.corners[1]
        assert marks.corner_after(first.apex, steps=-1) is None


def test_corners_between_is_as_by_looking_at_all(sample_traces: TraceSet) -> None:
    marks = marks_of(sample_traces, "distance")
    for begin in range(-1500, 7000, 173):
        expected = tuple(mark for mark in marks.corners if mark.end > begin and mark.begin < begin + 90)
        assert marks.corners_between(begin, begin + 90) == expected


def test_ranges_hold_every_value(sample_traces: TraceSet, sample_session: Session) -> None:
    for lap in (None, sample_session.lap(2)):
        ranges = row_ranges(sample_traces, lap, "metric")
        assert ranges["speed"].low < 15
        assert ranges["speed"].high > 50
        assert ranges["steering"].low == pytest.approx(-ranges["steering"].high)
        assert ranges["gap"].low < 0 < ranges["gap"].high
        for value_range in ranges.values():
            assert all(value_range.low <= mark <= value_range.high for mark in value_range.marks)


def test_the_readout_says_what_the_log_says(sample_traces: TraceSet, sample_session: Session) -> None:
    lap = sample_session.lap(2)
    log_s = lap.start_s + 20.0
    readout = readout_at(sample_traces, log_s)
    speed = sample_session.log.values("speed")
    assert speed is not None
    known = speed == speed
    assert readout.lap == 2
    assert readout.lap_time_s == pytest.approx(20.0)
    import numpy as np

    assert readout.own["speed"] == pytest.approx(np.interp(log_s, sample_traces.log_s[known], speed[known]), rel=1e-5)
    assert "gap" not in readout.reference
    before = readout_at(sample_traces, sample_traces.log_s[0] - 5)
    assert before.lap is None
    assert before.own["speed"] is None
    assert before.lap_distance_m is None


def test_the_readout_names_the_corner(sample_traces: TraceSet, sample_session: Session) -> None:
    track = sample_session.track
    for corner in sample_session.corners:
        place_m = track.lap_begin_m(sample_session.lap(2)) + corner.apex_m
        found = readout_at(sample_traces, sample_traces.to_log_s("distance", place_m))
        assert found.corner is corner
        assert found.lap_distance_m == pytest.approx(corner.apex_m, abs=1e-3)


def test_without_a_reference_nothing_is_compared(sample_session: Session) -> None:
    readout = readout_at(trace_set(sample_session, None), 80.0)
    assert readout.reference == {}
    assert readout.own["gap"] is None
