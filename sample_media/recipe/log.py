"""The car's log: every channel at 100 Hz with a sensor's noise and steps, as comma separated text."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter1d

from .car import GRAVITY_MPS2
from .circuit import Floats, to_geodetic
from .clock import LOG_RATE_HZ
from .driver import Drive

COLUMNS: tuple[tuple[str, int], ...] = (
    ("time [s]", 2),
    ("lap", 0),
    ("lap distance [m]", 3),
    ("speed [km/h]", 2),
    ("engine speed [rpm]", 0),
    ("gear", 0),
    ("throttle [%]", 1),
    ("brake [%]", 1),
    ("steering angle [deg]", 1),
    ("yaw rate [deg/s]", 2),
    ("lateral acceleration [g]", 3),
    ("longitudinal acceleration [g]", 3),
    ("latitude [deg]", 8),
    ("longitude [deg]", 8),
    ("track temperature [degC]", 1),
    ("air temperature [degC]", 1),
)
"""Heading and decimals of each column, in order. Left is positive (ISO 8855)."""


def _slow(random: np.random.Generator, count: int, seconds: float, sigma: float) -> Floats:
    """Wandering noise of a given time scale and standard deviation, shape (count,)."""
    width = seconds * LOG_RATE_HZ
    noise = gaussian_filter1d(random.normal(0.0, 1.0, count), width, mode="wrap")
    return np.asarray(sigma * noise / noise.std(), dtype=np.float64)


def _lap_distance(drive: Drive, log_s: Floats, random: np.random.Generator) -> tuple[Floats, Floats]:
    """Lap counter and odometer since the last crossing; before the first one, since the log's start."""
    lap = np.searchsorted(drive.lap_starts_s, log_s, side="right")
    zeros = np.concatenate([[0.0], drive.at("distance_m", np.array(drive.lap_starts_s))])
    metres = drive.at("distance_m", log_s) - zeros[lap]
    wheel = 1.0 + 1e-4 * np.array([random.normal() for _ in zeros])
    return lap.astype(np.float64), metres * wheel[lap]


def sampled(drive: Drive) -> dict[str, Floats]:
    """Every column of the log, each of shape (n,), with noise but before rounding."""
    random = np.random.default_rng(2024)
    count = int(drive.log_s[-1] * LOG_RATE_HZ)
    log_s = np.arange(count, dtype=np.float64) / LOG_RATE_HZ

    def white(sigma: float) -> Floats:
        return random.normal(0.0, sigma, count)

    lap, metres = _lap_distance(drive, log_s, random)
    x = drive.at("x_m", log_s) + white(0.05) + _slow(random, count, 6.0, 0.2)
    y = drive.at("y_m", log_s) + white(0.05) + _slow(random, count, 6.0, 0.2)
    lat_deg, lon_deg = to_geodetic(x, y)
    gear = drive.gear[np.clip((log_s / (drive.log_s[1] - drive.log_s[0])).round().astype(int), 0, len(drive.gear) - 1)]
    values = (
        log_s,
        lap,
        metres,
        drive.at("speed_mps", log_s) * 3.6 + white(0.06),
        drive.at("engine_rpm", log_s) + white(9.0),
        gear,
        np.clip(drive.at("throttle_pct", log_s) + white(0.12), 0.0, 100.0),
        np.clip(drive.at("brake_pct", log_s) + white(0.12), 0.0, 100.0),
        drive.at("steering_deg", log_s) + white(0.12),
        np.degrees(drive.at("yaw_rate_radps", log_s)) + white(0.18),
        drive.at("lateral_mps2", log_s) / GRAVITY_MPS2 + white(0.015),
        drive.at("longitudinal_mps2", log_s) / GRAVITY_MPS2 + white(0.015),
        lat_deg,
        lon_deg,
        31.5 + 0.006 * log_s + _slow(random, count, 20.0, 0.25),
        19.2 + _slow(random, count, 30.0, 0.12),
    )
    return {name: value for (name, _), value in zip(COLUMNS, values, strict=True)}


def text(drive: Drive) -> str:
    """The log as it is written: a heading, then one line a sample, lines ended by LF."""
    columns = sampled(drive)
    fields = [[f"{v:.{places}f}" for v in columns[name].tolist()] for name, places in COLUMNS]
    plain = [[f.removeprefix("-") if not f.strip("-0.") else f for f in column] for column in fields]
    lines = [",".join(name for name, _ in COLUMNS), *(",".join(row) for row in zip(*plain, strict=True))]
    return "\n".join(lines) + "\n"


def write(drive: Drive, path: Path) -> None:
    """Write the log as UTF-8."""
    path.write_text(text(drive), encoding="utf-8", newline="\n")
