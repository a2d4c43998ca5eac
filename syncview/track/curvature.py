"""Path curvature along the lap, lap by lap and as the median of the representative laps.

Sources, in this order:
1. position, if it is dense (`DENSE_FIXES_M`) and its curvature quiet (`QUIET_1PM`): it is the path itself;
2. yaw rate / speed: one sensor, right at any speed, deaf to kerbs and banking; it turns the nose, though, so a slide
   counts as turning;
3. lateral acceleration / speed²: mixed with gravity on a banked road, and with roll; weak when slow;
4. position, however noisy: it has to be differentiated twice, which makes half a metre of scatter into a bend.
Where position exists it judges the two sensors: a sensor that turns against it is turned round (said in a warning),
and one that does not follow it at all is not used. Where it does not, signs are taken as ISO 8855 says (left positive).

All three are handled as heading over course: between two places, curvature is the change of heading per metre. That
averages over whatever samples lie between, so 10 Hz and 200 Hz logs go the same way.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from syncview.channels import LONGEST_GAP_S, SessionLog
from syncview.errors import LogError
from syncview.track.distance import Track
from syncview.track.geometry import along_path, path_heading_rad, smooth, smooth_path, spacing_m
from syncview.track.motion import filled

FloatArray = NDArray[np.float64]

GRID_M = 1.0
LEAST_SPEED_MPS = 3.0
"""Slower than this, lateral acceleration over speed says nothing."""
POSITION_SMOOTHING_M = 5.0
ROUGH_SMOOTHING_M = 12.0
"""For positions that are not quiet and have to serve all the same."""
DENSE_FIXES_M = 7.0
"""Positions further apart than this do not describe a tight bend (10 Hz at 70 m/s)."""
SPARSE_FIXES_M = 12.0
QUIET_1PM = 1 / 2000
"""Scatter of the positions' curvature on straights, below which they are believed before any sensor. A flat-out kink
is about four times this; common practice, no source."""
FOLLOWS = 0.6
"""Least correlation with the curvature of the positions for a sensor to be believed."""
SCALE_RANGE = (0.7, 1.4)
"""A believable sensor's curvature over that of the positions; outside, its unit is wrong."""
COMPARED_AT_M = 8.0
"""Both curvatures are smoothed this much before they are compared."""


@dataclass(frozen=True, slots=True, eq=False)
class LapCurvature:
    """Curvature on an even grid of lap distance; 1/m, left positive, NaN where the source has a hole."""

    step_m: float
    first_cell: int
    """Cell i spans i to i + 1 steps of the course from the first line crossing; the out-lap's are negative."""
    course_1pm: FloatArray
    """From `first_cell` on, as far as the course goes; shape (m,)."""
    by_lap: Mapping[int, FloatArray]
    """The same by lap number, timed laps only; shape (n,), cell 0 behind the line."""
    median_1pm: FloatArray
    """Over representative laps (over all timed laps if none is), shape (n,)."""
    source: str
    of_path: bool = False
    """Made from well measured positions: the path itself, not a sensor in the car."""
    scatter_1pm: float = 0.0
    """Standard deviation of one lap's curvature; measured where it is made from positions."""
    warnings: tuple[str, ...] = ()

    @property
    def places_m(self) -> FloatArray:
        """Middles of the cells, shape (n,)."""
        return np.asarray((np.arange(self.median_1pm.size) + 0.5) * self.step_m, dtype=np.float64)


def lap_curvature(track: Track, log: SessionLog) -> LapCurvature:
    """Curvature of every timed lap; raises `LogError` when no channel tells how the car turns."""
    warnings: list[str] = []
    apart_m = _fixes_apart_m(track)
    by_position = _of_positions(track, max(POSITION_SMOOTHING_M, 0.5 * apart_m))
    scatter_1pm = np.inf if by_position is None else _scatter_1pm(by_position)
    if by_position is not None and apart_m <= DENSE_FIXES_M and scatter_1pm <= QUIET_1PM:
        return replace(by_position, of_path=True, scatter_1pm=scatter_1pm)
    for role in ("yaw_rate", "lateral_acceleration"):
        heading = _heading_by_sensor(track, log, role)
        if heading is None:
            continue
        found = _on_grid(track, log.time_s, heading, log.signals[role].source)
        sign = 1.0 if by_position is None else _judge(found, by_position, log, role, warnings)
        if sign != 0.0:
            return _signed(found, sign, warnings)
    rough = _of_positions(track, max(ROUGH_SMOOTHING_M, 0.5 * apart_m))
    if rough is not None:
        if apart_m > SPARSE_FIXES_M:
            warnings.append(f"corners are found from positions {apart_m:.0f} m apart: tight ones may be missed or "
                            "misplaced; log yaw rate or lateral acceleration")  # fmt: skip
        return _signed(rough, 1.0, warnings)
    raise LogError(
        "no channel tells how the car turns, so corners cannot be found",
        "Log yaw rate, lateral acceleration or position, or say which column it is with --role yaw_rate=COLUMN.",
        where=log.name,
    )


