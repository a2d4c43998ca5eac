"""The sound of a film: blocks of samples in, AAC out."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

if TYPE_CHECKING:
    from av.container import OutputContainer
    from numpy.typing import NDArray

_AAC_RATES_HZ = (96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350)
"""ISO/IEC 14496-3, table of sampling frequencies."""


@dataclass(frozen=True, slots=True)
class SoundShape:
    """What the sound blocks of a film have in common."""

    rate_hz: int
    channels: int


class SoundStream:
    """Encodes the sound into its stream of a container that is not started yet."""

    def __init__(self, container: OutputContainer, shape: SoundShape, *, bit_rate: int) -> None:
        layout = {1: "mono", 2: "stereo"}.get(shape.channels)
        if layout is None:
            raise ValueError(f"{shape.channels} channels: mix down to one or two first")
        # PyAV resamples on the way into the encoder where the recording's rate is none of AAC's.
        rate_hz = shape.rate_hz if shape.rate_hz in _AAC_RATES_HZ else 48_000
        self._container = container
        self._shape = shape
        self._stream = container.add_stream("aac", rate=rate_hz)
        self._stream.codec_context.layout = layout
        self._stream.codec_context.bit_rate = bit_rate
        self._samples = 0

    @property
    def written_s(self) -> Fraction:
        """Film time up to which sound was given."""
        return Fraction(self._samples, self._shape.rate_hz)

    def write(self, block: NDArray[np.float32]) -> None:
        """Append samples, shape (channels, n), full scale 1; the first sample of all sounds at time 0."""
        frame = av.AudioFrame.from_ndarray(
            np.ascontiguousarray(block, dtype=np.float32), format="fltp", layout=self._stream.layout.name
        )
        frame.sample_rate = self._shape.rate_hz
        frame.time_base = Fraction(1, self._shape.rate_hz)
        frame.pts = self._samples
        self._samples += block.shape[1]
        self._container.mux(self._stream.encode(frame))

    def finish(self) -> None:
        """Write what the encoder still holds."""
        self._container.mux(self._stream.encode(None))
