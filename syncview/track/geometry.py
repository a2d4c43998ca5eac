"""Paths on a local plane: smoothing by metres, arc length and curvature.

Axes: x east, y north. Heading and curvature grow to the left (counter-clockwise), as in ISO 8855, whose axes are
x forward, y left, z up.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def arc_length_m(x_m: FloatArray, y_m: FloatArray) -> FloatArray:
    """Distance along a polyline from its first point, shape (n,)."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x_m), np.diff(y_m)))))


DENSE_M = 3.0
"""Points nearer than this are joined by straight lines: at 16 m radius the chord is 7 cm off the arc."""


def spacing_m(run_m: FloatArray) -> float:
    """How far apart points lie where they are far apart: nine tenths of the steps are shorter."""
    steps_m = np.diff(run_m)
    moving = steps_m[steps_m > 0]
    return float(np.quantile(moving, 0.9)) if moving.size else 0.0


def along_path(run_m: FloatArray, values: FloatArray, wanted_m: FloatArray) -> FloatArray:
    """One coordinate of a path at other distances: straight between near points, a cubic spline through sparse ones.

    `run_m`: shape (k,), not falling. The spline leaves out points that hardly move on, whose scatter would bend it.
    """
    apart_m = spacing_m(run_m)
    if apart_m <= DENSE_M:
        rising = np.concatenate(([True], np.diff(run_m) > 0))
        return np.interp(wanted_m, run_m[rising], values[rising])
    from scipy.interpolate import CubicSpline

    _, kept = np.unique(np.floor(run_m / (0.3 * apart_m)), return_index=True)
    kept = kept[np.concatenate(([True], np.diff(run_m[kept]) > 0.1 * apart_m))]
    inside = np.clip(wanted_m, run_m[kept[0]], run_m[kept[-1]])
    return np.asarray(CubicSpline(run_m[kept], values[kept])(inside), dtype=np.float64)


def smooth(values: FloatArray, sigma: float, *, closed: bool = False) -> FloatArray:
    """Gaussian smoothing of equally spaced values along the last axis; `sigma` in samples.

    Ends are extended by their own value, or wrap around when closed.
    """
    from scipy.ndimage import gaussian_filter1d

    mode = "wrap" if closed else "nearest"
    return np.asarray(gaussian_filter1d(values, sigma, axis=-1, mode=mode), dtype=np.float64)


def smooth_path(values: FloatArray, sigma: float, *, closed: bool = False) -> FloatArray:
    """Smoothing that adds back the smoothed rest ("twicing", Tukey 1977), so that bends are hardly cut.

    Plain smoothing would pull a path inwards by half of curvature times sigma²: 0.5 m at 16 m radius and 4 m.
    """
    once = smooth(values, sigma, closed=closed)
    return np.asarray(once + smooth(values - once, sigma, closed=closed), dtype=np.float64)


def path_heading_rad(x_m: FloatArray, y_m: FloatArray, *, closed: bool = False) -> FloatArray:
    """Direction of travel at each point, unwrapped, counter-clockwise from east; shape (n,)."""
    dx, dy = _central(x_m, closed=closed), _central(y_m, closed=closed)
    return np.unwrap(np.arctan2(dy, dx))


def path_curvature_1pm(x_m: FloatArray, y_m: FloatArray, *, closed: bool = False) -> FloatArray:
    """Curvature (x'y'' − y'x'')/(x'² + y'²)^1.5 of an evenly sampled path, left positive; shape (n,)."""
    dx, dy = _central(x_m, closed=closed), _central(y_m, closed=closed)
    ddx, ddy = _second(x_m, closed=closed), _second(y_m, closed=closed)
    return np.asarray((dx * ddy - dy * ddx) / np.hypot(dx, dy) ** 3, dtype=np.float64)


def top_centre(values: FloatArray, peak: int, share: float) -> float:
    """Centre, as a fractional index, of the stretch around a peak that exceeds a share of it.

    Values are weighted by the square of what they exceed it by: noise on a flat top hardly moves it, and for one peak
    it is the peak.
    """
    level = share * float(values[peak])
    first = last = peak
    while first > 0 and values[first - 1] >= level:
        first -= 1
    while last + 1 < values.size and values[last + 1] >= level:
        last += 1
    over = (values[first : last + 1] - level) ** 2
    total = float(over.sum())
    return first + float(np.arange(over.size) @ over) / total if total > 0 else 0.5 * (first + last)


def _central(values: FloatArray, *, closed: bool) -> FloatArray:
    if closed:
        return 0.5 * (np.roll(values, -1) - np.roll(values, 1))
    return np.asarray(np.gradient(values), dtype=np.float64)


def _second(values: FloatArray, *, closed: bool) -> FloatArray:
    if closed:
        return np.roll(values, -1) - 2 * values + np.roll(values, 1)
    inner = values[2:] - 2 * values[1:-1] + values[:-2]
    return np.concatenate((inner[:1], inner, inner[-1:]))
