"""The values of a trace as people are shown them: units, range, marks and words."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from syncview.desk.traces.lines import Row, RowKey, TraceSet
from syncview.desk.traces.ticks import nice_step
from syncview.shown_units import SPEED, ShownUnit, Units
from syncview.track.laps import Lap

_OTHER_UNITS: dict[RowKey, ShownUnit] = {
    "gear": ShownUnit("", 1.0), "brake": ShownUnit("%", 0.01), "throttle": ShownUnit("%", 0.01),
    "steering": ShownUnit("°", math.pi / 180), "engine_speed": ShownUnit("1/min", 2 * math.pi / 60),
    "gap": ShownUnit("s", 1.0),
}  # fmt: skip
_MARKS: dict[RowKey, float] = {"speed": 5.0, "steering": 4.0, "engine_speed": 3.0, "gap": 3.0}
"""About so many steps of the scale fit in a trace."""


@dataclass(frozen=True, slots=True)
class Range:
    """What part of the values a trace shows, SI."""

    low: float
    high: float
    marks: tuple[float, ...]
    """Where its scale has lines, SI."""


def unit_of(key: RowKey, units: Units) -> ShownUnit:
    """The unit that the trace is shown in."""
    return SPEED[units] if key == "speed" else _OTHER_UNITS[key]


def words_of(key: RowKey, value: float | None, units: Units) -> str:
    """A value without its unit; a dash for none. Gears 0 and -1 are N and R."""
    if value is None or not math.isfinite(value):
        return "–"
    shown = unit_of(key, units).of(value)
    if key == "gear":
        return {0: "N", -1: "R"}.get(round(shown), f"{round(shown)}")
    if key == "gap":
        return _signed(f"{shown:+.3f}")
    if key == "steering":
        return _signed(f"{shown:+.0f}")
    return _signed(f"{shown:.0f}")


def mark_words(key: RowKey, value: float, units: Units) -> str:
    """A mark of the scale: as `words_of`, with no more decimals than needed."""
    return _signed(f"{value:+.3g}") if key == "gap" else words_of(key, value, units)


def _signed(digits: str) -> str:
    """With a true minus, and without a sign where only noughts follow."""
    return digits[1:] if digits[0] in "+-" and not digits[1:].strip("0.") else digits.replace("-", "−")


def row_ranges(traces: TraceSet, lap: Lap | None, units: Units) -> dict[RowKey, Range]:
    """The range of every trace that is there, over one lap or the whole session, with the reference lap's values.

    Over a session the gap's range is that of the laps that stand for the driving: a stop would flatten all others.
    """
    return {
        row.key: _range(row.key, *_extremes(traces, row, lap), units) for row in traces.rows if row.number is not None
    }


def _extremes(traces: TraceSet, row: Row, lap: Lap | None) -> tuple[float, float]:
    laps = [lap] if lap is not None else []
    if lap is None and row.key == "gap":
        laps = [other for other in traces.session.track.timed if other.representative]
    stretches = [(one.start_s, one.end_s) for one in laps] or [(-math.inf, math.inf)]
    assert row.number is not None
    count = traces.pyramid.values.shape[0]
    rows = [row.number] if row.key == "gap" else list(range(row.number, count, traces.own_rows))
    lows, highs = [], []
    for begin_s, end_s in stretches:
        edges = np.array([np.searchsorted(traces.log_s, begin_s), np.searchsorted(traces.log_s, end_s)])
        low, high = traces.pyramid.extremes(edges)
        lows.append(low[rows])
        highs.append(high[rows])
    every = np.concatenate((*lows, *highs))
    every = every[np.isfinite(every)]
    return (float(every.min()), float(every.max())) if every.size else (0.0, 0.0)


def _range(key: RowKey, low: float, high: float, units: Units) -> Range:
    if key in ("brake", "throttle"):
        return Range(-0.07, max(1.07, high), (0.0, 0.5, 1.0))
    if key == "gear":
        return Range(min(low, 1.0) - 0.6, high + 0.6, tuple(float(gear) for gear in range(1, round(high) + 1)))
    si = unit_of(key, units).si
    if key == "steering":
        reach = max(abs(low), abs(high), 10 * si)
        low, high = -reach, reach
    elif key == "gap":
        low, high = min(low, -0.05), max(high, 0.05)
    step = nice_step(max(high - low, 1e-6) / si / _MARKS[key])
    first, last = math.ceil(low / si / step - 1e-6), math.floor(high / si / step + 1e-6)
    room = 0.06 * max(high - low, 1e-6)
    return Range(low - room, high + room, tuple(i * step * si for i in range(first, last + 1)))
