"""What the channels say of the car's motion over a session: position, speed, and distance run."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog, sample_at
from syncview.errors import LogError
from syncview.local_plane import LocalPlane, plane_around
from syncview.track.geometry import smooth

FloatArray = NDArray[np.float64]

WILD_FIX_M = 8.0
WILD_FIX_MPS = 100.0
"""A fix further from the median of five fixes than this length plus this speed times their spacing is a fault of
the receiver, not motion. Common practice, no source."""
SPEED_SMOOTHING_S = 0.25
"""Standard deviation of the smoothing of a speed that is made from positions; a fifth of a second costs about
0.1 m/s at the slowest place of a hairpin. Common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """Positions that were really measured, in order of time; arrays have shape (m,)."""

    plane: LocalPlane
    log_s: FloatArray
    x_m: FloatArray
    y_m: FloatArray
    source: str
    """The columns' names."""


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """Speed and distance run at the log's samples; arrays have shape (n,)."""

    log_s: FloatArray
    speed_mps: FloatArray
    """Without holes: bridged on a line (laps with long holes carry a remark)."""
    speed_source: str
    run_m: FloatArray
    """Integrated speed from the first sample, by trapezoids."""
    fixes: Fixes | None


def read_motion(log: SessionLog) -> Motion:
    """Position, and speed from its own channel or else from position or a distance channel.

    Raises `LogError` when the log has none of them.
    """
    fixes = read_fixes(log)
    speed_mps, source = _speed(log, fixes)
    step_m = 0.5 * (speed_mps[1:] + speed_mps[:-1]) * np.diff(log.time_s)
    return Motion(log.time_s, speed_mps, source, np.concatenate(([0.0], np.cumsum(step_m))), fixes)


def read_fixes(log: SessionLog) -> Fixes | None:
    """The measured positions: without holes, repeats of a held value, 0°/0° (no fix yet) and wild points."""
    lat, lon = log.values("latitude"), log.values("longitude")
    if lat is None or lon is None:
        return None
    good = np.isfinite(lat) & np.isfinite(lon) & ((lat != 0) | (lon != 0))
    good[good] &= _new_values(lat[good], lon[good])
    if np.count_nonzero(good) < 10:
        return None
    plane = plane_around(lat[good], lon[good])
    x_m, y_m = plane.to_plane(lat[good], lon[good])
    log_s = log.time_s[good]
    kept = _not_wild(log_s, x_m, y_m)
    names = f"{log.signals['latitude'].source}, {log.signals['longitude'].source}"
    return Fixes(plane, log_s[kept], x_m[kept], y_m[kept], names)


def _new_values(lat: FloatArray, lon: FloatArray) -> NDArray[np.bool_]:
    """Receivers are slower than loggers: only the first of equal neighbours is a measurement."""
    new = np.ones(lat.size, dtype=np.bool_)
    new[1:] = (np.diff(lat) != 0) | (np.diff(lon) != 0)
    return new


def _not_wild(log_s: FloatArray, x_m: FloatArray, y_m: FloatArray) -> NDArray[np.bool_]:
    from scipy.ndimage import median_filter

    off_m = np.hypot(x_m - median_filter(x_m, 5, mode="nearest"), y_m - median_filter(y_m, 5, mode="nearest"))
    spacing_s = float(np.median(np.diff(log_s)))
    return np.asarray(off_m <= WILD_FIX_M + WILD_FIX_MPS * spacing_s, dtype=np.bool_)


def _speed(log: SessionLog, fixes: Fixes | None) -> tuple[FloatArray, str]:
    channel = log.values("speed")
    if channel is not None and np.isfinite(channel).sum() >= 2:
        good = np.isfinite(channel)
        return np.interp(log.time_s, log.time_s[good], channel[good]), log.signals["speed"].source
    if fixes is not None:
        return _speed_from_fixes(log.time_s, fixes), f"{fixes.source} (change of position)"
    for role in ("distance", "lap_distance"):
        run = log.values(role)
        if run is not None and np.isfinite(run).sum() >= 10:
            return _speed_from_distance(log.time_s, run), f"{log.signals[role].source} (change of distance)"
    raise LogError(
        "there is neither speed nor position nor distance, so places along the lap cannot be told",
        "Log one of them, or say which column it is with --role speed=COLUMN.",
        where=log.name,
    )


def _speed_from_fixes(log_s: FloatArray, fixes: Fixes) -> FloatArray:
    step_s = float(np.median(np.diff(fixes.log_s)))
    even_s = np.arange(fixes.log_s[0], fixes.log_s[-1] + step_s, step_s)
    x_m, y_m = (smooth(np.interp(even_s, fixes.log_s, p), SPEED_SMOOTHING_S / step_s) for p in (fixes.x_m, fixes.y_m))
    return np.interp(log_s, even_s, np.hypot(np.gradient(x_m, step_s), np.gradient(y_m, step_s)))


def _speed_from_distance(log_s: FloatArray, run_m: FloatArray) -> FloatArray:
    """Slope of a distance that may fall back to zero at the line: falls are left out."""
    good = np.isfinite(run_m)
    t, d = log_s[good], run_m[good]
    step_s = max(float(np.median(np.diff(t))), 1e-3)
    slope, middle = np.diff(d) / np.diff(t), 0.5 * (t[1:] + t[:-1])
    forward = slope >= 0
    even_s = np.arange(t[0], t[-1] + step_s, step_s)
    even = smooth(np.interp(even_s, middle[forward], slope[forward]), SPEED_SMOOTHING_S / step_s)
    return np.interp(log_s, even_s, even)


def filled(log: SessionLog, role: str) -> FloatArray | None:
    """A channel at every sample, short holes bridged, NaN in long ones; None when the log lacks it."""
    signal = log.signals.get(role)
    if signal is None or not np.isfinite(signal.values).any():
        return None
    if np.isfinite(signal.values).all():
        return signal.values
    return sample_at(log.time_s, signal.values, log.time_s, stepped=signal.role.stepped)
