"""What every kind of evidence gives the fit: scores over all offsets, and measured offsets here and there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class OffsetScores:
    """How well recording and log agree for each offset at rate one."""

    offset_s: FloatArray
    """Shape (n,), ascending offsets `media_s - log_s`."""
    score: FloatArray
    """Shape (n,): robust standard deviations above what chance gives."""
    overlap_s: FloatArray
    """Shape (n,), seconds in common at that offset."""

    def peaks(self, *, most: int, least_share: float, apart_s: float) -> list[tuple[float, float]]:
        """The highest scores, at least `apart_s` from each other: (offset_s, score), best first."""
        left = self.score.copy()
        found: list[tuple[float, float]] = []
        while len(found) < most and left.size:
            best = int(np.argmax(left))
            if not np.isfinite(left[best]) or (found and left[best] < least_share * found[0][1]):
                break
            found.append((float(self.offset_s[best]), float(left[best])))
            left[np.abs(self.offset_s - self.offset_s[best]) < apart_s] = -np.inf
        return found


@dataclass(frozen=True, slots=True, eq=False)
class LocalOffsets:
    """Measurements of the offset at places of the log, independent of each other."""

    log_s: FloatArray
    """Shape (n,), middles of the stretches on the log's clock."""
    offset_s: FloatArray
    """Shape (n,), `media_s - log_s` there."""
    strength: FloatArray
    """Shape (n,), how clear each is, in the evidence's own measure."""

    @classmethod
    def of(cls, found: Sequence[tuple[float, float, float]]) -> LocalOffsets:
        """From (log_s, offset_s, strength) of each stretch."""
        columns = np.array(found, dtype=np.float64).reshape(-1, 3)
        return cls(columns[:, 0], columns[:, 1], columns[:, 2])


def peak_or_border(heights: FloatArray) -> tuple[float, float]:
    """Place (in steps, between them by a parabola) and height of the maximum, which may be the border itself."""
    best = int(np.argmax(heights))
    if best in (0, heights.size - 1):
        return float(best), float(heights[best])
    left, top, right = (float(h) for h in heights[best - 1 : best + 2])
    bend = left - 2 * top + right
    between = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return best + between, top - 0.25 * (left - right) * between


def robust_spread(values: FloatArray) -> FloatArray:
    """Standard deviation down each column by the median absolute deviation (factor 1.4826 for a normal one)."""
    off = np.abs(values - np.median(values, axis=0))
    return np.asarray(1.4826 * np.median(off, axis=0), dtype=np.float64)
