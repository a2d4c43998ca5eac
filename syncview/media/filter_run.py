"""Runs float sound through a chain of FFmpeg's audio filters, block by block."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from av.audio.frame import AudioFrame
    from numpy.typing import NDArray

_LAYOUTS = {1: "mono", 2: "stereo", 6: "5.1"}


class FilterRun:
    """A chain of filters, each (name, arguments); push blocks of shape (channels, n), then finish.

    The frames that come out are packed 32-bit float when the chain ends in a filter that keeps the format.
    Raises ValueError for a number of channels without a usual layout.
    """

    def __init__(self, filters: Sequence[tuple[str, str]], *, rate_hz: int, channels: int) -> None:
        if channels not in _LAYOUTS:
            raise ValueError(f"{channels} channels have no usual layout")
        self._rate_hz = rate_hz
        self._layout = _LAYOUTS[channels]
        self._pushed = 0
        self._graph = av.filter.Graph()
        last = self._graph.add_abuffer(
            sample_rate=rate_hz, format="flt", layout=self._layout, time_base=Fraction(1, rate_hz)
        )
        for name, arguments in (*filters, ("aformat", "sample_fmts=flt"), ("abuffersink", "")):
            following = self._graph.add(name, arguments or None)
            last.link_to(following)
            last = following
        self._graph.configure()

    def push(self, block: NDArray[np.float32]) -> Iterator[AudioFrame]:
        """What the chain gives after this block."""
        if block.shape[1]:
            packed = np.ascontiguousarray(block.T, dtype=np.float32).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(packed, format="flt", layout=self._layout)
            frame.sample_rate, frame.time_base = self._rate_hz, Fraction(1, self._rate_hz)
            frame.pts = self._pushed
            self._pushed += block.shape[1]
            self._graph.push(frame)
        yield from self._ready()

    def finish(self) -> Iterator[AudioFrame]:
        """What the chain still holds."""
        self._graph.push(None)
        yield from self._ready()

    def _ready(self) -> Iterator[AudioFrame]:
        while True:
            try:
                frame = self._graph.pull()
            except (av.BlockingIOError, av.EOFError):
                return
            if isinstance(frame, av.AudioFrame):
                yield frame


def samples_of(frame: AudioFrame) -> NDArray[np.float32]:
    """A packed float frame's samples, shape (channels, n), in memory of their own."""
    packed = np.asarray(frame.to_ndarray(), dtype=np.float32)
    return np.array(packed.reshape(-1, frame.layout.nb_channels).T)
