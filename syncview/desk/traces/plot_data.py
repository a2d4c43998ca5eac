"""All that a picture of the traces depends on, worked out before anything is painted. Knows no Qt."""

from __future__ import annotations

from dataclasses import dataclass

from syncview.desk.traces.lines import AxisName, Row, RowKey, TraceSet
from syncview.desk.traces.marks import Marks, marks_of
from syncview.desk.traces.scale import Range, row_ranges
from syncview.desk.traces.scene import RowPlace, View, row_places
from syncview.shown_units import Units
from syncview.track.laps import Lap

LEFT_PX, RIGHT_PX = 98, 84
"""Names and scales at the left of the traces, values at the playhead at their right."""
HEAD_PX, CORNERS_PX, MARKERS_PX, SCALE_PX = 22, 20, 15, 22
"""Where the playhead is, corner numbers above, markers and scale below the traces."""

LOW_PX = 260
"""A plot lower than this does without the markers' words; they are still told by tool tips."""


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """What is shown, whatever the zoom and size."""

    traces: TraceSet
    axis: AxisName
    lap: Lap | None
    """None: the whole session."""
    units: Units
    ranges: dict[RowKey, Range]
    marks: Marks

    @classmethod
    def of(cls, traces: TraceSet, axis: AxisName, lap: Lap | None, units: Units) -> Subject:
        """Look up ranges and marks."""
        return cls(traces, axis, lap, units, row_ranges(traces, lap, units), marks_of(traces, axis))


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Where things lie on a plot of some size, in logical pixels."""

    subject: Subject
    view: View
    width: float
    height: float

    @property
    def left(self) -> float:
        """Where the traces begin."""
        return LEFT_PX

    @property
    def right(self) -> float:
        """Where they end."""
        return max(self.width - RIGHT_PX, LEFT_PX + 1)

    @property
    def top(self) -> float:
        """Upper edge of the first trace."""
        return HEAD_PX + CORNERS_PX

    @property
    def bottom(self) -> float:
        """Lower edge of the last trace."""
        markers = MARKERS_PX if self.names_markers else 0
        return max(self.height - SCALE_PX - markers, self.top + 1)

    @property
    def names_markers(self) -> bool:
        """Whether there are markers, and room for their words."""
        return bool(self.subject.marks.markers) and self.height >= LOW_PX

    @property
    def scale_top(self) -> float:
        """Upper edge of the scale."""
        return self.height - SCALE_PX

    def rows(self) -> tuple[RowPlace, ...]:
        """The traces' places."""
        return row_places(self.subject.traces, self.top, self.bottom)

    def left_out(self) -> tuple[Row, ...]:
        """Rows for which there is no room."""
        shown = {place.row.key for place in self.rows()}
        return tuple(row for row in self.subject.traces.rows if row.key not in shown)

    def px(self, x: float) -> float:
        """From the axis to the plot."""
        return self.left + (x - self.view.begin) / self.view.length * (self.right - self.left)

    def x(self, px: float) -> float:
        """From the plot to the axis; beyond its edges too."""
        return self.view.begin + (px - self.left) / (self.right - self.left) * self.view.length
