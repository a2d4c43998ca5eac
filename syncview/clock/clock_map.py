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
class Pause:
    """The recording was stopped, or a block of it lost, while the log went on."""

    log_s: float
    """Log time at which the recording stops."""
    lost_s: float
    """Media seconds that are missing: the recording goes on at `log_s + lost_s / rate`."""


@dataclass(frozen=True, slots=True)
class ClockMap:
    """Places the log's clock on the recording's: `media_s = rate * log_s + offset_s`, with its uncertainty.

    After a pause, less what was lost. Offset and rate are strongly correlated; about `pivot_log_s`, the middle of the
    evidence, the place and the rate are not, so two numbers state the whole covariance.
    """

    offset_s: float
    """Media time at which the log reads zero (before any pause); may be negative."""
    rate: float = 1.0
    """Media seconds per log second; 1.0 unless one of the clocks drifts."""
    pivot_log_s: float = 0.0
    sigma_pivot_s: float = 0.0
    """Standard deviation of the media time given for `pivot_log_s`."""
    sigma_rate: float = 0.0
    pauses: tuple[Pause, ...] = ()
    """Ascending; usually none."""

    def __post_init__(self) -> None:
        if not (math.isfinite(self.offset_s) and math.isfinite(self.rate) and self.rate > 0):
            raise ValueError(f"not a clock: offset {self.offset_s} s, rate {self.rate}")
        ends = [pause.log_s + pause.lost_s / self.rate for pause in self.pauses]
        begins = [pause.log_s for pause in self.pauses]
        if any(pause.lost_s <= 0 for pause in self.pauses) or any(
            a > b for a, b in zip(ends, begins[1:], strict=False)
        ):
            raise ValueError("not a clock: its pauses overlap or have no length")

    @overload
    def to_media_s(self, log_s: float) -> float: ...
    @overload
    def to_media_s(self, log_s: FloatArray) -> FloatArray: ...
    def to_media_s(self, log_s: float | FloatArray) -> float | FloatArray:
        """Media time of a log time, a number or an array of any shape; NaN while the recording was stopped."""
        media_s = log_s * self.rate + self.offset_s
        for pause in self.pauses:
            gone = np.asarray(log_s) - pause.log_s
            lost = np.where(gone <= 0, 0.0, np.where(gone < pause.lost_s / self.rate, np.nan, pause.lost_s))
            media_s = media_s - (float(lost) if lost.ndim == 0 else lost)
        return media_s

    @overload
    def to_log_s(self, media_s: float) -> float: ...
    @overload
    def to_log_s(self, media_s: FloatArray) -> FloatArray: ...
    def to_log_s(self, media_s: float | FloatArray) -> float | FloatArray:
        """Log time of a media time; a number or an array of any shape."""
        lost_before = 0.0
        whole = media_s
        for pause in self.pauses:
            stops = pause.log_s * self.rate + self.offset_s - lost_before
            lost = np.where(np.asarray(media_s) > stops, pause.lost_s, 0.0)
            whole = whole + (float(lost) if lost.ndim == 0 else lost)
            lost_before += pause.lost_s
        return (whole - self.offset_s) / self.rate

    def half_width_s(self, log_s: float) -> float:
        """Half the 95 % interval of the media time given for `log_s`."""
        lever = (log_s - self.pivot_log_s) * self.sigma_rate
        return NORMAL_95 * math.hypot(self.sigma_pivot_s, lever)

    def is_recorded(self, begin_log_s: float, end_log_s: float) -> bool:
        """Whether the recording ran all the time between two log times, as far as pauses are known."""
        return not any(
            begin_log_s < pause.log_s + pause.lost_s / self.rate and pause.log_s < end_log_s for pause in self.pauses
        )

    @property
    def drift_ppm(self) -> float:
        """By how many millionths the recording's clock runs fast against the log's."""
        return (self.rate - 1.0) * 1e6
