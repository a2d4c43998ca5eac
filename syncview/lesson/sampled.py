"""A channel made ready for many questions about single moments."""

from __future__ import annotations

import math

import numpy as np

from syncview.channels import LONGEST_GAP_S, FloatArray


class Sampled:
    """Answers as `syncview.channels.sample_at` does, one moment at a time, without going through the log each time.

    `stepped` values hold until the next sample; others run to it on a line.
    """

    def __init__(self, time_s: FloatArray, values: FloatArray, *, stepped: bool = False) -> None:
        good = np.isfinite(values)
        self._time_s = time_s if good.all() else time_s[good]
        self._values = values if good.all() else values[good]
        self._stepped = stepped

    def at(self, moment_s: float) -> float | None:
        """The value; None outside the channel and inside gaps that are too long to say."""
        time_s, values = self._time_s, self._values
        after = int(time_s.searchsorted(moment_s, side="right"))
        if after == 0 or math.isnan(moment_s):
            return None
        before_s, before = float(time_s[after - 1]), float(values[after - 1])
        if moment_s == before_s:
            return before
        if after == time_s.size:
            return None
        step_s = float(time_s[after]) - before_s
        if step_s > LONGEST_GAP_S:
            return None
        if self._stepped:
            return before
        return before + (float(values[after]) - before) * ((moment_s - before_s) / step_s)
