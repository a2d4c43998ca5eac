"""Lap distance: where along the lap the car was at every sample.

From position projected on the reference line; else from speed, integrated and scaled so that the lap closes; else
from a distance channel in the same way. All laps hang together on one axis, `course_m`, which is lap distance
counted on from lap to lap, so that what happens across the line (brakes on before it, apex behind it) stays whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.errors import LogError
from syncview.progress import Progress, silent
from syncview.track.geometry import smooth
from syncview.track.laps import Lap, LapTable, lap_table
from syncview.track.motion import Fixes, Motion, read_motion
from syncview.track.reference_line import ReferenceLine
from syncview.track.session_line import LEAST_FIXES_PER_M, OFF_LINE_M, SEARCH_WINDOW_M, session_line

FloatArray = NDArray[np.float64]

CORRECTION_SMOOTHING_M = 8.0
"""Speed carries distance over shorter lengths than this, position over longer ones."""
LEAST_PACE = 0.05
"""Corrections never slow the lap distance below this share of the speed, so that it can be inverted."""


@dataclass(frozen=True, slots=True, eq=False)
class LapTrace:
    """Lap distance of one lap at the log's samples and at both line crossings; arrays have shape (n,)."""

    lap: int
    log_s: FloatArray
    distance_m: FloatArray
    """Strictly rising, exactly 0 first and the lap length last."""
    source: str

    def log_s_at(self, distance_m: FloatArray) -> FloatArray:
        """Log times at lap distances; NaN outside the lap."""
        return np.interp(distance_m, self.distance_m, self.log_s, left=np.nan, right=np.nan)

    def distance_at(self, log_s: FloatArray) -> FloatArray:
        """Lap distances at log times; NaN outside the lap."""
        return np.interp(log_s, self.log_s, self.distance_m, left=np.nan, right=np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """A session's laps on one lap distance."""

    lap_length_m: float
    laps: tuple[Lap, ...]
    traces: Mapping[int, LapTrace]
    """By lap number, timed laps only."""
    line: ReferenceLine | None
    """None where the log has no position."""
    best: Lap | None
    source: str
    """What lap distance is made from."""
    course_log_s: FloatArray
    """Shape (m,), the log's samples and all line crossings."""
    course_m: FloatArray
    """Strictly rising; 0 at the first crossing, `lap_length_m` more at each following one, negative in the out-lap."""
    motion: Motion
    """Speed and position at the log's samples."""
    warnings: tuple[str, ...] = ()

    @property
    def timed(self) -> tuple[Lap, ...]:
        """Laps that have a trace, in order of time."""
        return tuple(lap for lap in self.laps if lap.timed)

    def lap_begin_m(self, lap: Lap) -> float:
        """`course_m` at the lap's start."""
        return self.timed.index(lap) * self.lap_length_m

    def log_s_at_course(self, course_m: FloatArray) -> FloatArray:
        """Log times at places of the course; NaN outside it."""
        return np.interp(course_m, self.course_m, self.course_log_s, left=np.nan, right=np.nan)

    def sample_course_m(self) -> FloatArray:
        """Places of the course at the log's samples, rising; −inf before the course begins and +inf after it."""
        return np.interp(self.motion.log_s, self.course_log_s, self.course_m, left=-np.inf, right=np.inf)

    def course_at(self, log_s: FloatArray) -> FloatArray:
        """Places of the course at log times; NaN outside it."""
        return np.interp(log_s, self.course_log_s, self.course_m, left=np.nan, right=np.nan)


def build_track(log: SessionLog, lap_starts_s: FloatArray, *, line: ReferenceLine | None = None,
                lap_length_m: float | None = None, progress: Progress = silent) -> Track:  # fmt: skip
    """Place every sample of a session along the lap.

    `lap_starts_s`: shape (k,), ascending log times of line crossings, at least two. `line` and `lap_length_m`: a
    known circuit's, on the plane of the log's fixes; found from the laps when not given. Raises `LogError` without a
    complete lap, or without anything that tells distance.
    """
    table = lap_table(log, lap_starts_s)
    if not table.timed:
        raise LogError(
            "there is no complete lap, from one line crossing to the next",
            "Choose a longer part of the log, or mark at least two line crossings.",
            where=log.name,
        )
    progress(0.0, "reading positions")
    motion = read_motion(log)
    warnings: list[str] = []
    if line is None and lap_length_m is None:
        line, warnings = session_line(motion, table)
    progress(0.4, "measuring laps")
    if lap_length_m is None:
        lap_length_m = _length_m(motion, table) if line is None else line.length_m
    track = _assemble(log, table, motion, line, lap_length_m, warnings)
    progress(1.0, "measuring laps")
    return track


def lap_distance(track: Track, lap: Lap) -> LapTrace:
    """One lap's distance at every sample; raises `LogError` for a lap that is not from line to line."""
    trace = track.traces.get(lap.number)
    if trace is None:
        raise LogError(f"lap {lap.number} does not run from line to line", "Choose a timed lap.", where=lap.remark)
    return trace


def _length_m(motion: Motion, table: LapTable) -> float:
    """Median driven length, of representative laps if there are any."""
    laps = table.representative or table.timed
    ends = np.interp([(lap.start_s, lap.end_s) for lap in laps], motion.log_s, motion.run_m)
    return float(np.median(ends[:, 1] - ends[:, 0]))


def _assemble(
    log: SessionLog,
    table: LapTable,
    motion: Motion,
    line: ReferenceLine | None,
    length_m: float,
    warnings: list[str],
) -> Track:
    if not length_m > 1.0:
        raise LogError("the car did not move", "Check the unit of the speed channel.", where=log.name)
    starts_s = np.array([table.timed[0].start_s] + [lap.end_s for lap in table.timed])
    node_s = _nodes(log.time_s, starts_s)
    plain_m = _scaled_by_speed(node_s, starts_s, motion, length_m)
    by_speed = f"{motion.speed_source}, scaled to close the lap"
    course_m, sources = plain_m, [by_speed] * len(table.timed)
    if line is not None and motion.fixes is not None:
        course_m, sources = _corrected(node_s, starts_s, plain_m, motion.fixes, line, by_speed)
    course_m = _rising(node_s, starts_s, course_m, plain_m, length_m)
    wanted = (course_m >= -length_m) & (course_m <= (starts_s.size) * length_m)
    traces = {
        lap.number: _trace(lap, index, node_s, course_m, length_m, sources[index])
        for index, lap in enumerate(table.timed)
    }
    warnings += [f"lap {lap.number}: too few positions; distance is taken from speed" for lap, source
                 in zip(table.timed, sources, strict=True) if line is not None and source == by_speed]  # fmt: skip
    return Track(length_m, table.laps, traces, line, table.best, max(sources, key=sources.count), node_s[wanted],
                 course_m[wanted], motion, tuple(warnings))  # fmt: skip


def _nodes(time_s: FloatArray, starts_s: FloatArray) -> FloatArray:
    """Samples and crossings in order; a sample within a microsecond of a crossing gives way to it."""
    after = np.clip(np.searchsorted(starts_s, time_s), 0, starts_s.size - 1)
    nearest_s = np.minimum(np.abs(time_s - starts_s[after]), np.abs(time_s - starts_s[np.maximum(after - 1, 0)]))
    return np.union1d(time_s[nearest_s > 1e-6], starts_s)


def _scaled_by_speed(node_s: FloatArray, starts_s: FloatArray, motion: Motion, length_m: float) -> FloatArray:
    """Integrated speed, scaled lap by lap; the out-lap and in-lap take the median scale."""
    run_m = np.interp(node_s, motion.log_s, motion.run_m)
    marks_m = np.interp(starts_s, motion.log_s, motion.run_m)
    laps_m = np.maximum(np.diff(marks_m), 1e-6)
    usual = length_m / float(np.median(laps_m))
    ends_m = np.arange(starts_s.size) * length_m
    course_m: FloatArray = np.interp(run_m, np.concatenate(([marks_m[0]], marks_m[0] + np.cumsum(laps_m))), ends_m)
    before, after = node_s < starts_s[0], node_s > starts_s[-1]
    course_m[before] = (run_m[before] - marks_m[0]) * usual
    course_m[after] = ends_m[-1] + (run_m[after] - marks_m[-1]) * usual
    return course_m


def _corrected(
    node_s: FloatArray,
    starts_s: FloatArray,
    plain_m: FloatArray,
    fixes: Fixes,
    line: ReferenceLine,
    by_speed: str,
) -> tuple[FloatArray, list[str]]:
    """Add to the course by speed what position says, smoothed along the course and nil at every crossing."""
    near_m = np.interp(fixes.log_s, node_s, plain_m)
    found_m, off_m = line.project(fixes.x_m, fixes.y_m, near_m, window_m=SEARCH_WINDOW_M)
    used = (np.abs(off_m) <= OFF_LINE_M) & (np.abs(found_m - near_m) < SEARCH_WINDOW_M)
    per_lap = np.histogram(near_m[used], np.arange(starts_s.size) * line.length_m)[0]
    enough = per_lap >= LEAST_FIXES_PER_M * line.length_m
    lap_of = np.floor(near_m / line.length_m).astype(np.int64)
    outside = (lap_of < 0) | (lap_of >= enough.size)
    used &= outside | enough[np.clip(lap_of, 0, enough.size - 1)]
    if not enough.any():
        return plain_m, [by_speed] * enough.size
    correction_m = _smooth_along(near_m[used], (found_m - near_m)[used], plain_m)
    at_starts_m = np.interp(starts_s, node_s, correction_m)
    drift_m = np.interp(plain_m, np.arange(starts_s.size) * line.length_m, at_starts_m)
    lap_at = np.clip(np.floor(plain_m / line.length_m).astype(np.int64), 0, enough.size - 1)
    course_m = np.where(enough[lap_at], plain_m + correction_m - drift_m, plain_m)
    return course_m, [f"{fixes.source} on the reference line" if e else by_speed for e in enough]


def _smooth_along(at_m: FloatArray, correction_m: FloatArray, wanted_m: FloatArray) -> FloatArray:
    from scipy.ndimage import median_filter

    step_m = 0.5
    rising = np.concatenate(([True], np.diff(np.maximum.accumulate(at_m)) > 0))
    even_m = np.arange(at_m[0], at_m[-1] + step_m, step_m)
    calm_m = median_filter(correction_m, 5, mode="nearest")
    even = smooth(np.interp(even_m, at_m[rising], calm_m[rising]), CORRECTION_SMOOTHING_M / step_m)
    return np.interp(wanted_m, even_m, even)


def _rising(
    node_s: FloatArray, starts_s: FloatArray, course_m: FloatArray, plain_m: FloatArray, length_m: float
) -> FloatArray:
    """Make the course strictly rising, then close every lap exactly again."""
    least_m = LEAST_PACE * np.maximum(np.diff(plain_m), 0.0) + 1e-6 * np.diff(node_s)
    steps_m = np.maximum(np.diff(course_m), least_m)
    along_m = np.concatenate(([0.0], np.cumsum(steps_m)))
    at_starts = np.searchsorted(node_s, starts_s)
    ends_m = np.arange(starts_s.size) * length_m
    closed_m: FloatArray = np.interp(along_m, along_m[at_starts], ends_m)
    first, last = at_starts[0], at_starts[-1]
    closed_m[:first] = along_m[:first] - along_m[first]
    closed_m[last + 1 :] = ends_m[-1] + along_m[last + 1 :] - along_m[last]
    return closed_m


def _trace(lap: Lap, index: int, node_s: FloatArray, course_m: FloatArray, length_m: float, source: str) -> LapTrace:
    inside = (node_s >= lap.start_s) & (node_s <= lap.end_s)
    distance_m = course_m[inside] - index * length_m
    distance_m[0], distance_m[-1] = 0.0, length_m
    return LapTrace(lap.number, node_s[inside], distance_m, source)
