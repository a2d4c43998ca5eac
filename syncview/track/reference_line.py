"""The reference line: the smoothed path of the laps, closed, on which every position is placed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.local_plane import LocalPlane
from syncview.track.geometry import along_path, arc_length_m, smooth_path

FloatArray = NDArray[np.float64]

FINE_STEP_M = 0.25
LINE_STEP_M = 1.0
LINE_SMOOTHING_M = 4.0
"""Standard deviation of the smoothing along the path: a few car lengths, shorter than any corner."""
SEARCH_STEP_M = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class ReferenceLine:
    """A closed line in steps of about one metre; point 0 lies on the start line."""

    plane: LocalPlane
    x_m: FloatArray
    """Shape (n,), east; the first point is not repeated at the end."""
    y_m: FloatArray
    length_m: float

    @property
    def step_m(self) -> float:
        """Length of one step; all are equal."""
        return self.length_m / self.x_m.size

    @property
    def distance_m(self) -> FloatArray:
        """Lap distance of each point, shape (n,)."""
        return np.asarray(np.arange(self.x_m.size) * self.step_m, dtype=np.float64)

    def at(self, distance_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The line's place on the plane at lap distances of any lap (wraps)."""
        place = np.asarray(distance_m, dtype=np.float64) / self.step_m
        first = np.floor(place).astype(np.int64)
        share = place - first
        low, high = first % self.x_m.size, (first + 1) % self.x_m.size
        return (
            self.x_m[low] + share * (self.x_m[high] - self.x_m[low]),
            self.y_m[low] + share * (self.y_m[high] - self.y_m[low]),
        )

    def project(
        self, x_m: FloatArray, y_m: FloatArray, near_m: FloatArray, *, window_m: float
    ) -> tuple[FloatArray, FloatArray]:
        """Lap distances (not wrapped) nearest to points, looking only within `window_m` of where each should be.

        The window keeps a neighbouring straight from capturing a point. Returns the distances and how far off the
        line each point is (left positive), both shape (k,).
        """
        reach = np.arange(-window_m, window_m + SEARCH_STEP_M / 2, SEARCH_STEP_M)
        best_m = self._nearest_of(x_m, y_m, near_m, reach)
        best_m = self._nearest_of(x_m, y_m, best_m, np.arange(-3.0, 3.5))
        for _ in range(2):
            best_m = best_m + self._along(x_m, y_m, best_m)[0]
        return best_m, self._along(x_m, y_m, best_m)[1]

    def place_of(self, lat_rad: FloatArray, lon_rad: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Lap distance nearest to each position anywhere on the lap, and how far to its left; shape (k,)."""
        from scipy.spatial import cKDTree

        x_m, y_m = self.plane.to_plane(np.atleast_1d(lat_rad), np.atleast_1d(lon_rad))
        _, nearest = cKDTree(np.column_stack((self.x_m, self.y_m))).query(np.column_stack((x_m, y_m)))
        near_m = self.distance_m[nearest]
        found_m, off_m = self.project(x_m, y_m, near_m, window_m=SEARCH_STEP_M)
        return found_m % self.length_m, off_m

    def on_plane(self, plane: LocalPlane) -> ReferenceLine:
        """The same line on another plane nearby."""
        lat_rad, lon_rad = self.plane.to_geodetic(self.x_m, self.y_m)
        x_m, y_m = plane.to_plane(lat_rad, lon_rad)
        return ReferenceLine(plane, x_m, y_m, self.length_m)

    def moved_left(self, by_m: FloatArray) -> ReferenceLine:
        """The line that lies `by_m` to the left of each point, shape (n,); its length is its own."""
        tx, ty = np.roll(self.x_m, -1) - np.roll(self.x_m, 1), np.roll(self.y_m, -1) - np.roll(self.y_m, 1)
        norm = np.hypot(tx, ty)
        return _even(self.plane, self.x_m - ty / norm * by_m, self.y_m + tx / norm * by_m)

    def _nearest_of(self, x_m: FloatArray, y_m: FloatArray, near_m: FloatArray, reach_m: FloatArray) -> FloatArray:
        best_m, best_square = near_m, np.full(near_m.shape, np.inf)
        for offset_m in reach_m:
            index = np.rint((near_m + offset_m) / self.step_m).astype(np.int64)
            low = index % self.x_m.size
            square = (x_m - self.x_m[low]) ** 2 + (y_m - self.y_m[low]) ** 2
            closer = square < best_square
            best_square = np.where(closer, square, best_square)
            best_m = np.where(closer, index * self.step_m, best_m)
        return best_m

    def _along(self, x_m: FloatArray, y_m: FloatArray, near_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Offsets of points from the line's point: along its direction, and to its left."""
        ahead_x, ahead_y = self.at(near_m + self.step_m)
        behind_x, behind_y = self.at(near_m - self.step_m)
        here_x, here_y = self.at(near_m)
        tx, ty = ahead_x - behind_x, ahead_y - behind_y
        norm = np.hypot(tx, ty)
        dx, dy = x_m - here_x, y_m - here_y
        return (dx * tx + dy * ty) / norm, (dy * tx - dx * ty) / norm


def line_through(plane: LocalPlane, run_m: FloatArray, x_m: FloatArray, y_m: FloatArray, *, lap_run_m: float,
                 ) -> ReferenceLine:  # fmt: skip
    """Close one lap's fixes to a line.

    `run_m`: shape (k,), not falling, distance run since the lap start; fixes a little before 0 and after `lap_run_m`
    are wanted so that both ends are smoothed with their surroundings. The gap between the ends (another place
    across the track, receiver wander) is spread evenly over the lap.
    """
    margin_m = 6 * LINE_SMOOTHING_M
    fine_m = np.arange(-margin_m, lap_run_m + margin_m, FINE_STEP_M)
    sigma = LINE_SMOOTHING_M / FINE_STEP_M
    lap_m = np.linspace(0.0, lap_run_m, max(int(lap_run_m / FINE_STEP_M), 8) + 1)
    closed = []
    for values in (x_m, y_m):
        path = smooth_path(along_path(run_m, values, fine_m), sigma)
        along = np.interp(lap_m, fine_m, path)
        along = along - (along[-1] - along[0]) * (lap_m / lap_run_m - 0.5)
        closed.append(smooth_path(along[:-1], sigma / 2, closed=True))
    return _even(plane, closed[0], closed[1])


def line_through_points(plane: LocalPlane, x_m: FloatArray, y_m: FloatArray) -> ReferenceLine:
    """The closed line through points some metres apart, shape (k,), the first not repeated: a periodic spline."""
    from scipy.interpolate import CubicSpline

    ring_x, ring_y = np.append(x_m, x_m[0]), np.append(y_m, y_m[0])
    along_m = arc_length_m(ring_x, ring_y)
    fine_m = np.linspace(0.0, along_m[-1], max(int(along_m[-1] / FINE_STEP_M), 8) + 1)[:-1]
    fine = CubicSpline(along_m, np.column_stack((ring_x, ring_y)), bc_type="periodic")(fine_m)
    return _even(plane, fine[:, 0], fine[:, 1])


def _even(plane: LocalPlane, x_m: FloatArray, y_m: FloatArray) -> ReferenceLine:
    """Resample a closed polyline to equal steps of its own length."""
    ring_x, ring_y = np.append(x_m, x_m[0]), np.append(y_m, y_m[0])
    along_m = arc_length_m(ring_x, ring_y)
    length_m = float(along_m[-1])
    count = max(round(length_m / LINE_STEP_M), 8)
    even_m = np.arange(count) * (length_m / count)
    return ReferenceLine(plane, np.interp(even_m, along_m, ring_x), np.interp(even_m, along_m, ring_y), length_m)
