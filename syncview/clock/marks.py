"""Lap starts marked by hand in the recording, and which lap of the log each of them is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.clock.log_lap_starts import LapStart

FloatArray = NDArray[np.float64]

SLACK_S = 0.25
"""How far a second mark may lie from its lap start when the first one is taken to be right."""
SLACK_RATE = 1e-3
HAND_FRAMES = 0.6
"""Standard deviation of a mark by hand, in frames: the right frame, or now and then a neighbour. No source."""


@dataclass(frozen=True, slots=True)
class Mark:
    """The frame at which the car crosses the start line."""

    media_s: float
    lap: int | None = None
    """Number of the lap that begins there, when the person said it."""


@dataclass(frozen=True, slots=True)
class Pairing:
    """One way to read the marks."""

    starts: tuple[LapStart, ...]
    """The lap start of each mark, in the order of the marks."""
    offset_s: float
    """Mean of `media_s - log_s`."""
    spread_s: float
    """Root mean square of how the marks differ from that, drift apart."""


def pairings(marks: tuple[Mark, ...], starts: tuple[LapStart, ...]) -> tuple[Pairing, ...]:
    """Every reading of the marks in which the times between them agree with the lap times, best first.

    Marks must be ascending. Empty when nothing fits, or a mark names a lap that the log does not have.
    """
    found = []
    for first in starts:
        offset = marks[0].media_s - first.log_s
        chosen = [_nearest(starts, mark.media_s - offset) for mark in marks]
        if _agrees(marks, chosen):
            offsets = np.array([m.media_s - s.log_s for m, s in zip(marks, chosen, strict=True)])
            found.append(Pairing(tuple(chosen), float(offsets.mean()), _spread(marks, offsets)))
    return tuple(sorted(found, key=lambda pairing: pairing.spread_s))


def _nearest(starts: tuple[LapStart, ...], log_s: float) -> LapStart:
    return min(starts, key=lambda start: abs(start.log_s - log_s))


def _agrees(marks: tuple[Mark, ...], chosen: list[LapStart]) -> bool:
    if any(m.lap is not None and m.lap != s.number for m, s in zip(marks, chosen, strict=True)):
        return False
    if len({start.log_s for start in chosen}) < len(chosen):
        return False
    media = np.array([mark.media_s for mark in marks])
    log = np.array([start.log_s for start in chosen])
    off = np.abs((media - media[0]) - (log - log[0]))
    return bool((off <= SLACK_S + SLACK_RATE * (media - media[0])).all())


def _spread(marks: tuple[Mark, ...], offsets: FloatArray) -> float:
    if offsets.size < 3:
        return float(offsets.std())
    media = np.array([mark.media_s for mark in marks])
    line = np.polyfit(media - media[0], offsets, 1)
    return float(np.sqrt(np.mean((offsets - np.polyval(line, media - media[0])) ** 2)))
