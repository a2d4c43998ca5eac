"""The driven path: the smoothest line within the track's edges, drawn a little differently every lap.

One problem is solved for the whole drive, so that one lap runs into the next without a step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.linalg import solveh_banded
from scipy.ndimage import gaussian_filter1d
from scipy.sparse import csr_array, diags_array, eye_array

from .circuit import HALF_WIDTH_M, Circuit, Floats

NODE_M = 2.0
PATH_STEP_M = 0.5
STRAIGHTNESS, EASY_1PM = 0.6, 0.008


@dataclass(frozen=True, slots=True)
class Pull:
    """A wish for the car to be at an offset at an unrolled station (laps counted on: station + lap * length)."""

    station_m: float
    offset_m: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Path:
    """The driven path at equal steps of its own length; arrays have shape (n,)."""

    distance_m: Floats
    """Along the path from its beginning."""
    station_m: Floats
    """Unrolled station on the centre line: minus in the out-lap, then 0 to 3 lap lengths and beyond."""
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    curvature_1pm: Floats
    offset_m: Floats


def _smooth_offsets(track: Circuit, station_m: Floats, pulls: tuple[Pull, ...], limit_m: float) -> Floats:
    """Offsets, shape (n,), with the least summed squared curvature inside +-limit (active-set iterations)."""
    x, y, heading = track.pose(station_m)
    count, step = len(station_m), station_m[1] - station_m[0]
    extra, wish = _wishes(station_m, pulls)
    second = (
        diags_array(
            [np.ones(count - 2), -2 * np.ones(count - 2), np.ones(count - 2)],
            offsets=[0, 1, 2],
            shape=(count - 2, count),
        )
        / step**2
    )
    offsets = np.zeros(count)
    for _ in range(8):
        px, py = x - offsets * np.sin(heading), y + offsets * np.cos(heading)
        pace = np.hypot(np.gradient(px, step), np.gradient(py, step))[1:-1]
        bend = np.hypot(second @ px, second @ py) / pace**2
        # curvature^2 ds = |P''|^2 / pace^3 du; the second factor prefers straights between bends to endless easing.
        weight = diags_array(np.clip(pace, 0.3, 2.0) ** -3.0 * (EASY_1PM / (bend + EASY_1PM)) ** STRAIGHTNESS)
        hessian = csr_array((count, count))
        force = wish.copy()
        for axis, normal in ((x, -np.sin(heading)), (y, np.cos(heading))):
            rows = second @ diags_array(normal)
            hessian = hessian + rows.T @ weight @ rows
            force -= rows.T @ (weight @ (second @ axis))
        offsets = _bounded(hessian + 1e-7 * eye_array(count) + diags_array(extra), force, limit_m)
    return offsets


def _wishes(station_m: Floats, pulls: tuple[Pull, ...]) -> tuple[Floats, Floats]:
    """The pulls as a diagonal and a right-hand side."""
    extra, wish = np.zeros(len(station_m)), np.zeros(len(station_m))
    for pull in pulls:
        shape = 0.02 * pull.weight * np.exp(-0.5 * ((station_m - pull.station_m) / 6.0) ** 2)
        extra += shape
        wish += shape * pull.offset_m
    return extra, wish


def _bounded(hessian: csr_array, force: Floats, limit_m: float) -> Floats:
    """Minimise 1/2 n'Hn - f'n with |n| <= limit by a stiff spring on the bounds that are pressed."""
    bands = np.zeros((3, len(force)))
    for k in range(3):
        bands[2 - k, k:] = hessian.diagonal(k)
    spring, pressed = 50.0, np.zeros(len(force))
    offsets = np.zeros(len(force))
    for _ in range(80):
        loaded = bands.copy()
        loaded[2] += spring * np.abs(pressed)
        offsets = solveh_banded(loaded, force + spring * limit_m * pressed)
        now = np.sign(offsets) * (np.abs(offsets) > limit_m)
        if np.array_equal(now, pressed):
            break
        pressed = now
    return np.asarray(np.clip(offsets, -limit_m, limit_m), dtype=np.float64)


def drive_path(
    track: Circuit, first_m: float, last_m: float, pulls: tuple[Pull, ...], limit_m: float = HALF_WIDTH_M - 1.0
) -> Path:
    """The path between two unrolled stations."""
    count = int((last_m - first_m) / NODE_M) + 1
    nodes = np.linspace(first_m, last_m, count)
    offsets = gaussian_filter1d(_smooth_offsets(track, nodes, pulls, limit_m), 2.0)
    offset = CubicSpline(nodes, offsets)
    x, y = track.place(nodes, offsets)
    curve = CubicSpline(nodes, np.column_stack([x, y]))
    fine = np.linspace(first_m, last_m, int((last_m - first_m) / 0.1) + 1)
    rate = curve(fine, 1)
    speed = np.hypot(rate[:, 0], rate[:, 1])
    length = np.concatenate([[0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(fine))])
    distance = np.arange(0.0, length[-1], PATH_STEP_M)
    station = np.interp(distance, length, fine)
    d1, d2 = curve(station, 1), curve(station, 2)
    kappa = (d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0]) / np.hypot(d1[:, 0], d1[:, 1]) ** 3
    heading = np.unwrap(np.arctan2(d1[:, 1], d1[:, 0]))
    place = curve(station)
    kappa = gaussian_filter1d(kappa, 3.0 / PATH_STEP_M)
    return Path(distance, station, place[:, 0], place[:, 1], heading, kappa, offset(station))
