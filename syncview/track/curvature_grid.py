"""Curvature on an even grid of lap distance, made from a heading over time."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from syncview.track.distance import Track
from syncview.track.headings import LEAST_SPEED_MPS, Heading

FloatArray = NDArray[np.float64]

GRID_M = 1.0


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
    """Made from positions: the path itself, not a sensor in the car."""
    scatter_1pm: float = 0.0
    """Standard deviation of one lap's curvature; measured where it is made from positions alone."""
    noise_mps2: float = 0.0
    """The same times speed squared, where lateral acceleration has a part in it."""
    warnings: tuple[str, ...] = ()

    @property
    def places_m(self) -> FloatArray:
        """Middles of the cells, shape (n,)."""
        return np.asarray((np.arange(self.median_1pm.size) + 0.5) * self.step_m, dtype=np.float64)

    def scatter_at_1pm(self, speed_mps: float) -> float:
        """Standard deviation of one lap's curvature at a speed, as far as it was measured."""
        return self.scatter_1pm + self.noise_mps2 / max(speed_mps, LEAST_SPEED_MPS) ** 2

    def stack_1pm(self) -> FloatArray:
        """Every timed lap, shape (laps, n); 0 in holes."""
        return np.nan_to_num(np.array(list(self.by_lap.values()), dtype=np.float64))

    def turned_round(self) -> LapCurvature:
        """With left and right exchanged."""
        by_lap = {number: -values for number, values in self.by_lap.items()}
        return replace(self, course_1pm=-self.course_1pm, by_lap=by_lap, median_1pm=-self.median_1pm)


def on_grid(track: Track, heading: Heading) -> LapCurvature:
    """Change of heading per metre, cell by cell."""
    count = max(round(track.lap_length_m / GRID_M), 8)
    step_m = track.lap_length_m / count
    first, last = math.ceil(track.course_m[0] / step_m - 1e-9), math.floor(track.course_m[-1] / step_m + 1e-9)
    edges_m = np.arange(first, last + 1) * step_m
    edges_s = track.log_s_at_course(np.clip(edges_m, track.course_m[0], track.course_m[-1]))
    course_1pm = np.asarray(np.diff(np.interp(edges_s, heading.log_s, heading.rad)) / step_m, dtype=np.float64)
    by_lap = {lap.number: course_1pm[i * count - first : (i + 1) * count - first] for i, lap in enumerate(track.timed)}
    chosen = [lap.number for lap in track.timed if lap.representative] or list(by_lap)
    stack = np.array([by_lap[number] for number in chosen])
    seen = np.isfinite(stack).any(axis=0)
    median = np.full(count, np.nan)
    median[seen] = np.nanmedian(stack[:, seen], axis=0)
    return LapCurvature(step_m, first, course_1pm, by_lap, median, heading.source)
