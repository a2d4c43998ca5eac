"""A long sound kept in a temporary file instead of in memory."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import OutputError
from syncview.output_file import os_faults_named

if TYPE_CHECKING:
    from collections.abc import Iterator
    from io import FileIO

    from numpy.typing import NDArray

BLOCK_SAMPLES = 1 << 16
"""Samples of each channel that are in memory at a time."""
_SAMPLE_BYTES = 4


class SoundStore:
    """`length` samples of 32-bit float in each channel, silent until written; see `sound_store`.

    Plain reads and writes, not a memory map: on a full disk a map ends the program, a write says so.
    """

    def __init__(self, file: FileIO, folder: Path, *, length: int, channels: int) -> None:
        self.length = length
        self.channels = channels
        self._file = file
        self._folder = folder
        self._file.truncate(length * channels * _SAMPLE_BYTES)

    def read(self, begin: int, end: int) -> NDArray[np.float32]:
        """Samples begin..end of all channels, shape (channels, end - begin)."""
        if not 0 <= begin <= end <= self.length:
            raise ValueError(f"samples {begin} to {end} of {self.length}")
        packed = np.empty((end - begin, self.channels), dtype=np.float32)
        self._file.seek(begin * self.channels * _SAMPLE_BYTES)
        got = self._file.readinto(packed.data.cast("B")) if packed.size else 0
        if got != packed.nbytes:
            raise OutputError(
                "the temporary sound was cut short", "Free space there and try again.", where=self._folder
            )
        return np.ascontiguousarray(packed.T)

    def write(self, begin: int, block: NDArray[np.float32]) -> None:
        """Put samples, shape (channels, n), in place of those from `begin` on."""
        if begin < 0 or begin + block.shape[1] > self.length or block.shape[0] != self.channels:
            raise ValueError(f"{block.shape} samples from {begin} on do not fit ({self.channels}, {self.length})")
        data = memoryview(np.ascontiguousarray(block.T, dtype=np.float32).tobytes())
        with os_faults_named(self._folder):
            self._file.seek(begin * self.channels * _SAMPLE_BYTES)
            while data:
                data = data[self._file.write(data) :]

    def add(self, begin: int, block: NDArray[np.float32]) -> None:
        """Mix samples, shape (channels, n), to those from `begin` on."""
        self.write(begin, self.read(begin, begin + block.shape[1]) + block)

    def spans(self, begin: int = 0, end: int | None = None) -> Iterator[tuple[int, int]]:
        """Borders of the blocks to work through, in order."""
        last = self.length if end is None else end
        for start in range(begin, last, BLOCK_SAMPLES):
            yield start, min(start + BLOCK_SAMPLES, last)


@contextmanager
def sound_store(folder: Path | None, *, length: int, channels: int) -> Iterator[SoundStore]:
    """A store in a file of its own in `folder` (None: the system's folder for temporary files), gone afterwards.

    Raises OutputError when the folder cannot be written to or its disk has too little space.
    """
    home = Path(tempfile.gettempdir()) if folder is None else folder
    with os_faults_named(home):
        need, free = length * channels * _SAMPLE_BYTES, shutil.disk_usage(home).free
        if need > free:
            raise OutputError(
                f"the lesson's sound needs {need / 1e6:.0f} MB there for a while, and {free / 1e6:.0f} MB are free",
                "Free space on that disk, "
                + ("or let TMPDIR name a folder on another one." if folder is None else "or write to another one."),
                where=home,
            )
        opened = tempfile.TemporaryFile(dir=home, prefix="sound-", buffering=0)  # noqa: SIM115
    with opened as file:
        yield SoundStore(file, home, length=length, channels=channels)
