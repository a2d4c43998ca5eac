"""The sample's clocks: log time, media time, and the frames between."""

from __future__ import annotations

import numpy as np

from .circuit import Floats

RATE = 1.0 + 40e-6
OFFSET_S = -7.3426
"""media_s = RATE * log_s + OFFSET_S: the log starts before the recording and its clock runs slow by 40 ppm."""
FRAME_RATE = 60
LOG_RATE_HZ = 100
TAIL_S = 0.6
"""The log goes on this long after the recording ends, at least."""


def to_media_s(log_s: float) -> float:
    """Media time of a log time."""
    return RATE * log_s + OFFSET_S


def frame_count(log_end_s: float) -> int:
    """Whole frames that fit before the log's end."""
    return int((to_media_s(log_end_s) - TAIL_S) * FRAME_RATE)


def frame_log_s(count: int) -> Floats:
    """Log time of each frame's instant, shape (count,)."""
    return (np.arange(count) / FRAME_RATE - OFFSET_S) / RATE
