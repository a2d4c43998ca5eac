"""The direction of travel over time, from what the channels say: the path's own, a sensor's, and the two joined."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import LONGEST_GAP_S, SessionLog
from syncview.track.geometry import along_path, path_heading_rad, smooth, smooth_path, spacing_m
from syncview.track.motion import Motion, filled

FloatArray = NDArray[np.float64]

LEAST_SPEED_MPS = 3.0
"""Slower than this, lateral acceleration over speed says nothing."""
PATH_STEP_M = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Heading:
    """Direction of travel, unwrapped, growing to the left; arrays have shape (n,)."""

    log_s: FloatArray
    rad: FloatArray
    """NaN in holes of the source."""
    source: str
    """The columns' names."""


def heading_by_sensor(motion: Motion, log: SessionLog, role: str) -> Heading | None:
    """Heading since the first sample by `yaw_rate` or `lateral_acceleration`; None when the log lacks it."""
    values = filled(log, role)
    if values is None:
        return None
    rate = values
    if role == "lateral_acceleration":
        speed = motion.speed_mps
        rate = np.where(speed > LEAST_SPEED_MPS, values / np.maximum(speed, LEAST_SPEED_MPS), 0.0)
    turned = 0.5 * (rate[1:] + rate[:-1]) * np.diff(log.time_s)
    heading = np.concatenate(([0.0], np.cumsum(np.nan_to_num(turned))))
    return Heading(log.time_s, np.where(np.isfinite(values), heading, np.nan), log.signals[role].source)


def heading_of_positions(motion: Motion, smoothing_m: float) -> Heading | None:
    """Direction of the path through the fixes, smoothed along it; None without fixes."""
    fixes = motion.fixes
    if fixes is None:
        return None
    run_m = np.interp(fixes.log_s, motion.log_s, motion.run_m)
    even_m = np.arange(run_m[0], run_m[-1], PATH_STEP_M)
    sigma = smoothing_m / PATH_STEP_M
    x_m, y_m = (smooth_path(along_path(run_m, p, even_m), sigma) for p in (fixes.x_m, fixes.y_m))
    even_s = np.interp(even_m, motion.run_m + 1e-9 * np.arange(motion.run_m.size), motion.log_s)
    following = np.clip(np.searchsorted(fixes.log_s, even_s), 1, fixes.log_s.size - 1)
    hole = fixes.log_s[following] - fixes.log_s[following - 1] > LONGEST_GAP_S
    return Heading(even_s, np.where(hole, np.nan, path_heading_rad(x_m, y_m)), fixes.source)


def fixes_apart_m(motion: Motion) -> float:
    """How far apart fixes lie at speed; 0 without fixes."""
    fixes = motion.fixes
    return 0.0 if fixes is None else spacing_m(np.interp(fixes.log_s, motion.log_s, motion.run_m))


def joined(path: Heading, sensor: Heading, reach_s: float) -> Heading:
    """What changes within `reach_s` from the sensor, what lasts longer from the path.

    The two differ by the sensor's drift and by the fixes' scatter; their difference, smoothed, is the drift. It is
    bridged over holes of the path (which stay holes). The sensor must have none.
    """
    at = np.interp(sensor.log_s, path.log_s, path.rad)
    seen = np.isfinite(at)
    step_s = float(np.median(np.diff(sensor.log_s)))
    drift = np.interp(sensor.log_s, sensor.log_s[seen], (at - sensor.rad)[seen])
    rad = sensor.rad + smooth(drift, reach_s / step_s)
    return Heading(sensor.log_s, np.where(seen, rad, np.nan), f"{path.source}; {sensor.source}")
