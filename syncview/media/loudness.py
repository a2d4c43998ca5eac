"""Loudness after ITU-R BS.1770 and EBU R 128, measured by FFmpeg's ebur128 filter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from syncview.media.filter_run import FilterRun

if TYPE_CHECKING:
    from collections.abc import Iterable

    from av.audio.frame import AudioFrame
    from numpy.typing import NDArray

_FRAMES_A_SECOND = 10
"""The filter tells its figures every 100 ms."""
_GATE_LUFS = -70.0
"""Below this nothing counts (BS.1770's absolute gate); the filter reads -70 for silence."""


@dataclass(frozen=True, slots=True)
class LoudnessTarget:
    """How loud a finished sound is to be."""

    integrated_lufs: float
    highest_true_peak_dbtp: float = -1.0


BROADCAST = LoudnessTarget(-23.0)
"""EBU R 128: -23.0 LUFS with at most -1 dBTP."""
WEB = LoudnessTarget(-14.0)
"""Near what web hosts level to (common practice)."""


@dataclass(frozen=True, slots=True)
class Loudness:
    """What was measured of a whole sound."""

    integrated_lufs: float | None
    """None when nothing in it is louder than -70 LUFS for 400 ms."""
    true_peak_dbtp: float | None
    """The highest level between samples too; None when it was not asked for, or below -60 dBTP (the filter's step)."""


class LoudnessMeter:
    """Measures blocks of shape (channels, n) in order; `result` ends it."""

    def __init__(self, *, rate_hz: int, channels: int, with_peak: bool = True) -> None:
        arguments = "metadata=1:framelog=quiet" + (":peak=true" if with_peak else "")
        self._run = FilterRun([("ebur128", arguments)], rate_hz=rate_hz, channels=channels)
        self._step = rate_hz // _FRAMES_A_SECOND
        self._channels = channels
        self._with_peak = with_peak
        self._seen = 0
        self._told: dict[str, str] = {}

    def add(self, block: NDArray[np.float32]) -> None:
        """Take the next samples."""
        self._seen += block.shape[1]
        self._note(self._run.push(block))

    def result(self) -> Loudness:
        """The figures for all that was added."""
        # The figures come with whole steps only: without the filling, the last samples' peak would be missed.
        missing = -self._seen % self._step
        self._note(self._run.push(np.zeros((self._channels, missing), dtype=np.float32)))
        self._note(self._run.finish())
        integrated = float(self._told.get("lavfi.r128.I", _GATE_LUFS))
        peak = float(self._told.get("lavfi.r128.true_peak", 0.0)) if self._with_peak else 0.0
        return Loudness(
            integrated_lufs=integrated if integrated > _GATE_LUFS and math.isfinite(integrated) else None,
            true_peak_dbtp=20 * math.log10(peak) if peak > 0 else None,
        )

    def _note(self, frames: Iterable[AudioFrame]) -> None:
        for frame in frames:
            told = frame.metadata
            if told:
                self._told = dict(told)


def loudness_of(blocks: Iterable[NDArray[np.float32]], *, rate_hz: int, channels: int) -> Loudness:
    """Loudness and true peak of all blocks, each of shape (channels, n)."""
    meter = LoudnessMeter(rate_hz=rate_hz, channels=channels)
    for block in blocks:
        meter.add(block)
    return meter.result()
