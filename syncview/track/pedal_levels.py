"""Pedals as shares of the way from rest to full travel on this log (see `definitions`)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.track.definitions import FULL_QUANTILE, LEAST_BRAKE, LEAST_TRAVEL, PLATEAU_SHARE, REST_QUANTILE
from syncview.track.distance import Track
from syncview.track.motion import filled

FloatArray = NDArray[np.float64]

LEAST_PRESSURE_PA = 2e5
"""A brake pressure that never rises by 2 bar was not recorded."""


def throttle_level(track: Track, log: SessionLog) -> FloatArray | None:
    """Shape (n,), 0 at rest to 1 at full travel, a little beyond by noise; None without a channel that moves."""
    driven = _driven(track, log, "throttle")
    if driven is None:
        return None
    values, rest, full = driven
    rest, full = _level_near(values, rest, full - rest), _level_near(values, full, full - rest)
    return _between(log, "throttle", rest, full, LEAST_TRAVEL)


def brake_level(track: Track, log: SessionLog) -> FloatArray | None:
    """Shape (n,), 0 at rest to 1 at the hardest braking of the session; None without a channel that moves."""
    driven = _driven(track, log, "brake")
    if driven is None:
        return None
    values, rest, full = driven
    least = LEAST_PRESSURE_PA if log.signals["brake"].unit == "Pa" else LEAST_BRAKE
    return _between(log, "brake", _level_near(values, rest, full - rest), full, least)


def _driven(track: Track, log: SessionLog, role: str) -> tuple[FloatArray, float, float] | None:
    """The channel on timed laps, with its low and high quantile."""
    values = filled(log, role)
    if values is None:
        return None
    timed = track.timed
    driven = values[(log.time_s >= timed[0].start_s) & (log.time_s <= timed[-1].end_s)]
    driven = driven[np.isfinite(driven)]
    if driven.size < 10:
        return None
    rest, full = np.quantile(driven, (REST_QUANTILE, FULL_QUANTILE))
    return driven, float(rest), float(full)


def _level_near(values: FloatArray, end: float, travel: float) -> float:
    """Where a pedal lies when it is at an end of its travel: the median of what is near, so that noise cancels."""
    near = values[np.abs(values - end) <= PLATEAU_SHARE * travel]
    return float(np.median(near)) if near.size else end


def _between(log: SessionLog, role: str, rest: float, full: float, least_travel: float) -> FloatArray | None:
    values = filled(log, role)
    if values is None or full - rest < least_travel:
        return None
    return np.asarray((values - rest) / (full - rest), dtype=np.float64)
