"""The sound of the drive, computed from the same channels: engine, gears, wind, tyres, kerbs.

A four-stroke with n cylinders fires rpm/60 * n/2 times a second; its sound is made of half orders of the crank
(rpm/60 * 0.5, 1, 1.5, ...), strongest at the firing order and its multiples.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.signal import butter, sosfilt

from . import kerbs
from .car import CAR
from .circuit import Floats, circuit
from .clock import OFFSET_S, RATE
from .driver import STEP_S, Drive

SOUND_RATE_HZ = 48_000
BLOCK = 480_000
ORDERS: tuple[tuple[float, float], ...] = (
    *((0.5, 0.10), (1.0, 0.20), (1.5, 0.22), (2.0, 1.00), (2.5, 0.26), (3.0, 0.24), (3.5, 0.18), (4.0, 0.72)),
    *((4.5, 0.16), (5.0, 0.15), (5.5, 0.12), (6.0, 0.50), (6.5, 0.10), (7.0, 0.10), (8.0, 0.34), (9.0, 0.08)),
    *((10.0, 0.22), (12.0, 0.16), (14.0, 0.10)),
)
"""Crank order and its strength at full load, before resonances."""
RESONANCES_HZ: tuple[tuple[float, float, float], ...] = (
    (150.0, 60.0, 0.7),
    (310.0, 90.0, 0.8),
    (720.0, 220.0, 0.9),
    (1500.0, 500.0, 0.6),
)
"""Frequency, width and gain of the exhaust's and the cabin's resonances."""
PEAK = 0.66


class _Cues:
    """Slow quantities on the drive's own grid, from which every block interpolates."""

    def __init__(self, drive: Drive) -> None:
        self._log_s = drive.log_s
        self._turns = np.concatenate(
            [[0.0], np.cumsum(0.5 * (drive.engine_rpm[1:] + drive.engine_rpm[:-1]) / 60.0 * STEP_S)]
        )
        self._pinion = drive.distance_m / (2.0 * np.pi * CAR.tyre_radius_m) * CAR.final_ratio
        self._rpm, self._speed, self._distance = drive.engine_rpm, drive.speed_mps, drive.distance_m
        up = np.concatenate([[0.0], np.maximum(np.diff(drive.gear), 0.0)])
        cut = gaussian_filter1d(up, 0.02 / STEP_S)
        self._load = gaussian_filter1d(drive.throttle_pct / 100.0, 0.015 / STEP_S) * (
            1.0 - 0.9 * cut / max(float(cut.max()), 1e-9)
        )
        used = np.hypot(drive.lateral_mps2, 0.9 * drive.longitudinal_mps2) / 12.2
        self._squeal = gaussian_filter1d(
            np.clip((used - 0.90) / 0.12, 0.0, 1.0) + np.abs(drive.slide_rad) * 14.0, 0.06 / STEP_S
        )
        self._kerb = gaussian_filter1d(
            kerbs.ridden(circuit(), drive.station_m, drive.offset_m).astype(float), 0.02 / STEP_S
        )

    def at(self, name: str, log_s: Floats) -> Floats:
        return np.asarray(np.interp(log_s, self._log_s, getattr(self, "_" + name)), dtype=np.float64)


def _engine(cues: _Cues, log_s: Floats, random: np.random.Generator) -> Floats:
    """Half orders with load-dependent strength and brightness, shaped into a rasp."""
    turns, rpm, load = cues.at("turns", log_s), cues.at("rpm", log_s), cues.at("load", log_s)
    crank_hz = rpm / 60.0
    total = np.zeros_like(log_s)
    for number, (order, strength) in enumerate(ORDERS):
        hertz = order * crank_hz
        gain = 0.45 + sum(g * np.exp(-0.5 * ((hertz - f) / w) ** 2) for f, w, g in RESONANCES_HZ)
        bright = np.exp(-max(order - 2.0, 0.0) * (0.30 - 0.20 * load))
        total += strength * gain * bright * np.sin(2.0 * np.pi * order * turns + 1.7 * number * number)
    rough = 1.0 + 0.10 * _noise(random, len(log_s), 60.0)
    total *= (0.34 + 0.66 * load) * (0.55 + 0.45 * rpm / 8000.0) * rough
    return np.asarray(np.tanh(1.15 * total), dtype=np.float64)


