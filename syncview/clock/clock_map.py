"""The one converter between the log's clock and the recording's."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

NORMAL_95 = 1.959963984540054
"""Standard deviations to either side that hold 95 % of a normal distribution."""


@dataclass(frozen=True, slots=True)
class ClockMap:
    """Places the log's clock on the recording's: `media_s = rate * log_s + offset_s`, with its uncertainty.

    Offset and rate are strongly correlated; about `pivot_log_s`, the middle of the evidence, the place and the
    rate are not, so two numbers state the whole covariance.
    """

    offset_s: float
    """Media time at which the log reads zero; may be negative."""
    rate: float = 1.0
    """Media seconds per log second; 1.0 unless one of the clocks drifts."""
    pivot_log_s: float = 0.0
    sigma_pivot_s: float = 0.0
    """Standard deviation of the media time given for `pivot_log_s`."""
    sigma_rate: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.offset_s) and math.isfinite(self.rate) and self.rate > 0):
            raise ValueError(f"not a clock: offset {self.offset_s} s, rate {self.rate}")

    @overload
    def to_media_s(self, log_s: float) -> float: ...
    @overload
    def to_media_s(self, log_s: FloatArray) -> FloatArray: ...
    def to_media_s(self, log_s: float | FloatArray) -> float | FloatArray:
        """Media time of a log time; a number or an array of any shape."""
        return log_s * self.rate + self.offset_s

    @overload
    def to_log_s(self, media_s: float) -> float: ...
    @overload
    def to_log_s(self, media_s: FloatArray) -> FloatArray: ...
    def to_log_s(self, media_s: float | FloatArray) -> float | FloatArray:
        """Log time of a media time; a number or an array of any shape."""
        return (media_s - self.offset_s) / self.rate

    def half_width_s(self, log_s: float) -> float:
        """Half the 95 % interval of the media time given for `log_s`."""
        lever = (log_s - self.pivot_log_s) * self.sigma_rate
        return NORMAL_95 * math.hypot(self.sigma_pivot_s, lever)

    @property
    def drift_ppm(self) -> float:
        """By how many millionths the recording's clock runs fast against the log's."""
        return (self.rate - 1.0) * 1e6
