"""The reference line of a session: between the lines that its representative laps drove.

One lap alone would bring its receiver's wander into every lap's distances: half a metre that comes and goes within
ten seconds adds up to some metres of length. Across the line, laps differ by wander and by what the driver did; the
median of them is kept.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.track.geometry import smooth
from syncview.track.laps import Lap, LapTable
from syncview.track.motion import Fixes, Motion
from syncview.track.reference_line import LINE_SMOOTHING_M, ReferenceLine, line_through

FloatArray = NDArray[np.float64]

SEARCH_WINDOW_M = 40.0
"""How far position may disagree with integrated speed inside a lap: 1 % of a 4 km lap (speed sensors and line
choice; common practice, no source)."""
OFF_LINE_M = 25.0
"""A fix further from the line than this is not on the circuit: pit lane, run-off, or a fault."""
LEAST_FIXES_PER_M = 0.01
"""A lap with fewer usable fixes than one in 100 m goes by speed alone."""
OPEN_END_M = 30.0
"""A lap whose path ends further than this from its beginning is not closed (track width and receiver wander explain
less)."""
MARGIN_M = 6 * LINE_SMOOTHING_M


def session_line(motion: Motion, table: LapTable) -> tuple[ReferenceLine | None, list[str]]:
    """The closed line of a session's laps, or None where positions cannot make one; and warnings that say why."""
    model, warnings = _model_lap(table)
    fixes = motion.fixes
    if fixes is None:
        return None, warnings
    why_not = _unfit(motion, fixes, model)
    if why_not:
        return None, [*warnings, f"{why_not}; distance is taken from speed"]
    line = _line_of(motion, fixes, model)
    laps = [lap for lap in table.representative if not _unfit(motion, fixes, lap)]
    if len(laps) < 2:
        return line, warnings
    offsets_m = np.array([_offsets_m(motion, fixes, lap, line) for lap in laps])
    return line.moved_left(smooth(np.median(offsets_m, axis=0), LINE_SMOOTHING_M / line.step_m, closed=True)), warnings


def _model_lap(table: LapTable) -> tuple[Lap, list[str]]:
    if table.best is not None:
        return table.best, []
    lap = min(table.timed, key=lambda each: each.time_ms)
    return lap, [f"no lap is free of remarks; distances are measured on lap {lap.number} ({lap.remark})"]


def _unfit(motion: Motion, fixes: Fixes, lap: Lap) -> str:
    """Why one lap's positions cannot make the reference line; empty when they can."""
    run_m, lap_run_m = _run_m(motion, fixes, lap)
    inside = (run_m >= 0) & (run_m <= lap_run_m)
    hole_m = float(np.diff(np.concatenate(([0.0], run_m[inside], [lap_run_m]))).max())
    if hole_m > 1.0 / LEAST_FIXES_PER_M:
        return f"position is missing over {hole_m:.0f} m of lap {lap.number}"
    dx, dy = (float(np.diff(np.interp([lap.start_s, lap.end_s], fixes.log_s, p))[0]) for p in (fixes.x_m, fixes.y_m))
    gap_m = float(np.hypot(dx, dy))
    if gap_m > OPEN_END_M:
        return f"lap {lap.number} ends {gap_m:.0f} m from where it began"
    return ""


def _run_m(motion: Motion, fixes: Fixes, lap: Lap) -> tuple[FloatArray, float]:
    """Distance run since the lap's start at every fix, and over the lap."""
    begin_m, end_m = np.interp([lap.start_s, lap.end_s], motion.log_s, motion.run_m)
    return np.interp(fixes.log_s, motion.log_s, motion.run_m) - begin_m, float(end_m - begin_m)


def _line_of(motion: Motion, fixes: Fixes, lap: Lap) -> ReferenceLine:
    """The closed line of one lap."""
    run_m, lap_run_m = _run_m(motion, fixes, lap)
    return line_through(fixes.plane, run_m, fixes.x_m, fixes.y_m, lap_run_m=lap_run_m)


def _offsets_m(motion: Motion, fixes: Fixes, lap: Lap, line: ReferenceLine) -> FloatArray:
    """How far to the left of the line a lap was driven, at each point of the line; shape (n,)."""
    run_m, lap_run_m = _run_m(motion, fixes, lap)
    near = (run_m > -2 * MARGIN_M) & (run_m < lap_run_m + 2 * MARGIN_M)
    near_m = run_m[near] * (line.length_m / lap_run_m)
    found_m, off_m = line.project(fixes.x_m[near], fixes.y_m[near], near_m, window_m=SEARCH_WINDOW_M)
    used = np.abs(off_m) <= OFF_LINE_M
    order = np.argsort(found_m[used])
    margin = round(MARGIN_M / line.step_m)
    points_m = np.arange(-margin, line.x_m.size + margin) * line.step_m
    offsets_m = np.interp(points_m, found_m[used][order], off_m[used][order])
    return smooth(offsets_m, LINE_SMOOTHING_M / line.step_m)[margin:-margin]