def _noise(random: np.random.Generator, count: int, cut_hz: float) -> Floats:
    """Low-passed noise of unit size; blocks join without a click because its level is what is blended."""
    coefficients = butter(1, cut_hz, fs=SOUND_RATE_HZ, output="sos")
    warm = 4800
    raw = sosfilt(coefficients, random.normal(0.0, 1.0, count + warm))[warm:]
    return np.asarray(raw / raw.std(), dtype=np.float64)


def _band(random: np.random.Generator, count: int, low_hz: float, high_hz: float) -> Floats:
    coefficients = butter(2, [low_hz, high_hz], btype="bandpass", fs=SOUND_RATE_HZ, output="sos")
    raw = sosfilt(coefficients, random.normal(0.0, 1.0, count + 4800))[4800:]
    return np.asarray(raw / raw.std(), dtype=np.float64)


def _crackle(cues: _Cues, log_s: Floats, random: np.random.Generator) -> Floats:
    """Pops in the exhaust when the throttle is shut at high engine speed."""
    overrun = (cues.at("load", log_s) < 0.03) & (cues.at("rpm", log_s) > 5200.0)
    pops = (
        (random.uniform(0.0, 1.0, len(log_s)) < 16.0 / SOUND_RATE_HZ) * random.uniform(0.3, 1.0, len(log_s)) * overrun
    )
    length = int(0.03 * SOUND_RATE_HZ)
    shape = np.exp(-np.arange(length) / (0.005 * SOUND_RATE_HZ)) * random.normal(0.0, 1.0, length)
    shape = gaussian_filter1d(shape, 6.0)
    found = np.zeros(len(log_s) + length)
    for place in np.flatnonzero(pops):
        found[place : place + length] += pops[place] * shape
    return np.asarray(found[: len(log_s)], dtype=np.float64)


def _rest(cues: _Cues, log_s: Floats, random: np.random.Generator) -> Floats:
    """Gear whine, wind, squeal, kerbs."""
    speed, load, squeal, kerb = (cues.at(name, log_s) for name in ("speed", "load", "squeal", "kerb"))
    pinion, count = cues.at("pinion", log_s), len(log_s)
    whine = (
        (0.010 + 0.022 * load)
        * np.clip(speed / 40.0, 0.0, 1.0)
        * (np.sin(2 * np.pi * 13 * pinion) + 0.4 * np.sin(2 * np.pi * 26 * pinion))
    )
    wind = 0.085 * (speed / 50.0) ** 2 * _noise(random, count, 420.0)
    road = 0.03 * (speed / 50.0) * _band(random, count, 60.0, 240.0)
    wobble = np.cumsum(_noise(random, count, 9.0)) / SOUND_RATE_HZ
    tone = np.sin(2 * np.pi * (760.0 * log_s + 55.0 * wobble)) + 0.5 * np.sin(
        2 * np.pi * (1523.0 * log_s + 110.0 * wobble)
    )
    tyres = squeal * (
        0.030 * tone * (1.0 + 0.5 * _noise(random, count, 20.0)) + 0.035 * _band(random, count, 650.0, 1100.0)
    )
    rumble = 0.22 * kerb * np.sin(2 * np.pi * cues.at("distance", log_s) / 0.8) ** 3
    return np.asarray(whine + wind + road + tyres + rumble, dtype=np.float64)


def synthesise(drive: Drive, duration_s: float) -> NDArray[np.float32]:
    """Mono sound from media time 0 on, shape (samples,), peaks below PEAK."""
    cues, count = _Cues(drive), int(duration_s * SOUND_RATE_HZ)
    blocks = []
    for number, first in enumerate(range(0, count, BLOCK)):
        random = np.random.default_rng((99, number))
        media_s = np.arange(first, min(first + BLOCK, count)) / SOUND_RATE_HZ
        log_s = (media_s - OFFSET_S) / RATE
        blocks.append(
            0.52 * _engine(cues, log_s, random) + _rest(cues, log_s, random) + 0.5 * _crackle(cues, log_s, random)
        )
    sound = np.concatenate(blocks)
    fade = np.minimum(np.minimum(np.arange(count), np.arange(count)[::-1]) / (0.15 * SOUND_RATE_HZ), 1.0)
    sound *= fade
    return np.asarray(sound * (PEAK / np.abs(sound).max()), dtype=np.float32)
