"""Blocks of sound as a microphone gives them: one channel of 16 bit, its level, and a piece of a file to replay."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.media.voice_file import VoicePiece

SampleFormat = Literal["u1", "i2", "i4", "f4"]
"""As devices give them: unsigned bytes, signed integers, floats with full scale 1; in the machine's byte order."""

FULL_SCALE = 32_768.0
FLOOR_DB = -60.0
"""What is softer is shown as nothing."""
CLIPPED_AT = 32_766
"""A sample at or above this is at full scale: the true sound may have been louder."""


@dataclass(frozen=True, slots=True)
class Level:
    """How loud a block is; full scale is 0 dB."""

    rms_db: float
    peak_db: float
    clipped: bool


def one_channel(data: bytes, kind: SampleFormat, channels: int) -> NDArray[np.int16]:
    """Interleaved samples as the mean of their channels, shape (n,); an incomplete last sample is left out."""
    size = np.dtype(kind).itemsize * channels
    samples = np.frombuffer(data[: len(data) // size * size], dtype=kind)
    if kind == "i2" and channels == 1:
        return samples.astype(np.int16)
    mono = _full_scale_1(samples, kind).reshape(-1, channels).mean(axis=1)
    return _as_int16(mono)


def _as_int16(values: NDArray[np.float64]) -> NDArray[np.int16]:
    scaled: NDArray[np.int16] = np.rint(np.clip(values * FULL_SCALE, -FULL_SCALE, FULL_SCALE - 1)).astype(np.int16)
    return scaled


def _full_scale_1(samples: NDArray[np.generic], kind: SampleFormat) -> NDArray[np.float64]:
    values = samples.astype(np.float64)
    if kind == "u1":
        return (values - 128) / 128
    return values / {"i2": FULL_SCALE, "i4": 2.0**31, "f4": 1.0}[kind]


def level_of(samples: NDArray[np.int16]) -> Level:
    """The level of a block, shape (n,); silence is minus infinity."""
    if not samples.size:
        return Level(-math.inf, -math.inf, clipped=False)
    values = samples.astype(np.float64) / FULL_SCALE
    peak = float(np.abs(values).max())
    clipped = bool((np.abs(samples.astype(np.int32)) >= CLIPPED_AT).any())
    return Level(_db(float(np.sqrt(np.mean(values**2)))), _db(peak), clipped)


def _db(amplitude: float) -> float:
    return 20 * math.log10(amplitude) if amplitude > 0 else -math.inf


def shown_share(level_db: float) -> float:
    """How far a level fills its meter: 0 at `FLOOR_DB` and below, 1 at full scale."""
    return min(max(1 - level_db / FLOOR_DB, 0.0), 1.0)


def samples_of(piece: VoicePiece, progress: Progress = silent) -> NDArray[np.int16]:
    """What is heard of a piece, 48 kHz, shape (n,). Raises `MediaError`."""
    from syncview.media.voice_decoding import VOICE_RATE_HZ, VoiceDecoder

    begin, end = (round(at * VOICE_RATE_HZ) for at in (piece.begin_s, piece.end_s))
    kept, done = [], 0
    for block in VoiceDecoder(piece.voice.path, piece.voice.channel).blocks(progress):
        kept.append(block[max(0, begin - done) : max(0, end - done)])
        done += block.size
        if done >= end:
            break
    heard = np.concatenate(kept) if kept else np.zeros(0, dtype=np.float32)
    return _as_int16(heard.astype(np.float64))
