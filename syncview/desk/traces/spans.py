"""What each column of the plot covers of a trace: the extremes of the line between the column's edges."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.channels import LONGEST_GAP_S, FloatArray
from syncview.desk.traces.lines import AxisName, TraceSet

Samples = NDArray[np.float32]

NEAR = 1e-6
"""Metres or seconds: an edge so near to a line crossing lies on it, whatever rounding did to it."""


def column_edges(begin: float, end: float, columns: int) -> FloatArray:
    """Places of the edges of even columns, shape (columns + 1,)."""
    return np.linspace(begin, end, columns + 1)


def column_spans(traces: TraceSet, axis: AxisName, edges: FloatArray) -> tuple[Samples, Samples]:
    """Lowest and highest value of every trace in every column, each shape (rows, columns); NaN where there is none.

    Neighbouring columns share the value at their edge, so that the trace hangs together. Rows are those of the stack.
    Samples beside an edge may count to the next column, see `Pyramid.rounded`.
    """
    x = traces.x(axis)
    places = np.searchsorted(x, edges, side="left")
    low, high = traces.pyramid.extremes(places)
    at_edges = _edge_values(traces, axis, edges, places)
    left, right = at_edges[:, :-1], at_edges[:, 1:]
    np.fmin(low, np.fmin(left, right), out=low)
    np.fmax(high, np.fmax(left, right), out=high)
    return low, high


def values_at(traces: TraceSet, log_s: float) -> Samples:
    """Every row of the stack at one moment, shape (rows,), as `column_spans` has it at its edges; NaN for no value."""
    time_s, values = traces.log_s, traces.pyramid.values
    after = int(time_s.searchsorted(log_s, side="left"))
    if after < time_s.size and time_s[after] == log_s:
        return values[:, after]
    if after in (0, time_s.size) or time_s[after] - time_s[after - 1] > LONGEST_GAP_S:
        return np.full(values.shape[0], np.nan, np.float32)
    first, second = values[:, after - 1], values[:, after]
    share = np.float32((log_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1]))
    result: Samples = first + (second - first) * share
    for row in traces.stepped_rows:
        result[row] = first[row]
    if traces.lap_index[after] != traces.lap_index[after - 1]:
        side = second if traces.crossings_s.searchsorted(log_s, side="right") == traces.lap_index[after] else first
        for row in traces.restarting_rows:
            result[row] = side[row] if result[row] == result[row] else np.nan
    return result


def _edge_values(traces: TraceSet, axis: AxisName, edges: FloatArray, places: NDArray[np.int64]) -> Samples:
    """Values on the line at places of the axis, shape (rows, edges); those that step hold, none across long holes."""
    x, values = traces.x(axis), traces.pyramid.values
    after = np.minimum(places, x.size - 1)
    before = np.maximum(places - 1, 0)
    on_sample = x[after] == edges
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(on_sample, 1.0, (edges - x[before]) / (x[after] - x[before])).astype(np.float32)
    hole = traces.log_s[after] - traces.log_s[before] > LONGEST_GAP_S
    outside = (places == 0) | (places == x.size) | hole
    share[outside & ~on_sample] = np.nan
    first, second = values[:, before], values[:, after]
    result: Samples = np.where(on_sample, second, first + (second - first) * share)
    held = np.where(on_sample, second, np.where(np.isnan(share), np.nan, first))
    stepped = list(traces.stepped_rows)
    result[stepped] = held[stepped]
    _part_at_crossings(traces, axis, edges, (before, after), result)
    return result


def _part_at_crossings(
    traces: TraceSet,
    axis: AxisName,
    edges: FloatArray,
    around: tuple[NDArray[np.int64], NDArray[np.int64]],
    result: Samples,
) -> None:
    """The gap and the reference begin anew at the line: between its neighbours each keeps its own lap's value."""
    before, after = around
    across = np.flatnonzero(traces.lap_index[before] != traces.lap_index[after])
    if not across.size:
        return
    asked = edges[across] + NEAR
    asked[across == edges.size - 1] -= 2 * NEAR  # the last edge belongs to the column before it
    lap = np.searchsorted(traces.crossings(axis), asked, side="right")
    side = np.where(lap == traces.lap_index[after[across]], after[across], before[across])
    anew = np.array(traces.restarting_rows, dtype=np.int64)
    spots = np.ix_(anew, across)
    result[spots] = np.where(np.isnan(result[spots]), np.nan, traces.pyramid.values[np.ix_(anew, side)])