def _heading_by_sensor(track: Track, log: SessionLog, role: str) -> FloatArray | None:
    """Heading since the first sample, shape (n,); NaN beside holes."""
    values = filled(log, role)
    if values is None:
        return None
    rate = values
    if role == "lateral_acceleration":
        speed = track.motion.speed_mps
        rate = np.where(speed > LEAST_SPEED_MPS, values / np.maximum(speed, LEAST_SPEED_MPS), 0.0)
    turned = 0.5 * (rate[1:] + rate[:-1]) * np.diff(log.time_s)
    heading = np.concatenate(([0.0], np.cumsum(np.nan_to_num(turned))))
    return np.where(np.isfinite(values), heading, np.nan)


def _of_positions(track: Track, smoothing_m: float) -> LapCurvature | None:
    motion, fixes = track.motion, track.motion.fixes
    if track.line is None or fixes is None:
        return None
    run_m = np.interp(fixes.log_s, motion.log_s, motion.run_m)
    step_m = 0.5
    even_m = np.arange(run_m[0], run_m[-1], step_m)
    sigma = smoothing_m / step_m
    x_m, y_m = (smooth_path(along_path(run_m, p, even_m), sigma) for p in (fixes.x_m, fixes.y_m))
    even_s = np.interp(even_m, motion.run_m + 1e-9 * np.arange(motion.run_m.size), motion.log_s)
    following = np.clip(np.searchsorted(fixes.log_s, even_s), 1, fixes.log_s.size - 1)
    hole = fixes.log_s[following] - fixes.log_s[following - 1] > LONGEST_GAP_S
    return _on_grid(track, even_s, np.where(hole, np.nan, path_heading_rad(x_m, y_m)), fixes.source)


def _fixes_apart_m(track: Track) -> float:
    motion, fixes = track.motion, track.motion.fixes
    return 0.0 if fixes is None else spacing_m(np.interp(fixes.log_s, motion.log_s, motion.run_m))


def _scatter_1pm(found: LapCurvature) -> float:
    """Standard deviation (by the median of absolute deviations) of what changes within metres on the straights."""
    straight = np.abs(smooth(found.median_1pm, 15.0 / found.step_m, closed=True)) < 1 / 500
    laps = np.nan_to_num(np.array(list(found.by_lap.values())))
    quick = (laps - smooth(laps, 15.0 / found.step_m))[:, straight]
    return float(1.4826 * np.median(np.abs(quick))) if quick.size else np.inf


def _on_grid(track: Track, log_s: FloatArray, heading: FloatArray, source: str) -> LapCurvature:
    count = max(round(track.lap_length_m / GRID_M), 8)
    step_m = track.lap_length_m / count
    first, last = math.ceil(track.course_m[0] / step_m - 1e-9), math.floor(track.course_m[-1] / step_m + 1e-9)
    edges_m = np.arange(first, last + 1) * step_m
    at = np.interp(track.log_s_at_course(np.clip(edges_m, track.course_m[0], track.course_m[-1])), log_s, heading)
    course_1pm = np.asarray(np.diff(at) / step_m, dtype=np.float64)
    by_lap = {lap.number: course_1pm[i * count - first : (i + 1) * count - first] for i, lap in enumerate(track.timed)}
    chosen = [lap.number for lap in track.timed if lap.representative] or list(by_lap)
    stack = np.array([by_lap[number] for number in chosen])
    seen = np.isfinite(stack).any(axis=0)
    median = np.full(count, np.nan)
    median[seen] = np.nanmedian(stack[:, seen], axis=0)
    return LapCurvature(step_m, first, course_1pm, by_lap, median, source)


def _judge(sensor: LapCurvature, positions: LapCurvature, log: SessionLog, role: str, warnings: list[str]) -> float:
    """1 to take the sensor as it is, −1 to turn it round, 0 to leave it."""
    sigma = COMPARED_AT_M / sensor.step_m
    a = smooth(np.nan_to_num(sensor.median_1pm), sigma, closed=True)
    b = smooth(positions.median_1pm, sigma, closed=True)
    norm = float(np.sqrt((a @ a) * (b @ b)))
    follows = float(a @ b) / norm if norm > 0 else 0.0
    scale = abs(float(a @ b)) / float(b @ b) if follows else 0.0
    words = f"“{log.signals[role].source}” ({log.signals[role].role.words})"
    if abs(follows) < FOLLOWS:
        warnings.append(f"{words} does not follow the path on the map and is not used for corners")
        return 0.0
    if not SCALE_RANGE[0] <= scale <= SCALE_RANGE[1]:
        warnings.append(f"{words} is {scale:.2g} times what the path on the map asks for (its unit may be wrong) "
                        "and is not used for corners")  # fmt: skip
        return 0.0
    if follows < 0:
        warnings.append(f"{words} grows to the right and is turned round (left is positive in ISO 8855)")
        return -1.0
    return 1.0


def _signed(found: LapCurvature, sign: float, warnings: list[str]) -> LapCurvature:
    by_lap = {number: sign * values for number, values in found.by_lap.items()}
    course_1pm = sign * found.course_1pm
    return replace(
        found, course_1pm=course_1pm, by_lap=by_lap, median_1pm=sign * found.median_1pm, warnings=tuple(warnings)
    )
