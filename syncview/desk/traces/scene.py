"""What the plot of the traces shows: the stretch in view, where its rows lie, and what is where. Knows no Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace

from syncview.desk.traces.lines import AxisName, Row, RowKey, TraceSet

LEAST_VIEW: dict[AxisName, float] = {"distance": 5.0, "time": 0.1}
"""Nothing is zoomed in further than to so many metres or seconds."""
_WEIGHTS: dict[RowKey, float] = {
    "speed": 2.6, "gear": 0.9, "brake": 1.2, "throttle": 1.2, "steering": 1.3, "engine_speed": 1.1, "gap": 1.4,
}  # fmt: skip
MISSING_PX = 20.0
"""Height of a row that only says what is missing."""
ROW_GAP_PX = 5.0
LEAST_PX = 14.0
"""Lower than this, no trace can be read."""
LEFT_OUT_FIRST: tuple[RowKey, ...] = ("engine_speed", "steering", "gear")
"""Where there is little room; speed, pedals and the gap always stay."""


@dataclass(frozen=True, slots=True)
class View:
    """The stretch of the axis that is seen, inside the stretch that can be."""

    begin: float
    end: float
    least: float
    most: float
    smallest: float
    """Least length of the stretch."""

    @classmethod
    def whole(cls, axis: AxisName, limits: tuple[float, float]) -> View:
        """All that there is."""
        return cls(*limits, *limits, smallest=min(LEAST_VIEW[axis], limits[1] - limits[0]))

    @property
    def length(self) -> float:
        """Of the stretch in view."""
        return self.end - self.begin

    @property
    def is_whole(self) -> bool:
        """Nothing is hidden."""
        return self.begin <= self.least and self.end >= self.most

    def zoomed(self, factor: float, about: float) -> View:
        """`factor` times as much in view (below 1: closer), with the place `about` staying where it is."""
        length = min(max(self.length * factor, self.smallest), self.most - self.least)
        share = (about - self.begin) / self.length
        return self._placed(about - share * length, length)

    def panned(self, by: float) -> View:
        """Moved along the axis, up to the end of what there is."""
        return self._placed(self.begin + by, self.length)

    def showing(self, begin: float, end: float) -> View:
        """From one place to another, as far as that can be seen."""
        length = min(max(end - begin, self.smallest), self.most - self.least)
        return self._placed((begin + end - length) / 2, length)

    def _placed(self, begin: float, length: float) -> View:
        begin = max(min(begin, self.most - length), self.least)
        return replace(self, begin=begin, end=begin + length)


@dataclass(frozen=True, slots=True)
class RowPlace:
    """A row on the plot, in logical pixels from the top."""

    row: Row
    top: float
    height: float

    @property
    def bottom(self) -> float:
        """Its lower edge."""
        return self.top + self.height

    def y(self, share: float) -> float:
        """Where a value lies that is at this share of the row's range."""
        return self.bottom - share * self.height


def row_places(traces: TraceSet, top: float, bottom: float) -> tuple[RowPlace, ...]:
    """The rows one below the other; what is missing takes no more than a line of words.

    Where the lowest would be lower than can be read, rows are left out: words about missing ones first, then others.
    """
    rows = list(traces.rows)
    for leave in (*(row for row in traces.rows if row.number is None), *_in_order(traces, LEFT_OUT_FIRST)):
        if _per_weight(rows, bottom - top) * min(_WEIGHTS.values()) >= LEAST_PX:
            break
        rows.remove(leave)
    per_weight = max(_per_weight(rows, bottom - top), 0.0)
    places = []
    for row in rows:
        height = MISSING_PX if row.number is None else per_weight * _WEIGHTS[row.key]
        places.append(RowPlace(row, top, height))
        top += height + ROW_GAP_PX
    return tuple(places)


def _in_order(traces: TraceSet, keys: tuple[RowKey, ...]) -> list[Row]:
    by_key = {row.key: row for row in traces.rows if row.number is not None}
    return [by_key[key] for key in keys if key in by_key]


def _per_weight(rows: list[Row], room: float) -> float:
    """Pixels for a row of weight one."""
    missing = sum(row.number is None for row in rows)
    weights = sum(_WEIGHTS[row.key] for row in rows if row.number is not None)
    return (room - ROW_GAP_PX * (len(rows) - 1) - missing * MISSING_PX) / max(weights, 1e-9)
