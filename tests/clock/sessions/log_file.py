"""Writes the log as a logger would: its own rate, its resolution, its errors, units in the headings."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter1d

from tests.clock.sessions.car import CarTrace
from tests.clock.sessions.circuit import FloatArray
from tests.clock.sessions.drive import Drive
from tests.clock.sessions.spec import SessionSpec

G_MPS2 = 9.80665
EARTH_M = 6_371_008.8
"""Mean radius (IUGG); a sphere is near enough for a place that nobody measures."""
DEG = 180 / math.pi
LAT0_DEG, LON0_DEG = 21.0, -41.5
"""In the open Atlantic."""

_COLUMNS: tuple[tuple[str, tuple[tuple[str, str, float, float], ...]], ...] = (
    ("speed", (("Speed", "km/h", 3.6, 0.1), ("Vehicle Speed", "mph", 2.2369362920544025, 0.1),
               ("speed", "m/s", 1.0, 0.01))),
    ("engine_speed", (("Engine Speed", "rpm", 1.0, 1.0), ("Engine RPM", "1/min", 1.0, 10.0),
                      ("rpm", "rpm", 1.0, 25.0))),
    ("gear", (("Gear", "", 1.0, 1.0),) * 3),
    ("throttle", (("Throttle", "%", 100.0, 0.5), ("Throttle Pedal", "%", 100.0, 1.0), ("pedal", "%", 100.0, 1.0))),
    ("brake", (("Brake", "%", 100.0, 1.0), ("Brake Pressure", "bar", 80.0, 0.5), ("brake", "%", 100.0, 1.0))),
    ("steering", (("Steering", "deg", DEG, 0.1), ("Steering Angle", "deg", DEG, 0.5),
                  ("steer", "rad", 1.0, 0.005))),
    ("yaw_rate", (("Yaw Rate", "deg/s", DEG, 0.1), ("Gyro Z", "deg/s", DEG, 0.25),
                  ("yaw_rate", "rad/s", 1.0, 0.002))),
    ("lateral_acceleration", (("Lateral Acceleration", "g", 1 / G_MPS2, 0.01), ("G Lat", "g", 1 / G_MPS2, 0.02),
                              ("acc_lat", "m/s2", 1.0, 0.1))),
    ("longitudinal_acceleration", (("Longitudinal Acceleration", "g", 1 / G_MPS2, 0.01),
                                   ("G Long", "g", 1 / G_MPS2, 0.02), ("acc_long", "m/s2", 1.0, 0.1))),
    ("latitude", (("Latitude", "deg", 1.0, 1e-7), ("GPS Latitude", "deg", 1.0, 1e-6), ("lat", "deg", 1.0, 1e-6))),
    ("longitude", (("Longitude", "deg", 1.0, 1e-7), ("GPS Longitude", "deg", 1.0, 1e-6), ("lon", "deg", 1.0, 1e-6))),
    ("lap", (("Lap", "", 1.0, 1.0), ("Lap Number", "", 1.0, 1.0), ("lap", "", 1.0, 1.0))),
    ("lap_distance", (("Lap Distance", "m", 1.0, 0.1), ("Lap Distance", "m", 1.0, 1.0),
                      ("lap_distance", "m", 1.0, 0.1))),
)  # fmt: skip
"""Role, then per style: heading, unit, factor from SI, resolution in that unit."""


def write_log(path: Path, spec: SessionSpec, drive: Drive, trace: CarTrace, span_s: tuple[float, float]) -> None:
    """Sample the trace from and to the given true times and write it; the clock starts at `log_zero_s`."""
    rng = np.random.default_rng([spec.seed, 7])
    true_s = np.arange(span_s[0], span_s[1], 1 / spec.log_hz)
    values = _sensors(drive, trace, true_s, rng)
    stretch = 1.01 if spec.pair == "stretched" else 1.0
    columns = [("Time" if spec.style < 2 else "time", "s", spec.log_zero_s + (true_s - true_s[0]) * stretch, 3)]
    for role, styles in _COLUMNS:
        if role not in spec.without:
            name, unit, factor, step = styles[spec.style]
            stepped = np.round(values[role] * factor / step) * step
            columns.append((name, unit, stepped, max(0, math.ceil(-math.log10(step) - 1e-9))))
    _write(path, spec.style, columns)


def _write(path: Path, style: int, columns: list[tuple[str, str, FloatArray, int]]) -> None:
    names, units = [c[0] for c in columns], [c[1] for c in columns]
    if style == 0:
        head = ",".join(f"{n} [{u}]" if u else n for n, u in zip(names, units, strict=True))
    elif style == 1:
        head = ",".join(f"{n} ({u})" if u else n for n, u in zip(names, units, strict=True))
    else:
        head = ",".join(names) + "\n" + ",".join(u or "-" for u in units)
    formats = [f"%.{c[3] + (1 if c[3] else 0)}f" for c in columns]
    table = np.stack([c[2] for c in columns], axis=1)
    np.savetxt(path, table, fmt=formats, delimiter=",", header=head, comments="", encoding="utf-8")


def _sensors(drive: Drive, trace: CarTrace, at_s: FloatArray, rng: np.random.Generator) -> dict[str, FloatArray]:
    def of(values: FloatArray) -> FloatArray:
        return np.interp(at_s, trace.time_s, values)

    def err(sigma: float) -> FloatArray:
        return rng.normal(0, sigma, at_s.size)

    speed, moving = of(trace.speed_mps), of(trace.speed_mps) > 0.3
    shake = 0.02 * speed
    lap = np.searchsorted(drive.lap_starts_s, at_s, side="right")
    begun_m = np.concatenate(([float(np.interp(at_s[0], trace.time_s, trace.driven_m))], drive.lap_starts_m))
    latitude, longitude = _position(trace, at_s, rng)
    shown = np.searchsorted(trace.time_s, at_s, side="right") - 1
    return {
        "speed": np.maximum(speed * (1 + rng.normal(0, 0.003)) + err(0.05) * moving, 0.0),
        "engine_speed": np.maximum(of(trace.rpm) + err(6), 0.0), "gear": trace.gear[shown],
        "throttle": np.clip(of(trace.throttle) + err(0.004), 0, 1),
        "brake": np.clip(of(trace.brake) + err(0.004), 0, 1),
        "steering": of(trace.steering_rad) + err(0.004) + rng.normal(0, 0.02),
        "yaw_rate": of(trace.yaw_rate_radps) + err(0.006) + 0.0004 * speed * err(1) + rng.normal(0, 0.004),
        "lateral_acceleration": of(trace.lateral_mps2) + err(1) * (0.1 + shake * 0.6),
        "longitudinal_acceleration": of(trace.pull_mps2) + err(1) * (0.1 + shake * 0.5),
        "latitude": latitude, "longitude": longitude, "lap": lap.astype(np.float64),
        "lap_distance": (of(trace.driven_m) - begun_m[lap]) * (1 + rng.normal(0, 0.002)),
    }  # fmt: skip


def _position(trace: CarTrace, at_s: FloatArray, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Ten fixes a second that wander by a metre, on a line between them."""
    fix_s = np.arange(at_s[0] - 0.2, at_s[-1] + 0.2, 0.1)
    wander = gaussian_filter1d(rng.normal(size=(2, fix_s.size)), 80, axis=1, mode="reflect") * 15
    noise = wander + rng.normal(0, 0.15, (2, fix_s.size))
    x = np.interp(at_s, fix_s, np.interp(fix_s, trace.time_s, trace.x_m) + noise[0])
    y = np.interp(at_s, fix_s, np.interp(fix_s, trace.time_s, trace.y_m) + noise[1])
    latitude = LAT0_DEG + np.degrees(y / EARTH_M)
    return latitude, LON0_DEG + np.degrees(x / EARTH_M / math.cos(math.radians(LAT0_DEG)))
