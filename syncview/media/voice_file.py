"""Voice recordings: what a file holds, where in it somebody speaks, and its samples."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError
from syncview.media.loudness import LoudnessMeter
from syncview.media.voice_decoding import VOICE_RATE_HZ, VoiceDecoder
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

STEP_S = Fraction(1, 100)
"""Levels are told for steps of this length."""
_STEP = int(STEP_S * VOICE_RATE_HZ)
_SILENT_DB = -60.0
"""A file whose louder parts stay below this (RMS, full scale 0) holds no voice (common practice)."""
_FLOOR_DB = -120.0
_STATED_SPARE_S = 0.5
"""A film's picture may end a little later than its sound."""
_BELOW_LOUD_DB = 35.0
"""What lies this far below the louder parts is no speech, so that soft consonants are kept (common practice)."""
_ABOVE_NOISE_DB = 8.0
_LEAST_BELOW_LOUD_DB = 15.9
"""In a noisy room speech is at least what lies within the margin of ITU-T P.56 (method B) below the active level."""
_HEAD_S, _TAIL_S = Fraction(5, 100), Fraction(15, 100)
"""Kept before and after the speech, for breath and reverberation."""


@dataclass(frozen=True, eq=False, slots=True)
class VoiceFile:
    """A sound file in which somebody speaks; its time 0 is its first sample."""

    path: Path
    length_s: Fraction
    """Decoded, not what the file's header claims."""
    speech_begin_s: Fraction
    """Where the speech begins and ends with a little room: what lies outside is silence."""
    speech_end_s: Fraction
    loudness_lufs: float | None
    """Integrated, as one channel (BS.1770); None for less than 400 ms."""
    levels_db: NDArray[np.float32]
    """RMS of each 10 ms, shape (n,), full scale 0 dB."""
    speech_above_db: float
    """Steps louder than this count as speech."""
    channel: int | None = None
    """None: the mean of all channels. A number: only this one, because the channels cancel each other."""
    notes: tuple[str, ...] = ()
    """What a person should know about this file, each a sentence."""

    @property
    def head_s(self) -> Fraction:
        """Silence before the speech."""
        return self.speech_begin_s

    @property
    def tail_s(self) -> Fraction:
        """Silence after the speech."""
        return self.length_s - self.speech_end_s

    def piece(self, begin_s: Fraction | None = None, end_s: Fraction | None = None, *, trim: bool = True) -> VoicePiece:
        """The part from `begin_s` to `end_s` (None: the file's ends), without the silence around its speech.

        Raises MediaError when nobody speaks in it, ValueError when it lies outside the file.
        """
        begin = Fraction(0) if begin_s is None else begin_s
        end = self.length_s if end_s is None else end_s
        if not 0 <= begin < end <= self.length_s:
            raise ValueError(f"{float(begin):.3f} to {float(end):.3f} s of {float(self.length_s):.3f} s")
        spoken = speech_span(self.levels_db, self.speech_above_db, begin_s=begin, end_s=end)
        if spoken is None:
            raise MediaError(
                f"nobody speaks from {float(begin):.2f} to {float(end):.2f} s", "Cut it elsewhere.", where=self.path
            )
        return VoicePiece(self, *spoken) if trim else VoicePiece(self, begin, end)


@dataclass(frozen=True, slots=True)
class VoicePiece:
    """What is heard of a voice file."""

    voice: VoiceFile
    begin_s: Fraction
    """On the file's clock."""
    end_s: Fraction

    @property
    def length_s(self) -> Fraction:
        """How long it is heard."""
        return self.end_s - self.begin_s


def open_voice(path: Path, *, progress: Progress = silent) -> VoiceFile:
    """Decode the whole file once and measure it; any container with sound will do, a film's too.

    Raises MediaError when the file is missing, cannot be read, has no sound, is silent, or lasts more than three
    hours; Cancelled when `progress` says so.
    """
    channel, measured = None, _measure(path, None, progress)
    if measured.loud_db < _SILENT_DB:
        # Two channels in opposite phase cancel in their mean: a wrongly wired microphone.
        alone = _measure(path, 0, progress)
        if alone.loud_db < _SILENT_DB:
            raise MediaError("it is silent", "Record it again, with the microphone on.", where=path)
        channel, measured = 0, alone
    above_db = _speech_level(measured.levels_db, measured.loud_db)
    length_s = Fraction(measured.samples, VOICE_RATE_HZ)
    spoken = speech_span(measured.levels_db, above_db, begin_s=Fraction(0), end_s=length_s)
    begin_s, end_s = (Fraction(0), length_s) if spoken is None else spoken
    return VoiceFile(
        path=path,
        length_s=length_s,
        speech_begin_s=begin_s,
        speech_end_s=end_s,
        loudness_lufs=measured.loudness_lufs,
        levels_db=measured.levels_db,
        speech_above_db=above_db,
        channel=channel,
        notes=_notes(measured, channel),
    )


