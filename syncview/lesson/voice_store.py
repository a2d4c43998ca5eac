"""Voices laid into a lesson's sound at their times, each brought to one loudness."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np

from syncview.errors import MediaError
from syncview.media.sound_store import SoundStore, sound_store
from syncview.media.voice_decoding import VOICE_RATE_HZ, VoiceDecoder
from syncview.media.voice_file import VoiceFile, VoicePiece
from syncview.progress import Progress, part_of

if TYPE_CHECKING:
    from fractions import Fraction

    from numpy.typing import NDArray

_EDGE_S = 0.010
"""A voice that is cut out of a longer recording rises and falls for this long, so that no edge clicks."""
_TWO_CHANNELS_LU = 10 * float(np.log10(2))
"""One channel's sound in both of two counts twice in BS.1770's sum."""


class Placed(Protocol):
    """A piece of a voice with its time in the lesson."""

    @property
    def begin_lesson_s(self) -> Fraction: ...  # noqa: D102
    @property
    def piece(self) -> VoicePiece: ...  # noqa: D102


def lay_voices(
    store: SoundStore,
    voices: Sequence[Placed],
    *,
    loudness_lufs: float,
    least_lufs: float,
    temp_folder: Path | None,
    progress: Progress,
) -> None:
    """Add all voices to the store (48 kHz), decoding each file once; what lies beyond the store's end is cut off.

    Files softer than `least_lufs`, or too short to be measured, keep their level.
    """
    files = {(voice.piece.voice.path, voice.piece.voice.channel): voice.piece.voice for voice in voices}
    for number, (key, file) in enumerate(files.items()):
        step = part_of(progress, number / len(files), (number + 1) / len(files))
        factor = _factor(file, loudness_lufs, least_lufs)
        length = int(file.length_s * VOICE_RATE_HZ)
        with sound_store(temp_folder, length=length, channels=1) as decoded:
            _decode(file, decoded, step)
            for voice in voices:
                if (voice.piece.voice.path, voice.piece.voice.channel) == key:
                    _lay(store, decoded, voice, factor)


def _factor(file: VoiceFile, loudness_lufs: float, least_lufs: float) -> float:
    if file.loudness_lufs is None or file.loudness_lufs < least_lufs:
        return 1.0
    return float(10 ** ((loudness_lufs - file.loudness_lufs - _TWO_CHANNELS_LU) / 20))


def _decode(file: VoiceFile, decoded: SoundStore, progress: Progress) -> None:
    place = 0
    for block in VoiceDecoder(file.path, file.channel).blocks(progress):
        if place + block.size <= decoded.length:
            decoded.write(place, block[np.newaxis])
        place += block.size
    if place != decoded.length:
        raise MediaError("it has changed while it was read", "Attach it again.", where=file.path)


def _lay(store: SoundStore, decoded: SoundStore, voice: Placed, factor: float) -> None:
    first = round(voice.begin_lesson_s * VOICE_RATE_HZ)
    begin, end = round(voice.piece.begin_s * VOICE_RATE_HZ), round(voice.piece.end_s * VOICE_RATE_HZ)
    end = min(end, begin + store.length - first)
    for start, stop in decoded.spans(begin, max(begin, end)):
        mono = decoded.read(start, stop) * (factor * _edges(start, stop, begin, end))
        store.add(first + start - begin, np.repeat(mono, store.channels, axis=0))


def _edges(start: int, stop: int, begin: int, end: int) -> NDArray[np.float32]:
    """Gain of the samples start..stop of a piece begin..end."""
    ramp = min(round(_EDGE_S * VOICE_RATE_HZ), max(1, (end - begin) // 2))
    places = np.arange(start, stop) + 0.5
    return np.asarray(np.clip(np.minimum(places - begin, end - places) / ramp, 0, 1), dtype=np.float32)
