"""The speed the driver aims for along the path: grip circle forwards and backwards, engine power, drag."""

from __future__ import annotations

import math

import numpy as np
from scipy.ndimage import gaussian_filter1d, minimum_filter1d

from . import style
from .car import Car, coast_mps2, drive_mps2, grip_mps2
from .circuit import Circuit, Floats
from .line import PATH_STEP_M, Path

LOOK_BACK_M = 170.0
"""How far before a corner's exit the corner's manner of braking already rules."""


def corner_speed_mps(car: Car, curvature_1pm: float, share: float) -> float:
    """Steady speed at which v^2 kappa equals the share of the grip; solved exactly, downforce included."""
    weight = car.friction * share * 9.80665
    lift = 0.5 * 1.225 * car.lift_area_m2 / car.mass_kg * car.friction * share
    room = abs(curvature_1pm) - lift
    return min(math.sqrt(weight / room), 90.0) if room > 1e-4 else 90.0


def _shares(track: Circuit, path: Path) -> tuple[Floats, Floats]:
    """Per path step: shares of grip used in turning and under braking, from the manner of the next corner."""
    grip, braking = np.empty(len(path.station_m)), np.empty(len(path.station_m))
    lap = np.floor(path.station_m / track.length_m).astype(int) + 1
    local = path.station_m - (lap - 1) * track.length_m
    exits = np.array([corner.exit_m for corner in track.corners])
    following = np.searchsorted(exits, local)
    for index, (number, which) in enumerate(zip(following, lap, strict=True)):
        late = number == len(exits)
        how = style.manner(int(which) + late, track.corners[0 if late else number].number)
        grip[index], braking[index] = how.grip, how.braking
    return gaussian_filter1d(grip, 8 / PATH_STEP_M), gaussian_filter1d(braking, 4 / PATH_STEP_M)


def _left_over(car: Car, speed: float, curvature: float, share: float) -> float:
    """Acceleration along the path that the grip circle leaves beside v^2 kappa."""
    total = share * grip_mps2(car, speed)
    return math.sqrt(max(total**2 - (speed**2 * curvature) ** 2, 0.0))


def target_speed(track: Circuit, path: Path, car: Car, start_mps: float) -> Floats:
    """Aimed speed at each path step, shape (n,), m/s."""
    grip, braking = _shares(track, path)
    kappa = np.abs(path.curvature_1pm)
    limit = np.array([corner_speed_mps(car, k, g) for k, g in zip(kappa, grip, strict=True)])
    limit = gaussian_filter1d(minimum_filter1d(limit, int(4 / PATH_STEP_M)), 3 / PATH_STEP_M)
    speed = limit.copy()
    speed[0] = min(speed[0], start_mps)
    for i in range(1, len(speed)):
        before = speed[i - 1]
        push = 0.80 * _left_over(car, before, kappa[i - 1], grip[i - 1])
        engine = 1.02 * drive_mps2(car, before, 7000.0) - coast_mps2(car, before, 0.0) + 0.35
        speed[i] = min(speed[i], math.sqrt(before**2 + 2.0 * min(push, engine) * PATH_STEP_M))
    for i in range(len(speed) - 2, -1, -1):
        after = speed[i + 1]
        share = min(braking[i], 0.98) * grip[i] / 0.955
        slow = min(_left_over(car, after, kappa[i], share), share * car.brake_full_mps2)
        speed[i] = min(speed[i], math.sqrt(after**2 + 2.0 * slow * PATH_STEP_M))
    return np.asarray(gaussian_filter1d(speed, 2.0 / PATH_STEP_M), dtype=np.float64)
