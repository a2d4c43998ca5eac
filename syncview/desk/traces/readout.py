"""What the traces say at the playhead."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from syncview.desk.traces.lines import RowKey, TraceSet
from syncview.desk.traces.spans import values_at
from syncview.track.corners import Corner


@dataclass(frozen=True, slots=True)
class Readout:
    """The values that the playhead crosses, SI; None where there is none."""

    log_s: float
    own: dict[RowKey, float | None]
    reference: dict[RowKey, float | None]
    """The reference lap's at the same place of the lap; without the gap, which compares both already."""
    lap: int | None
    """Number of the lap under way, out-lap and in-lap too."""
    lap_time_s: float | None
    """None outside timed laps."""
    course_m: float | None
    """Lap distance counted on from lap to lap."""
    lap_distance_m: float | None
    corner: Corner | None
    """The corner between whose entry and exit the car is."""


def readout_at(traces: TraceSet, log_s: float) -> Readout:
    """Read all traces at one moment of the log."""
    values = values_at(traces, log_s).tolist()
    course_m = _finite(traces.to_x("distance", log_s))
    own = {row.key: _number(values, row.number) for row in traces.rows}
    others: dict[RowKey, float | None] = {}
    if traces.reference is not None:
        own["gap"] = _gap_s(traces, log_s, course_m)
        for row in traces.rows[:-1]:
            others[row.key] = None if row.number is None else _number(values, row.number + traces.own_rows)
    track = traces.session.track
    lap = next((one for one in track.laps if one.start_s <= log_s < one.end_s), None)
    lap_m = None if course_m is None else course_m % track.lap_length_m
    return Readout(
        log_s, own, others,
        None if lap is None else lap.number,
        log_s - lap.start_s if lap is not None and lap.timed else None,
        course_m,
        lap_m,
        None if lap_m is None else _corner_at(traces, lap_m),
    )  # fmt: skip


def _gap_s(traces: TraceSet, log_s: float, course_m: float | None) -> float | None:
    """As `gap_at`, for one moment: exact, where the trace is between samples."""
    index = int(traces.crossings_s.searchsorted(log_s, side="right")) - 1
    if traces.reference is None or course_m is None or not 0 <= index < traces.crossings_s.size - 1:
        return None
    trace = traces.session.track.traces[traces.reference.number]
    reference_s = np.interp(course_m - index * traces.lap_length_m, trace.distance_m, trace.log_s)
    return _finite(log_s - float(traces.crossings_s[index]) - float(reference_s) + traces.reference.start_s)


def _number(values: list[float], row: int | None) -> float | None:
    return None if row is None else _finite(values[row])


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _corner_at(traces: TraceSet, lap_m: float) -> Corner | None:
    length_m = traces.lap_length_m
    for corner in traces.session.corners:
        if (lap_m - corner.entry_m) % length_m <= (corner.exit_m - corner.entry_m) % length_m:
            return corner
    return None
