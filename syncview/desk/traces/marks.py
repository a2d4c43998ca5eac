"""Corners and markers along the axis of the traces, in every lap."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass

import numpy as np

from syncview.channels import FloatArray
from syncview.desk.traces.lines import AxisName, TraceSet
from syncview.track.corners import Corner
from syncview.track.markers import Marker

NEIGHBOURS = 3
"""So many corners whose apexes lie outside a stretch may still reach into it."""


@dataclass(frozen=True, slots=True)
class CornerMark:
    """A corner in one lap, on the axis."""

    corner: Corner
    begin: float
    apex: float
    end: float


@dataclass(frozen=True, slots=True)
class MarkerMark:
    """A marker in one lap, on the axis."""

    marker: Marker
    x: float


@dataclass(frozen=True, slots=True)
class Marks:
    """All of a session's on one axis, each in order."""

    corners: tuple[CornerMark, ...]
    markers: tuple[MarkerMark, ...]

    def corners_between(self, begin: float, end: float) -> tuple[CornerMark, ...]:
        """Those that reach into a stretch."""
        first = bisect_left(self.corners, begin, key=lambda mark: mark.apex)
        stop = bisect_right(self.corners, end, key=lambda mark: mark.apex)
        around = self.corners[max(first - NEIGHBOURS, 0) : stop + NEIGHBOURS]
        return tuple(mark for mark in around if mark.end > begin and mark.begin < end)

    def markers_between(self, begin: float, end: float) -> tuple[MarkerMark, ...]:
        """Those that lie in a stretch."""
        first = bisect_left(self.markers, begin, key=lambda mark: mark.x)
        return self.markers[first : bisect_right(self.markers, end, key=lambda mark: mark.x)]

    def corner_at(self, x: float) -> CornerMark | None:
        """The corner that holds the place; the one whose apex is nearer where two do."""
        holding = [mark for mark in self.corners if mark.begin <= x <= mark.end]
        return min(holding, key=lambda mark: abs(mark.apex - x), default=None)

    def corner_after(self, x: float, *, steps: int) -> CornerMark | None:
        """The next corner by its apex (`steps` 1), or the one before (-1); None at the ends."""
        if steps > 0:
            return next((mark for mark in self.corners if mark.apex > x + 1e-6), None)
        return next((mark for mark in reversed(self.corners) if mark.apex < x - 1e-6), None)


def marks_of(traces: TraceSet, axis: AxisName) -> Marks:
    """Place all corners and markers; those off the course are left out."""
    session, length_m = traces.session, traces.lap_length_m
    corners: list[CornerMark] = []
    markers: list[MarkerMark] = []
    placed = session.circuit.markers if session.circuit is not None else ()
    for index in range(-1, traces.crossings_s.size):
        for corner in session.corners:
            apex_m = index * length_m + corner.apex_m
            begin_m = apex_m - (corner.apex_m - corner.entry_m) % length_m
            end_m = apex_m + (corner.exit_m - corner.apex_m) % length_m
            begin, apex, end = _on_axis(traces, axis, np.array([begin_m, apex_m, end_m]))
            if np.isfinite([begin, apex, end]).all():
                corners.append(CornerMark(corner, float(begin), float(apex), float(end)))
        for marker in placed:
            x = float(_on_axis(traces, axis, np.array([index * length_m + marker.at_m]))[0])
            if np.isfinite(x):
                markers.append(MarkerMark(marker, x))
    corners.sort(key=lambda mark: mark.apex)
    markers.sort(key=lambda mark: mark.x)
    return Marks(tuple(corners), tuple(markers))


def _on_axis(traces: TraceSet, axis: AxisName, course_m: FloatArray) -> FloatArray:
    log_s = traces.session.track.log_s_at_course(course_m)
    return np.where(np.isfinite(log_s), course_m, np.nan) if axis == "distance" else log_s
