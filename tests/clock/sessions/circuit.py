"""Invented circuits: a star-shaped polygon with rounded corners, smoothed; it closes and never crosses itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

FloatArray = NDArray[np.float64]

LEAST_RADIUS_M = 12.0


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """Middle of the road in steps of about one metre, from the start line on; the last point precedes the first."""

    x_m: FloatArray
    y_m: FloatArray
    length_m: float
    corners: int

    @property
    def heading_rad(self) -> FloatArray:
        """Shape (n,), counter-clockwise from the x axis, unwrapped."""
        dx, dy = np.roll(self.x_m, -1) - np.roll(self.x_m, 1), np.roll(self.y_m, -1) - np.roll(self.y_m, 1)
        return np.unwrap(np.arctan2(dy, dx))

    @property
    def curvature_1pm(self) -> FloatArray:
        """Shape (n,), positive to the left."""
        heading = self.heading_rad
        around = np.concatenate((heading[-1:], heading, heading[:1]))
        turned = (around[2:] - around[:-2] + math.pi) % (2 * math.pi) - math.pi
        return turned / (2 * self.length_m / self.x_m.size)


@cache
def make_circuit(seed: int, length_m: float | None = None) -> Circuit:
    """The circuit of a seed; 1000 to 2000 m long unless a length is given."""
    rng = np.random.default_rng([seed, 1])
    for _ in range(1000):
        wanted = length_m if length_m is not None else rng.uniform(1000, 2000)
        count = int(rng.integers(7, 12) if wanted > 1300 else rng.integers(6, 9))
        angle = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * math.pi / count
        radius = rng.uniform(0.35, 1.0, count)
        corner = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
        corner *= wanted / 0.93 / np.hypot(*(np.roll(corner, -1, axis=0) - corner).T).sum()
        path = _rounded(corner, np.exp(rng.uniform(math.log(14), math.log(75), count)))
        if path is not None:
            return _finished(path, count)
    raise AssertionError(f"no circuit with seed {seed}")


def _rounded(corner: FloatArray, wish_m: FloatArray) -> FloatArray | None:
    """Points of the polygon with each corner as an arc; None where a corner would be too tight or no corner."""
    before, after = corner - np.roll(corner, 1, axis=0), np.roll(corner, -1, axis=0) - corner
    side_in, side_out = np.hypot(*before.T), np.hypot(*after.T)
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    half = np.tan(np.abs(turn) / 2)
    radius = np.minimum(wish_m, 0.42 * np.minimum(side_in, side_out) / half)
    if radius.min() < LEAST_RADIUS_M or np.abs(turn).min() < math.radians(18):
        return None
    parts = []
    for k in range(len(corner)):
        into, sign = before[k] / side_in[k], math.copysign(1.0, turn[k])
        start = corner[k] - into * radius[k] * half[k]
        left = np.array([-into[1], into[0]]) * sign
        sweep = np.linspace(0, abs(turn[k]), max(4, int(abs(turn[k]) * radius[k])))
        parts.append(start + radius[k] * (np.outer(np.sin(sweep), into) + np.outer(1 - np.cos(sweep), left)))
    return np.concatenate(parts)


def _finished(path: FloatArray, corners: int) -> Circuit:
    """Even steps, smooth curvature, the start line on the longest straight."""
    for sigma_m in (5.0, 0.0):
        path = _even(path)
        if sigma_m:
            path = gaussian_filter1d(path, sigma_m, axis=0, mode="wrap")
    closed = np.concatenate((path, path[:1]))
    length = float(np.hypot(*np.diff(closed, axis=0).T).sum())
    rough = Circuit(path[:, 0], path[:, 1], length, corners)
    bend = np.abs(rough.curvature_1pm) > 0.004
    begins = np.flatnonzero(~bend & np.roll(bend, 1))
    ends = np.array([b + np.argmax(np.roll(bend, -b)) for b in begins])
    longest = int(np.argmax(ends - begins))
    line = int(begins[longest] + 0.4 * (ends[longest] - begins[longest]))
    return Circuit(np.roll(rough.x_m, -line), np.roll(rough.y_m, -line), length, corners)


def _even(path: FloatArray) -> FloatArray:
    closed = np.concatenate((path, path[:1]))
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))))
    at = np.arange(round(along[-1])) * (along[-1] / round(along[-1]))
    return np.stack([np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])], axis=1)
