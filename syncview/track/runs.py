"""Stretches of samples above a threshold, with hysteresis, and the moments at which thresholds are crossed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IndexArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Stretches in which values stay above `off` and somewhere reach `on`; arrays have shape (k,)."""

    first: IndexArray
    """First sample above `off`."""
    stop: IndexArray
    """One past the last sample above `off`."""

    def __len__(self) -> int:
        return int(self.first.size)


def runs_above(values: FloatArray, *, on: float, off: float) -> Runs:
    """All stretches, in order; NaN counts as below. `on` must not be less than `off`."""
    above = np.concatenate(([False], values >= off, [False]))
    first = np.flatnonzero(above[1:] & ~above[:-1])
    stop = np.flatnonzero(above[:-1] & ~above[1:])
    reaches = np.concatenate(([0], np.cumsum(values >= on)))
    kept = reaches[stop] > reaches[first]
    return Runs(first[kept], stop[kept])


def crossing_s(time_s: FloatArray, values: FloatArray, index: int, level: float) -> float:
    """When the level was crossed between the samples before `index` and at it, on a straight line."""
    if index <= 0 or index >= time_s.size or not np.isfinite(values[index - 1]):
        return float(time_s[min(max(index, 0), time_s.size - 1)])
    before, after = values[index - 1], values[index]
    share = (level - before) / (after - before) if after != before else 1.0
    return float(time_s[index - 1] + min(max(share, 0.0), 1.0) * (time_s[index] - time_s[index - 1]))


def steepest_rise_per_s(time_s: FloatArray, values: FloatArray, runs: Runs, *, quantile: float) -> float | None:
    """How fast values usually rise at the beginning of a stretch: a quantile of each stretch's steepest step."""
    slope = np.diff(values) / np.diff(time_s)
    rises = [
        float(np.nanmax(slope[max(a - 1, 0) : b])) for a, b in zip(runs.first, runs.stop, strict=True) if b - a > 1
    ]
    return float(np.quantile(rises, quantile)) if rises else None


def onset_s(
    time_s: FloatArray,
    values: FloatArray,
    index: int,
    level: float,
    *,
    usual_rise_per_s: float | None = None,
    rise_ended: float = 0.9,
) -> float:
    """When a value that stood still began to rise through `level`: the rise at `index`, extended backwards.

    The steeper of the sides before and after sample `index` is extended; the moment stays between samples
    `index - 1` and `index`. Where the next sample has reached `rise_ended` of what follows, the rise was over before
    it could be seen, and the usual rise is extended if that is steeper.
    """
    plain_s = crossing_s(time_s, values, index, level)
    if index <= 0 or index + 1 >= time_s.size or not np.isfinite(values[index + 1]):
        return plain_s
    slope = (values[index + 1] - values[index]) / (time_s[index + 1] - time_s[index])
    if usual_rise_per_s is not None and values[index + 1] >= rise_ended * np.nanmax(values[index : index + 4]):
        slope = max(slope, usual_rise_per_s)
    if slope <= 0:
        return plain_s
    return max(plain_s, float(time_s[index] - (values[index] - level) / slope))
