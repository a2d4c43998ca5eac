"""How noisy curvature is, measured on the laps themselves: on straights, where its changes are no driving."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from syncview.track.curvature_grid import LapCurvature
from syncview.track.distance import Track
from syncview.track.geometry import smooth

FloatArray = NDArray[np.float64]

STRAIGHT_1PM = 1 / 500
BENT_1PM = 1 / 200
"""Of curvature smoothed by `ROAD_M`."""
ROAD_M = 15.0
SHAKE_M = 3.0
"""No car changes its path within this; kerbs and engines do change what a sensor says."""


def scatter_1pm(found: LapCurvature) -> float:
    """Standard deviation (by the median of absolute deviations) of what changes within metres on the straights."""
    return _deviation(_quick(found.stack_1pm(), ROAD_M / found.step_m)[:, _bend_1pm(found) < STRAIGHT_1PM])


def path_noise_1pm(found: LapCurvature, smoothed_m: float) -> float:
    """Standard deviation on the straights of a path smoothed this much, its own slow changes taken off twice."""
    return _deviation(_shaken(found.stack_1pm(), smoothed_m / found.step_m)[:, _bend_1pm(found) < STRAIGHT_1PM])


def sensor_noise_mps2(track: Track, sensor: LapCurvature, by_position: LapCurvature) -> float:
    """Standard deviation of lateral acceleration averaged over cells: on straights or, if that is more, in bends.

    In bends every shake counts (root of the mean square), since the kerbs are near the apex.
    """
    shaken = _shaken(sensor.stack_1pm() * _speeds_mps(track, sensor) ** 2, SHAKE_M / sensor.step_m)
    bend_1pm = _bend_1pm(by_position)
    bent = shaken[:, bend_1pm > BENT_1PM]
    in_bends = float(np.sqrt(np.mean(bent**2))) if bent.size else 0.0
    return max(_deviation(shaken[:, bend_1pm < STRAIGHT_1PM]), in_bends)


def straights_speed_mps(track: Track, by_position: LapCurvature) -> float:
    """Usual speed on the straights."""
    speeds = _speeds_mps(track, by_position)[:, _bend_1pm(by_position) < STRAIGHT_1PM]
    return float(np.median(speeds)) if speeds.size else math.nan


def left_by_smoothing(smoothed_m: float, step_m: float) -> float:
    """What Gaussian smoothing leaves of the standard deviation of white noise in cells."""
    return 1.0 / math.sqrt(max(2 * math.sqrt(math.pi) * smoothed_m / step_m, 1.0))


def _bend_1pm(found: LapCurvature) -> FloatArray:
    return np.abs(smooth(np.nan_to_num(found.median_1pm), ROAD_M / found.step_m, closed=True))


def _speeds_mps(track: Track, found: LapCurvature) -> FloatArray:
    at_m = np.array([track.lap_begin_m(lap) + found.places_m for lap in track.timed])
    return np.interp(track.log_s_at_course(at_m), track.motion.log_s, track.motion.speed_mps)


def _shaken(laps: FloatArray, sigma: float) -> FloatArray:
    return _quick(_quick(laps, sigma), sigma)


def _quick(laps: FloatArray, sigma: float) -> FloatArray:
    return laps - smooth(laps, sigma)


def _deviation(values: FloatArray) -> float:
    return float(1.4826 * np.median(np.abs(values))) if values.size else math.inf
