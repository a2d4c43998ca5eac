"""How far the engine steps back while somebody speaks: a pure function of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Ducking:
    """Down before the first word, up after the last one (common practice: no standard gives these figures)."""

    depth_db: float = -12.0
    """Gain while somebody speaks; 0 leaves the engine as it is."""
    attack_s: float = 0.150
    """The way down; it ends where the voice begins."""
    release_s: float = 0.400
    """The way up; it begins where the voice ends."""
    bridged_s: float = 1.0
    """Between two voices that are nearer than this the engine stays down: coming up and going down again distracts."""

    def __post_init__(self) -> None:
        if self.depth_db > 0 or min(self.attack_s, self.release_s) <= 0 or self.bridged_s < 0:
            raise ValueError(f"ducking lowers, and takes time for it: {self}")


USUAL_DUCKING = Ducking()


def joined_spans(spans: Sequence[tuple[float, float]], bridged_s: float) -> list[tuple[float, float]]:
    """Begin and end of stretches of speech, in order; those nearer than `bridged_s` become one."""
    joined: list[tuple[float, float]] = []
    for begin_s, end_s in sorted(spans):
        if joined and begin_s - joined[-1][1] <= bridged_s:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end_s))
        else:
            joined.append((begin_s, end_s))
    return joined


class DuckGain:
    """The gain for the engine along the lesson; `spans` are begin and end of each voice, in seconds."""

    def __init__(self, spans: Sequence[tuple[float, float]], ducking: Ducking) -> None:
        self._ducking = ducking
        self._spans = joined_spans(spans, max(ducking.bridged_s, ducking.attack_s + ducking.release_s))

    def gain(self, begin: int, end: int, *, rate_hz: int) -> NDArray[np.float32]:
        """Factors for the samples begin..end, shape (end - begin,); the slope is smooth in decibels."""
        gain_db = np.zeros(end - begin)
        ducking = self._ducking
        for from_s, to_s in self._spans:
            first = max(begin, int((from_s - ducking.attack_s) * rate_hz))
            last = min(end, int((to_s + ducking.release_s) * rate_hz) + 1)
            if first >= last:
                continue
            times_s = np.arange(first, last) / rate_hz
            down = _smooth((times_s - from_s + ducking.attack_s) / ducking.attack_s)
            up = _smooth((to_s + ducking.release_s - times_s) / ducking.release_s)
            gain_db[first - begin : last - begin] = ducking.depth_db * np.minimum(down, up)
        return np.asarray(10 ** (gain_db / 20), dtype=np.float32)


def _smooth(share: NDArray[np.float64]) -> NDArray[np.float64]:
    """0 to 1 without a corner at either end."""
    clipped = np.clip(share, 0, 1)
    return np.asarray(clipped * clipped * (3 - 2 * clipped))
