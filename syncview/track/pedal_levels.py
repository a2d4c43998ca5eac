"""Pedals as shares of the way from rest to full travel on this log (see `definitions`)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.track.definitions import FULL_QUANTILE, LEAST_TRAVEL, REST_QUANTILE
from syncview.track.distance import Track
from syncview.track.motion import filled

FloatArray = NDArray[np.float64]

LEAST_PRESSURE_PA = 2e5
"""A brake pressure that never rises by 2 bar was not recorded."""


def throttle_level(track: Track, log: SessionLog) -> FloatArray | None:
    """Shape (n,), 0 at rest to 1 at full travel, a little beyond by noise; None without a channel that moves."""
    return _level(track, log, "throttle", LEAST_TRAVEL)


def brake_level(track: Track, log: SessionLog) -> FloatArray | None:
    """Shape (n,), 0 at rest to 1 at the hardest braking of the session; None without a channel that moves."""
    signal = log.signals.get("brake")
    least = LEAST_PRESSURE_PA if signal is not None and signal.unit == "Pa" else 0.05
    return _level(track, log, "brake", least)


def _level(track: Track, log: SessionLog, role: str, least_travel: float) -> FloatArray | None:
    values = filled(log, role)
    if values is None:
        return None
    timed = track.timed
    driven = values[(log.time_s >= timed[0].start_s) & (log.time_s <= timed[-1].end_s)]
    driven = driven[np.isfinite(driven)]
    if driven.size < 10:
        return None
    rest, full = np.quantile(driven, (REST_QUANTILE, FULL_QUANTILE))
    if full - rest < least_travel:
        return None
    return np.asarray((values - rest) / (full - rest), dtype=np.float64)
