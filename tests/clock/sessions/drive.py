"""One drive on a circuit: from a standstill over the laps to a standstill; a grip circle with a driver's scatter."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from tests.clock.sessions.circuit import Circuit, FloatArray

GRIP_MPS2 = 12.0
BRAKE_MPS2 = 10.5
POWER_WPKG = 260.0
DRAG_1PM = 0.0011
SLOWEST_MPS = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """The path in cells of about a metre; before the first and after the last cell the car stands."""

    time_s: FloatArray
    """Shape (n,), from 0, when the car moves off."""
    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    speed_mps: FloatArray
    driven_m: FloatArray
    """Along the path, 0 at the first crossing of the line."""
    lap_starts_s: FloatArray
    """Shape (laps + 1,)."""
    lap_starts_m: FloatArray
    """`driven_m` at the same crossings."""

    @property
    def end_s(self) -> float:
        """When the car stands again."""
        return float(self.time_s[-1])


@dataclass(frozen=True, slots=True)
class Driver:
    """How one drive differs from another on the same circuit."""

    seed: int
    laps: int
    variation: float
    pace: float = 1.0
    """Share of grip that is used on the whole."""
    lap_spread_s: float | None = None


def make_drive(circuit: Circuit, driver: Driver) -> Drive:
    """Drive the circuit."""
    rng = np.random.default_rng([driver.seed, 2])
    count = circuit.x_m.size
    lead, rest = round(rng.uniform(0.45, 0.8) * count), round(rng.uniform(0.3, 0.7) * count)
    cells = np.arange(-lead, driver.laps * count + rest)
    path = _path(circuit, cells, rng, driver.variation)
    scatter = _Scatter(
        corner=1 + 2 * driver.variation * _smooth(rng, cells.size, 60),
        brake=1 + 2.5 * driver.variation * _smooth(rng, cells.size, 60),
        power=1 + 0.5 * driver.variation * _smooth(rng, cells.size, 200),
    )
    lap_grip = np.ones(driver.laps + 2)
    drive = _driven(path, cells, count, driver, scatter, lap_grip)
    for _ in range(0 if driver.lap_spread_s is None else 12):
        lap_s = np.diff(drive.lap_starts_s)
        if np.ptp(lap_s) < driver.lap_spread_s * 0.8:  # type: ignore[operator]  # not None inside this loop
            break
        lap_grip[1:-1] *= (lap_s / lap_s.mean()) ** 2.5
        drive = _driven(path, cells, count, driver, scatter, lap_grip)
    return drive


@dataclass(frozen=True, slots=True, eq=False)
class _Path:
    x_m: FloatArray
    y_m: FloatArray
    heading_rad: FloatArray
    curvature_1pm: FloatArray
    step_m: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Scatter:
    corner: FloatArray
    brake: FloatArray
    power: FloatArray


def _smooth(rng: np.random.Generator, size: int, length: float) -> FloatArray:
    """Random values of unit spread that change over about `length` cells."""
    values: FloatArray = gaussian_filter1d(rng.normal(size=size), length, mode="reflect")
    return values * math.sqrt(2 * math.sqrt(math.pi) * length)


def _path(circuit: Circuit, cells: NDArray[np.int64], rng: np.random.Generator, variation: float) -> _Path:
    """The driven line: towards the inside of bends, a little differently each lap."""
    at = cells % circuit.x_m.size
    inside = gaussian_filter1d(circuit.curvature_1pm, 25, mode="wrap")
    offset = np.clip(90 * inside, -3, 3)[at] + 0.6 * min(1.0, variation / 0.03) * _smooth(rng, cells.size, 45)
    heading = circuit.heading_rad[at]
    x = circuit.x_m[at] - offset * np.sin(heading)
    y = circuit.y_m[at] + offset * np.cos(heading)
    dx, dy = np.gradient(x), np.gradient(y)
    step = np.hypot(dx, dy)
    turned = gaussian_filter1d(np.unwrap(np.arctan2(dy, dx)), 3, mode="nearest")
    return _Path(x, y, turned, np.gradient(turned) / step, step)


def _driven(path: _Path, cells: NDArray[np.int64], count: int, driver: Driver, scatter: _Scatter,
            lap_grip: FloatArray) -> Drive:  # fmt: skip
    lap = np.clip(cells // count + 1, 0, driver.laps + 1)
    blend = gaussian_filter1d(lap_grip[lap], 15, mode="nearest")
    grip = GRIP_MPS2 * driver.pace * scatter.corner * blend
    speed = _speed(path, grip, BRAKE_MPS2 * scatter.brake * blend, POWER_WPKG * scatter.power)
    step = path.step_m
    time_s = np.concatenate(([0.0], np.cumsum((step[1:] + step[:-1]) / (speed[1:] + speed[:-1]))))
    driven = np.concatenate(([0.0], np.cumsum((step[1:] + step[:-1]) / 2)))
    line = np.flatnonzero((cells % count == 0) & (cells >= 0) & (cells <= driver.laps * count))
    return Drive(time_s, path.x_m, path.y_m, path.heading_rad, path.curvature_1pm, speed,
                 driven - driven[line[0]], time_s[line], driven[line] - driven[line[0]])  # fmt: skip


def _speed(path: _Path, grip: FloatArray, brake: FloatArray, power: FloatArray) -> FloatArray:
    """Limit by v² times curvature, then backward by braking, then forward by engine and the grip that is left."""
    bend = np.abs(path.curvature_1pm)
    speed = np.minimum(np.sqrt(grip / np.maximum(bend, 1e-4)), 70.0)
    speed[0] = speed[-1] = SLOWEST_MPS
    v, k, g, b, p, step = (a.tolist() for a in (speed, bend, grip, brake, power, path.step_m))
    for i in range(len(v) - 2, -1, -1):
        left = math.sqrt(max(1 - (v[i + 1] ** 2 * k[i + 1] / g[i + 1]) ** 2, 0.02))
        v[i] = min(v[i], math.sqrt(v[i + 1] ** 2 + 2 * b[i] * left * step[i]))
    for i in range(1, len(v)):
        left = math.sqrt(max(1 - (v[i - 1] ** 2 * k[i - 1] / g[i - 1]) ** 2, 0.02))
        push = min(p[i] / max(v[i - 1], 3.0), 0.6 * g[i] * left) - DRAG_1PM * v[i - 1] ** 2
        v[i] = min(v[i], math.sqrt(max(v[i - 1] ** 2 + 2 * push * step[i], SLOWEST_MPS**2)))
    return np.array(v)
