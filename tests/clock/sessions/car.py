"""What the car does at each moment of a drive: gears, engine speed, pedals, steering; on an even grid of true time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from tests.clock.sessions.circuit import FloatArray
from tests.clock.sessions.drive import BRAKE_MPS2, DRAG_1PM, POWER_WPKG, Drive

GRID_HZ = 100
STANDS_S = 90.0
"""How long the car is known to stand before and after the drive."""
IDLE_RPM, UP_RPM = 1050.0, 7100.0
SHIFT_STEPS = 12
"""A gear change takes 0.12 s."""


@dataclass(frozen=True, slots=True, eq=False)
class CarTrace:
    """True values, all of shape (n,), in SI units but for `rpm`."""

    time_s: FloatArray
    """True time: 0 when the car moves off."""
    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray
    speed_mps: FloatArray
    curvature_1pm: FloatArray
    driven_m: FloatArray
    pull_mps2: FloatArray
    """Longitudinal acceleration."""
    rpm: FloatArray
    gear: FloatArray
    throttle: FloatArray
    brake: FloatArray
    steering_rad: FloatArray

    @property
    def yaw_rate_radps(self) -> FloatArray:
        """Positive to the left."""
        return np.asarray(self.speed_mps * self.curvature_1pm, np.float64)

    @property
    def lateral_mps2(self) -> FloatArray:
        """v²/R, positive to the left."""
        return np.asarray(self.speed_mps**2 * self.curvature_1pm, np.float64)


def make_trace(drive: Drive, seed: int) -> CarTrace:
    """Put the drive on the grid and add what the driver's hands and feet do."""
    rng = np.random.default_rng([seed, 3])
    time_s = np.arange(-STANDS_S, drive.end_s + STANDS_S, 1 / GRID_HZ)

    def on_grid(values: FloatArray) -> FloatArray:
        return np.asarray(np.interp(time_s, drive.time_s, values), np.float64)

    moving = (time_s > 0) & (time_s < drive.end_s)
    speed = gaussian_filter1d(np.where(moving, on_grid(drive.speed_mps), 0.0), 8)
    pull = np.gradient(speed) * GRID_HZ
    wish = pull + DRAG_1PM * speed**2
    throttle = gaussian_filter1d(np.clip(wish / (POWER_WPKG / np.maximum(speed, 20.0)), 0, 1), 4)
    brake = gaussian_filter1d(np.clip(-wish / BRAKE_MPS2, 0, 1), 3)
    bend = on_grid(drive.curvature_1pm)
    gear, rpm = _gears(speed, pull, throttle, rng)
    wobble = gaussian_filter1d(rng.normal(size=time_s.size), 12) * 0.06
    steering = 13 * (2.6 * bend + 0.0012 * speed**2 * bend) + wobble * (speed > 1)
    return CarTrace(time_s, on_grid(drive.x_m), on_grid(drive.y_m), on_grid(drive.heading_rad), speed, bend,
                    on_grid(drive.driven_m), pull, rpm, gear, throttle, brake, steering)  # fmt: skip


def _gears(speed: FloatArray, pull: FloatArray, throttle: FloatArray,
           rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Gear and engine speed: up near the limit, down under braking, each time a little differently."""
    top_mps = np.geomspace(rng.uniform(16, 19), rng.uniform(58, 66), int(rng.integers(5, 7)))
    per_mps = (UP_RPM + 200) / top_mps
    gear, wait, up, down = 0, 0, UP_RPM, 4300.0
    gears, turns = np.zeros(speed.size), np.zeros(speed.size)
    for i, (v, a) in enumerate(zip(speed.tolist(), pull.tolist(), strict=True)):
        rpm = v * per_mps[gear]
        wait -= 1
        if wait < 0 and rpm > up and gear < per_mps.size - 1:
            gear, wait, up = gear + 1, 30, UP_RPM + rng.normal(0, 120)
        elif wait < 0 and gear > 0 and (rpm < down if a < -1 else rpm < 3000) and v * per_mps[gear - 1] < UP_RPM - 300:
            gear, wait, down = gear - 1, 22, rng.uniform(3900, 5000)
        gears[i], turns[i] = gear + 1, v * per_mps[gear]
    clutch = IDLE_RPM + 2600 * throttle
    engine = np.where(gears == 1, np.maximum(turns, np.minimum(clutch, 3600)), np.maximum(turns, IDLE_RPM))
    kernel = np.ones(SHIFT_STEPS) / SHIFT_STEPS
    engine = np.convolve(np.pad(engine, SHIFT_STEPS, mode="edge"), kernel, mode="same")[SHIFT_STEPS:-SHIFT_STEPS]
    flutter = gaussian_filter1d(rng.normal(size=speed.size), 8) * 12
    return np.where(speed > 0.5, gears, 0.0), engine + flutter
