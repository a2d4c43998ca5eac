"""Makes engine speed logs and engine sound with a known clock: cheap enough for dozens of sessions.

The laps are invented shapes, not a circuit: what matters is that engine speed rises, falls and steps as in driving,
that laps are alike but not equal, and that the truth is known exactly.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
AUDIO_HZ = 8000


@dataclass(frozen=True, slots=True, eq=False)
class EngineLog:
    time_s: FloatArray
    engine_rad_s: FloatArray
    lap_starts_s: FloatArray


def engine_log(duration_s: float, seed: int, *, rate_hz: float = 100.0, lap_s: float = 60.0) -> EngineLog:
    """Engine speed over several laps of one invented circuit that differ by about 1 % in time."""
    rng = np.random.default_rng(seed)
    edges = np.concatenate(([0.0], np.sort(rng.uniform(0, lap_s, 25)), [lap_s]))
    rising = rng.random(26) < 0.7
    begins = np.where(rising, rng.uniform(3000, 5500, 26), rng.uniform(6000, 7000, 26))
    ends = np.where(rising, rng.uniform(5000, 7800, 26), rng.uniform(3000, 4500, 26))
    time_s = np.arange(0, duration_s, 1 / rate_hz)
    rpm = np.zeros_like(time_s)
    starts = []
    start = -rng.uniform(5, 20)
    while start < duration_s:
        length = lap_s * (1 + rng.normal(0, 0.008))
        inside = (time_s >= start) & (time_s < start + length)
        phase = (time_s[inside] - start) / length * lap_s
        phase += 0.3 * np.sin(2 * np.pi * phase / lap_s * 3 + rng.uniform(0, 6))
        phase = np.clip(phase, 0, lap_s - 1e-6)
        piece = np.searchsorted(edges, phase, side="right") - 1
        along = (phase - edges[piece]) / np.diff(edges)[piece]
        rpm[inside] = begins[piece] + (ends[piece] - begins[piece]) * along
        if start > 0:
            starts.append(start)
        start += length
    return EngineLog(time_s, rpm * 2 * np.pi / 60, np.array(starts))


def engine_sound(
    log: EngineLog,
    duration_s: float,
    *,
    offset_s: float,
    rate: float = 1.0,
    cylinders: int = 4,
    noise: float = 1.0,
    seed: int = 1,
) -> NDArray[np.float32]:
    """Mono sound at `AUDIO_HZ` of that engine where media_s = rate * log_s + offset_s, under white noise."""
    rng = np.random.default_rng(seed)
    media_s = np.arange(0, duration_s, 1 / AUDIO_HZ)
    turning_hz = np.interp((media_s - offset_s) / rate, log.time_s, log.engine_rad_s) / (2 * np.pi)
    phase = 2 * np.pi * np.cumsum(turning_hz) / AUDIO_HZ
    firing = cylinders / 2
    sound = noise * rng.normal(size=media_s.size)
    for order, loudness in ((firing, 1.0), (2 * firing, 0.6), (firing / 2, 0.3), (1.5 * firing, 0.3), (0.5, 0.1)):
        sound += loudness * np.sin(order * phase + order)
    return (0.2 * sound).astype(np.float32)
