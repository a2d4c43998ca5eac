"""Decodes voice recordings: any container with sound, as one channel at 48 kHz."""

from __future__ import annotations

from contextlib import contextmanager
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


class VoiceDecoder:
    """Decodes a file's best sound from its start: one channel, or the mean of all of them."""

    def __init__(self, path: Path, channel: int | None = None) -> None:
        self.damaged = 0
        """Packets that could not be decoded, counted while the blocks are read."""
        self._path = path
        self._channel = channel

    def blocks(self, progress: Progress) -> Iterator[NDArray[np.float32]]:
        """Blocks of shape (n,) at 48 kHz, full scale 1.

        Raises MediaError when the file is missing, cannot be read, has no sound or lasts more than three hours.
        """
        with _opened(self._path) as container:
            whole_s = self._stated_length_s(container)
            resampler: av.AudioResampler | None = None
            done = 0
            for frame in self._frames(container):
                resampler = resampler or av.AudioResampler(format="fltp", rate=VOICE_RATE_HZ)
                for made in resampler.resample(frame):
                    yield self._one_channel(made)
                    done += made.samples
                self._refuse_too_long(done / VOICE_RATE_HZ)
                progress(min(done / VOICE_RATE_HZ / whole_s, 1.0) if whole_s else 0.0, "reading the voice")
            for made in resampler.resample(None) if resampler is not None else ():
                yield self._one_channel(made)

    def _frames(self, container: InputContainer) -> Iterator[AudioFrame]:
        stream = container.streams.best("audio")
        if not isinstance(stream, av.AudioStream) or stream.codec_context is None:
            raise MediaError("there is no sound in it", "Give a file with a voice in it.", where=self._path)
        for packet in container.demux(stream):
            try:
                yield from packet.decode()
            except av.FFmpegError:
                self.damaged += 1

    def _stated_length_s(self, container: InputContainer) -> float | None:
        if container.duration is None:
            return None
        stated_s = container.duration / 1_000_000
        self._refuse_too_long(stated_s)
        return stated_s

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
