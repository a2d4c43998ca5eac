"""Places marked by hand in the recording, and which lap of the log each of them belongs to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from syncview.clock.candidates import clock_of
from syncview.clock.clock_map import ClockMap
from syncview.clock.line_fit import PRIOR_DRIFT, weighted_line
from syncview.clock.log_lap_starts import LapStart

FloatArray = NDArray[np.float64]

SLACK_S = 0.25
"""How far a second mark may lie from its place when the first one is taken to be right."""
SLACK_RATE = 1e-3
HAND_FRAMES = 0.6
"""Standard deviation of a mark by hand, in frames: the right frame, or now and then a neighbour. No source."""


@dataclass(frozen=True, slots=True)
class Mark:
    """The frame at which the car passes the start line, or another place of known lap distance."""

    media_s: float
    lap: int | None = None
    """Number of the lap that begins there (or in which the place is passed), when the person said it."""
    lap_distance_m: float = 0.0
    """0 for the start line."""


Passes = Callable[[float], tuple[LapStart, ...]]
"""Lap distance in metres -> the log's moments at which each lap passes there."""


@dataclass(frozen=True, slots=True)
class Pairing:
    """One way to read the marks."""

    passed: tuple[LapStart, ...]
    """The log's moment of each mark, in the order of the marks."""
    offset_s: float
    """Mean of `media_s - log_s`."""
    spread_s: float
    """Root mean square of how the marks differ from that, drift apart."""


def pairings(marks: tuple[Mark, ...], passes: Passes) -> tuple[Pairing, ...]:
    """Every reading of the marks in which the times between them agree with the log, best first.

    Marks must be ascending. Empty when nothing fits, or a mark names a lap that the log does not have.
    """
    choices = [passes(mark.lap_distance_m) for mark in marks]
    found = []
    for first in choices[0]:
        offset = marks[0].media_s - first.log_s
        chosen = [
            first if i == 0 else _nearest(passed, mark.media_s - offset)
            for i, (mark, passed) in enumerate(zip(marks, choices, strict=True))
            if passed
        ]
        if len(chosen) == len(marks) and _agrees(marks, chosen):
            offsets = np.array([m.media_s - s.log_s for m, s in zip(marks, chosen, strict=True)])
            found.append(Pairing(tuple(chosen), float(offsets.mean()), _spread(marks, offsets)))
    return tuple(sorted(found, key=lambda pairing: pairing.spread_s))


def mark_points(marks: tuple[Mark, ...], reading: Pairing, frame_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log times, offsets and standard deviations of the marks, each of shape (n,)."""
    x = np.array([start.log_s for start in reading.passed])
    y = np.array([mark.media_s for mark in marks]) - x
    return x, y, np.hypot(HAND_FRAMES * frame_s, [start.sigma_s for start in reading.passed])


def clock_by_marks(marks: tuple[Mark, ...], reading: Pairing, frame_s: float) -> ClockMap:
    """The clock that marks alone give; its drift is that of usual clocks unless the marks lie far apart."""
    x, y, sigma = mark_points(marks, reading, frame_s)
    return clock_of(weighted_line(x, y, sigma, np.ones(x.size, dtype=bool), PRIOR_DRIFT), 0.0)


def _nearest(starts: tuple[LapStart, ...], log_s: float) -> LapStart:
    return min(starts, key=lambda start: abs(start.log_s - log_s))


def _agrees(marks: tuple[Mark, ...], chosen: list[LapStart]) -> bool:
    if any(m.lap is not None and m.lap != s.number for m, s in zip(marks, chosen, strict=True)):
        return False
    media = np.array([mark.media_s for mark in marks])
    log = np.array([start.log_s for start in chosen])
    if (np.diff(media) > SLACK_S).any() and (np.diff(log)[np.diff(media) > SLACK_S] <= 0).any():
        return False
    off = np.abs((media - media[0]) - (log - log[0]))
    return bool((off <= SLACK_S + SLACK_RATE * (media - media[0])).all())


def _spread(marks: tuple[Mark, ...], offsets: FloatArray) -> float:
    if offsets.size < 3:
        return float(offsets.std())
    media = np.array([mark.media_s for mark in marks])
    line = np.polyfit(media - media[0], offsets, 1)
    return float(np.sqrt(np.mean((offsets - np.polyval(line, media - media[0])) ** 2)))
