"""Lap starts by position: the crossings of a start line that is given, or found from the lap loop itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import FloatArray, SessionLog
from syncview.local_plane import LocalPlane, plane_around

HALF_WIDTH_M = 20.0
"""A crossing further than this to the side is another road. Circuits are 9 to 15 m wide (common practice)."""
MOVING_MPS = 5.0
CANDIDATES = 240
"""Places along the drive that are tried as a start line when none is given."""
SMOOTH_S = 0.5
"""A crossing is placed by a straight line through the positions this near to it, so that noise averages out."""
SHAKE_S = 0.25
AGAIN_S = 5.0
"""No lap is shorter: a second crossing within this time is the first one again."""
POSITION_SIGMA_M = 0.3
"""What smoothing leaves of a receiver's wander within a lap. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Gate:
    """A line across the road."""

    latitude_rad: float
    longitude_rad: float
    heading: tuple[float, float]
    """Unit vector (east, north) in which it is crossed."""


@dataclass(frozen=True, slots=True)
class Crossing:
    """The car passes a gate."""

    log_s: float
    sigma_s: float
    speed_mps: float


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    """Where the car is on a local plane, with its velocity; all of shape (n,)."""

    time_s: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    east_mps: FloatArray
    north_mps: FloatArray
    moving: NDArray[np.bool_]
    plane: LocalPlane


def crossings_of(log: SessionLog, start_line_rad: tuple[float, float]) -> tuple[Crossing, ...]:
    """Crossings of the line across the road at a latitude and longitude; empty when the car never passes there."""
    path = _path(log)
    if path is None:
        return ()
    east, north = (float(m[0]) for m in path.plane.to_plane(*(np.array([angle]) for angle in start_line_rad)))
    off = np.hypot(path.east_m - east, path.north_m - north)
    off = np.where(path.moving, off, np.inf)
    nearest = int(np.argmin(off))
    if off[nearest] > HALF_WIDTH_M:
        return ()
    return _crossings(path, (east, north), _heading(path, nearest))


def found_crossings(log: SessionLog) -> tuple[tuple[Crossing, ...], Gate] | None:
    """Crossings of the place that the car passes most often, of these the one where it is never slow.

    On a straight at speed a crossing is placed best. None when the car passes no place twice, or without position.
    """
    path = _path(log)
    if path is None:
        return None
    best: tuple[int, float] = (1, np.inf)  # once round is no lap
    chosen: tuple[tuple[Crossing, ...], int] | None = None
    rows = np.flatnonzero(path.moving)
    for row in rows[np.linspace(0, rows.size - 1, min(CANDIDATES, rows.size)).astype(int)]:
        place = (float(path.east_m[row]), float(path.north_m[row]))
        passed = _crossings(path, place, _heading(path, int(row)))
        worth = (len(passed), min((c.speed_mps for c in passed), default=0.0))
        if worth > best:
            best, chosen = worth, (passed, int(row))
    if chosen is None:
        return None
    passed, row = chosen
    at = path.time_s[row : row + 1]
    latitude, longitude = log.at("latitude", at), log.at("longitude", at)
    if latitude is None or longitude is None:
        return None
    return passed, Gate(float(latitude[0]), float(longitude[0]), _heading(path, row))


def _path(log: SessionLog) -> _Path | None:
    latitude, longitude = log.values("latitude"), log.values("longitude")
    if latitude is None or longitude is None:
        return None
    good = np.isfinite(latitude) & np.isfinite(longitude)
    # Receivers repeat their last fix at the logger's rate: only new fixes are positions.
    good[1:] &= (np.diff(latitude) != 0) | (np.diff(longitude) != 0) | ~good[:-1]
    if good.sum() < 10:
        return None
    time_s = log.time_s[good]
    plane = plane_around(latitude, longitude)
    east, north = (_smoothed(time_s, metres) for metres in plane.to_plane(latitude[good], longitude[good]))
    east_mps, north_mps = np.gradient(east, time_s), np.gradient(north, time_s)
    moving = np.hypot(east_mps, north_mps) > MOVING_MPS
    return _Path(time_s, east, north, east_mps, north_mps, moving, plane)


def _smoothed(time_s: FloatArray, metres: FloatArray) -> FloatArray:
    """A running mean over `SHAKE_S`, where there are samples enough: noise must not drive to and fro over a line."""
    size = int(SHAKE_S / float(np.median(np.diff(time_s))))
    if size < 3:
        return metres
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(metres, size | 1, mode="nearest"), dtype=np.float64)


def _heading(path: _Path, row: int) -> tuple[float, float]:
    """Direction of travel there, over half a second, so that noise does not turn it."""
    near = np.abs(path.time_s - path.time_s[row]) <= SMOOTH_S / 2 + 1e-9
    if near.sum() < 2:
        near[max(row - 1, 0) : row + 2] = True
    east, north = float(path.east_mps[near].mean()), float(path.north_mps[near].mean())
    length = float(np.hypot(east, north)) or 1.0
    return east / length, north / length


def _crossings(path: _Path, place: tuple[float, float], heading: tuple[float, float]) -> tuple[Crossing, ...]:
    """Where the car goes from before to behind the gate, in its direction, not too far to the side."""
    east, north = path.east_m - place[0], path.north_m - place[1]
    along = east * heading[0] + north * heading[1]
    aside = east * heading[1] - north * heading[0]
    pace = path.east_mps * heading[0] + path.north_mps * heading[1]
    before, behind = along[:-1], along[1:]
    step = np.diff(path.time_s)
    crosses = (before < 0) & (behind >= 0) & (np.abs(aside[1:]) < HALF_WIDTH_M) & path.moving[1:] & (pace[1:] > 0)
    # A jump of the receiver, or a hole, is no crossing.
    crosses &= (behind - before) < np.maximum(3 * pace[1:] * step, 5.0)
    rows: list[int] = []
    for row in np.flatnonzero(crosses).tolist():
        if not rows or path.time_s[row] - path.time_s[rows[-1]] > AGAIN_S:
            rows.append(row)
    return tuple(_placed(path, along, row) for row in rows)


def _placed(path: _Path, along: FloatArray, row: int) -> Crossing:
    """The moment of a crossing between samples `row` and `row + 1`, by a line through its neighbours."""
    t0, t1 = path.time_s[row], path.time_s[row + 1]
    at = t0 + (t1 - t0) * (-along[row]) / (along[row + 1] - along[row])
    near = np.abs(path.time_s - at) <= SMOOTH_S
    if near.sum() >= 4:
        bend, pace, rest = np.polyfit(path.time_s[near] - at, along[near], 2)
        del bend
        speed = float(pace)
        refined = at - rest / pace
        at = refined if abs(refined - at) < SMOOTH_S / 2 else at
    else:
        speed = float((along[row + 1] - along[row]) / (t1 - t0))
    return Crossing(float(at), POSITION_SIGMA_M / max(speed, MOVING_MPS), speed)
