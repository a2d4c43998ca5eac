"""Decodes voice recordings: any container with sound, as one channel at 48 kHz."""

from __future__ import annotations

import math
from contextlib import contextmanager
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.errors import MediaError, describe_os_error

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from av.audio.frame import AudioFrame
    from av.container import InputContainer
    from numpy.typing import NDArray

    from syncview.progress import Progress

VOICE_RATE_HZ = 48_000
LONGEST_S = 3 * 3600
"""A file that lasts longer is no voice for a lesson but a wrong file."""
_JITTER_S = 0.01
"""Stamps may stray this far from a gapless stream before a gap is filled."""


class VoiceDecoder:
    """Decodes a file's best sound from its start: one channel, or the mean of all of them."""

    def __init__(self, path: Path, channel: int | None = None) -> None:
        self.missing_s = 0.0
        """What could not be decoded and is heard as silence; counted while the blocks are read."""
        self.stated_s: float | None = None
        """How long the file says that it is."""
        self._path = path
        self._channel = channel

    def blocks(self, progress: Progress) -> Iterator[NDArray[np.float32]]:
        """Blocks of shape (n,) at 48 kHz, full scale 1.

        Raises MediaError when the file is missing, cannot be read, has no sound or lasts more than three hours.
        """
        with _opened(self._path) as container:
            if container.duration is not None:
                self.stated_s = container.duration / 1_000_000
                self._refuse_too_long(self.stated_s)
            resampler: av.AudioResampler | None = None
            done = 0
            for frame, gap_s in self._frames(container):
                resampler = resampler or av.AudioResampler(format="fltp", rate=VOICE_RATE_HZ)
                self._refuse_too_long(done / VOICE_RATE_HZ + gap_s)
                made = [*_silence(gap_s), *(self._one_channel(part) for part in resampler.resample(frame))]
                yield from made
                done += sum(block.size for block in made)
                progress(min(done / VOICE_RATE_HZ / (self.stated_s or math.inf), 1.0), "reading the voice")
            for part in resampler.resample(None) if resampler is not None else ():
                yield self._one_channel(part)

    def _frames(self, container: InputContainer) -> Iterator[tuple[AudioFrame, float]]:
        """Decoded frames, each with the length of the gap before it."""
        stream = container.streams.best("audio")
        if not isinstance(stream, av.AudioStream):
            raise MediaError("there is no sound in it", "Give a file with a voice in it.", where=self._path)
        if stream.codec_context is None:
            raise MediaError(
                "it is coded in a way that cannot be read here", "Convert it to WAV, FLAC or M4A.", where=self._path
            )
        expected_s: Fraction | None = None
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.FFmpegError:
                continue  # heard as a gap
            for frame in frames:
                gap_s = 0.0
                if frame.pts is not None and frame.time_base is not None:
                    begin_s = frame.pts * frame.time_base
                    gap_s = 0.0 if expected_s is None else float(begin_s - expected_s)
                    gap_s = gap_s if gap_s > _JITTER_S else 0.0
                    # From the stamp only after a gap: millisecond stamps would let rounding pass for gaps.
                    expected_s = begin_s if gap_s or expected_s is None else expected_s
                if expected_s is not None:
                    expected_s += Fraction(frame.samples, frame.sample_rate)
                self.missing_s += gap_s
                yield frame, gap_s

    def _refuse_too_long(self, length_s: float) -> None:
        if length_s > LONGEST_S:
            raise MediaError(
                f"it lasts more than {LONGEST_S // 3600} hours",
                "Give the voice for this lesson only.",
                where=self._path,
            )

    def _one_channel(self, frame: AudioFrame) -> NDArray[np.float32]:
        samples = np.asarray(frame.to_ndarray(), dtype=np.float32)
        if self._channel is None:
            return np.asarray(samples.mean(axis=0), dtype=np.float32)
        return np.array(samples[self._channel])


def _silence(length_s: float) -> Iterator[NDArray[np.float32]]:
    left = round(length_s * VOICE_RATE_HZ)
    while left > 0:
        count = min(left, VOICE_RATE_HZ)
        yield np.zeros(count, dtype=np.float32)
        left -= count


@contextmanager
def _opened(path: Path) -> Iterator[InputContainer]:
    if path.is_dir():
        raise MediaError("this is a folder", "Give the sound file inside it.", where=path)
    try:
        with av.open(str(path), mode="r", metadata_errors="replace") as container:
            yield container
    except FileNotFoundError as error:
        raise MediaError("there is no such file", "Check the name and the folder.", where=path) from error
    except PermissionError as error:
        raise MediaError(describe_os_error(error), "Check that the file may be read.", where=path) from error
    except av.FFmpegError as error:
        raise MediaError(
            "this is not a sound file that can be read", "Give a WAV, FLAC, MP3, M4A or Opus file.", where=path
        ) from error
