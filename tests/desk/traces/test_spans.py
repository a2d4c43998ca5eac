"""Columns of the plot against the line itself, evaluated very densely."""

from __future__ import annotations

import numpy as np
import pytest

from syncview.channels import sample_at
from syncview.desk.traces.lines import AxisName, TraceSet
from syncview.desk.traces.spans import column_edges, column_spans, values_at


def row_of(traces: TraceSet, key: str) -> int:
    number = next(row.number for row in traces.rows if row.key == key)
    assert number is not None
    return number


@pytest.mark.parametrize(
    ("axis", "length"), [("distance", 4.0), ("distance", 40.0), ("distance", 400.0), ("time", 4.0), ("time", 40.0)]
)
def test_close_up_columns_cover_the_line(sample_traces: TraceSet, axis: AxisName, length: float) -> None:
    """Where no level of the pyramid is used, the columns are exact."""
    begin = sample_traces.to_x(axis, 80.0)
    edges = column_edges(begin, begin + length, 300)
    assert sample_traces.pyramid.level_for(np.searchsorted(sample_traces.x(axis), edges)) == 0
    low, high = column_spans(sample_traces, axis, edges)
    x = sample_traces.x(axis)
    inside = np.isfinite(x)
    for key in ("speed", "throttle", "engine_speed"):
        row = row_of(sample_traces, key)
        line_x, line = x[inside], sample_traces.pyramid.values[row][inside].astype(float)
        for number in range(0, 300, 7):
            begin, end = edges[number], edges[number + 1]
            part = np.concatenate((np.interp([begin, end], line_x, line), line[(line_x > begin) & (line_x < end)]))
            assert low[row, number] == pytest.approx(part.min(), rel=1e-5, abs=1e-5)
            assert high[row, number] == pytest.approx(part.max(), rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("axis", ["distance", "time"])
def test_neighbouring_columns_hang_together(sample_traces: TraceSet, axis: AxisName) -> None:
    lap = sample_traces.session.lap(2)
    low, high = column_spans(sample_traces, axis, column_edges(*sample_traces.limits(axis, lap), 900))
    own = slice(0, sample_traces.own_rows)
    assert not np.isnan(low[own]).any()
    assert (low[own, 1:] <= high[own, :-1]).all()
    assert (low[own, :-1] <= high[own, 1:]).all()


def test_the_whole_session_keeps_its_extremes(sample_traces: TraceSet) -> None:
    low, high = column_spans(sample_traces, "time", column_edges(*sample_traces.limits("time", None), 500))
    np.testing.assert_array_equal(np.nanmin(low, axis=1), np.nanmin(sample_traces.pyramid.values, axis=1))
    np.testing.assert_array_equal(np.nanmax(high, axis=1), np.nanmax(sample_traces.pyramid.values, axis=1))


def test_gears_step(sample_traces: TraceSet) -> None:
    """Between two samples of different gears there is no half gear at any place."""
    row = row_of(sample_traces, "gear")
    gears = sample_traces.pyramid.values[row]
    change = int(np.flatnonzero(np.diff(gears) != 0)[3])
    begin_s, end_s = sample_traces.log_s[change], sample_traces.log_s[change + 1]
    low, high = column_spans(sample_traces, "time", column_edges(begin_s, end_s, 10))
    assert (low[row, :-1] == high[row, :-1]).all()
    assert low[row, 0] == gears[change]
    assert {float(low[row, -1]), float(high[row, -1])} == {float(gears[change]), float(gears[change + 1])}


def test_one_lap_shows_nothing_of_its_neighbours(sample_traces: TraceSet) -> None:
    """The gap begins at nil and ends at the difference of the lap times, in both axes."""
    lap, reference = sample_traces.session.lap(1), sample_traces.reference
    assert reference is not None
    row = row_of(sample_traces, "gap")
    for axis in ("distance", "time"):
        low, high = column_spans(sample_traces, axis, column_edges(*sample_traces.limits(axis, lap), 700))
        assert abs(low[row, 0]) < 0.02
        assert abs(high[row, 0]) < 0.02
        last_s = (lap.time_ms - reference.time_ms) / 1000
        assert low[row, -1] == pytest.approx(last_s, abs=0.02)
        assert high[row, -1] == pytest.approx(last_s, abs=0.02)


def test_values_at_a_moment(sample_traces: TraceSet) -> None:
    row = row_of(sample_traces, "speed")
    speed = sample_traces.pyramid.values[row].astype(float)
    for log_s in np.random.default_rng(2).uniform(sample_traces.log_s[0], sample_traces.log_s[-1], 50):
        expected = sample_at(sample_traces.log_s, speed, np.array([log_s]))[0]
        assert values_at(sample_traces, float(log_s))[row] == pytest.approx(expected, rel=1e-5)
    assert np.isnan(values_at(sample_traces, sample_traces.log_s[0] - 1.0)).all()
    assert np.isnan(values_at(sample_traces, sample_traces.log_s[-1] + 1.0)).all()
    first = sample_traces.pyramid.values[:, 0]
    np.testing.assert_array_equal(values_at(sample_traces, float(sample_traces.log_s[0])), first)