def speech_span(
    levels_db: NDArray[np.float32], above_db: float, *, begin_s: Fraction, end_s: Fraction
) -> tuple[Fraction, Fraction] | None:
    """Where speech begins and ends between two times, with room around it but not beyond them; None for silence."""
    first, last = int(begin_s / STEP_S), int(np.ceil(float(end_s / STEP_S)))
    loud = np.flatnonzero(levels_db[first:last] > above_db)
    if loud.size == 0:
        return None
    spoken_begin = (first + int(loud[0])) * STEP_S - _HEAD_S
    spoken_end = (first + int(loud[-1]) + 1) * STEP_S + _TAIL_S
    return max(begin_s, spoken_begin), min(end_s, spoken_end)


@dataclass(frozen=True, eq=False, slots=True)
class _Measured:
    samples: int
    levels_db: NDArray[np.float32]
    loud_db: float
    loudness_lufs: float | None
    clipped: int
    missing_s: float
    stated_s: float | None


def _measure(path: Path, channel: int | None, progress: Progress) -> _Measured:
    decoded = VoiceDecoder(path, channel)
    meter = LoudnessMeter(rate_hz=VOICE_RATE_HZ, channels=1, with_peak=False)
    levels: list[NDArray[np.float32]] = []
    rest = np.zeros(0, dtype=np.float32)
    samples = clipped = 0
    for block in decoded.blocks(progress):
        samples += block.size
        clipped += int(np.count_nonzero(np.abs(block) >= 0.999))
        meter.add(block[np.newaxis])
        joined = np.concatenate([rest, block])
        whole = joined.size - joined.size % _STEP
        levels.append(_levels(joined[:whole]))
        rest = joined[whole:]
    if not samples:
        raise MediaError("there is no sound in it", "Give a file with a voice in it.", where=path)
    if rest.size:
        levels.append(_levels(np.pad(rest, (0, _STEP - rest.size))))
    all_levels = np.concatenate(levels)
    loud_db = float(np.percentile(all_levels, 95)) if all_levels.size >= 20 else float(all_levels.max())
    # A minute of silence around one word must not hide the word.
    loud_db = max(loud_db, float(all_levels.max()) - 20)
    lufs = meter.result().integrated_lufs
    return _Measured(samples, all_levels, loud_db, lufs, clipped, decoded.missing_s, decoded.stated_s)


def _levels(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    power = np.mean(np.square(samples.reshape(-1, _STEP), dtype=np.float64), axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 10 ** (_FLOOR_DB / 10))), dtype=np.float32)


def _speech_level(levels_db: NDArray[np.float32], loud_db: float) -> float:
    noise_db = float(np.percentile(levels_db, 5))
    return max(loud_db - _BELOW_LOUD_DB, min(noise_db + _ABOVE_NOISE_DB, loud_db - _LEAST_BELOW_LOUD_DB))


def _notes(measured: _Measured, channel: int | None) -> tuple[str, ...]:
    notes = []
    if channel is not None:
        notes.append("Its channels cancel each other, so only the first is used.")
    if measured.missing_s > 0:
        notes.append(f"{measured.missing_s:.2f} s of it are missing or damaged and are heard as silence.")
    length_s = measured.samples / VOICE_RATE_HZ
    if measured.stated_s is not None and measured.stated_s - length_s > _STATED_SPARE_S:
        notes.append(f"It says that it lasts {measured.stated_s:.1f} s but its sound ends at {length_s:.1f} s.")
    if measured.clipped > VOICE_RATE_HZ // 1000:
        notes.append(f"{measured.clipped / VOICE_RATE_HZ * 1000:.0f} ms of it are at full scale: it may be distorted.")
    return tuple(notes)
