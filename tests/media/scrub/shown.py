"""Collects what a scrub source hands over, and reads bar codes from it."""

from __future__ import annotations

import queue
import time
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from syncview.errors import SyncviewError
from syncview.media.recording import Recording
from syncview.media.scrub.pictures import ScrubPicture
from syncview.media.scrub.scrub_source import ScrubSource
from tests.media_samples import BARS

WAIT_S = 60.0
"""A shared machine may be very slow."""


def read_bars(rgb: NDArray[np.uint8]) -> int:
    """The number that `bar_code` drew, from an upright picture."""
    rows, columns, _ = rgb.shape
    strip = rgb[rows // 8 : rows // 3].mean(axis=2)
    bar_px = columns / BARS
    values = [strip[:, round((bit + 0.3) * bar_px) : round((bit + 0.7) * bar_px)].mean() for bit in range(BARS)]
    return sum(int(value > 125) << bit for bit, value in enumerate(values))


class Shown:
    """A source and everything it handed over."""

    def __init__(
        self,
        recording: Recording,
        *,
        folder: Path | None = None,
        memory_bytes: int = 1 << 26,
        proxy_bytes: int = 1 << 30,
    ) -> None:
        self.recording = recording
        self.faults: queue.Queue[SyncviewError] = queue.Queue()
        self.pictures: queue.Queue[ScrubPicture] = queue.Queue()
        self.source = ScrubSource(
            recording,
            on_picture=self.pictures.put,
            on_fault=self.faults.put,
            memory_bytes=memory_bytes,
            proxy_folder=folder,
            proxy_bytes=proxy_bytes,
        )

    def ask(self, number: int, *, direction: int = 0, full: bool = False) -> int:
        return self.source.ask(self.recording.frames.media_s(number), direction=direction, full=full)

    def answers(self, number: int, *, direction: int = 0) -> list[ScrubPicture]:
        """Ask for a frame and wait for the exact picture; all that came for it."""
        asked = self.ask(number, direction=direction)
        return self.until_exact(asked)

    def until_exact(self, asked: int) -> list[ScrubPicture]:
        came: list[ScrubPicture] = []
        while not (came and came[-1].is_exact):
            picture = self.pictures.get(timeout=WAIT_S)
            if picture.asked == asked:
                came.append(picture)
        return came

    def wait_for_proxies(self, share: float = 1.0) -> None:
        end = time.monotonic() + WAIT_S
        while self.source.proxy_share < share:
            assert time.monotonic() < end, "the small pictures do not come"
            time.sleep(0.02)


@contextmanager
def shown(
    recording: Recording, *, folder: Path | None = None, memory_bytes: int = 1 << 26, proxy_bytes: int = 1 << 30
) -> Iterator[Shown]:
    own = Shown(recording, folder=folder, memory_bytes=memory_bytes, proxy_bytes=proxy_bytes)
    try:
        yield own
    finally:
        own.source.close()


def as_time(seconds: float) -> Fraction:
    return Fraction(seconds).limit_denominator(10**6)
