"""The lesson's sound: the engine stretched with the picture, voices over it, brought to a loudness."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from syncview.lesson.ducking import USUAL_DUCKING, DuckGain, Ducking
from syncview.lesson.engine_sound import SoundPart, heard_spans, lay_engine, part_borders
from syncview.lesson.levelling import Levelled, level
from syncview.lesson.voice_store import lay_voices
from syncview.media.film_sound_stream import SoundShape
from syncview.media.loudness import BROADCAST, Loudness, LoudnessMeter, LoudnessTarget
from syncview.media.sound_store import SoundStore, sound_store
from syncview.media.voice_file import VoicePiece
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from syncview.media.recording import Recording

MIX_RATE_HZ = 48_000
MIX_CHANNELS = 2
"""Always two: one channel would be measured 3 LU softer than it is heard from two loudspeakers."""
SPEECH_LUFS = -23.0
"""Each voice file is brought here before it is mixed, however loud it was recorded."""
LEAST_LUFS = -60.0
"""A sound softer than this is left as it is: raising it would raise nothing but noise (common practice)."""


@dataclass(frozen=True, slots=True)
class PlacedVoice:
    """What is heard of a voice file, and when."""

    begin_lesson_s: Fraction
    piece: VoicePiece
    what: str = ""
    """How messages call it, such as "the note at corner 3"; its file's name when empty."""

    @property
    def end_lesson_s(self) -> Fraction:
        """When it has been heard, if the lesson lasts that long."""
        return self.begin_lesson_s + self.piece.length_s

    def __str__(self) -> str:
        return self.what or self.piece.voice.path.name


@dataclass(frozen=True, slots=True)
class MixOptions:
    """How engine and voices stand to each other."""

    target: LoudnessTarget = BROADCAST
    ducking: Ducking = USUAL_DUCKING
    engine_lu: float = 0.0
    """The engine's loudness above that of the voices where nobody speaks."""


_USUAL = MixOptions()


class LessonSound:
    """A finished mix; it can be read while its `lesson_sound` block lasts, as often as wanted."""

    def __init__(self, levelled: Levelled | None, length: int, notes: Sequence[str]) -> None:
        self._levelled = levelled
        self.length_samples = length
        """Samples of each channel: the sum of all parts, exactly."""
        self.notes = tuple(notes)
        """What a person should know, each a sentence."""

    @property
    def shape(self) -> SoundShape | None:
        """None when the lesson has neither engine nor voice."""
        return None if self._levelled is None else SoundShape(rate_hz=MIX_RATE_HZ, channels=MIX_CHANNELS)

    @property
    def loudness(self) -> Loudness | None:
        """Measured on what `blocks` gives; None where there is no sound."""
        return None if self._levelled is None else self._levelled.loudness

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """The mix from the lesson's beginning to its end, blocks of shape (2, n), full scale 1."""
        if self._levelled is not None:
            yield from self._levelled.blocks()


@contextmanager
def lesson_sound(
    recording: Recording | None,
    parts: Sequence[SoundPart],
    voices: Sequence[PlacedVoice] = (),
    *,
    options: MixOptions = _USUAL,
    temp_folder: Path | None = None,
    progress: Progress = silent,
) -> Iterator[LessonSound]:
    """Mix the sound of a lesson that consists of `parts` in order; `recording` None: no engine.

    Memory stays small for lessons of hours: the mix is kept in a temporary file (384 kB a second, in `temp_folder` or
    the system's), which is gone when the block ends, however it ends. Raises ValueError without parts or for a voice
    before the lesson; MediaError when recording or a voice file cannot be read; OutputError when the temporary file
    cannot be written; Cancelled when `progress` says so.
    """
    _refuse_bad_order(parts, voices)
    length = part_borders(parts, rate_hz=MIX_RATE_HZ)[-1]
    has_engine = recording is not None and recording.audio is not None
    notes = [*_about_engine(recording, parts), *_about_voices(voices, Fraction(length, MIX_RATE_HZ))]
    if not has_engine and not voices:
        yield LessonSound(None, length, notes)
        return
    with ExitStack() as stack:
        store = stack.enter_context(sound_store(temp_folder, length=length, channels=MIX_CHANNELS))
        if recording is not None and has_engine:
            spans = heard_spans(parts, rate_hz=MIX_RATE_HZ)
            lay_engine(recording, spans, store, rate_hz=MIX_RATE_HZ, progress=part_of(progress, 0, 0.5))
            _balance_engine(store, voices, options, part_of(progress, 0.5, 0.6), notes)
        lay_voices(
            store,
            voices,
            loudness_lufs=SPEECH_LUFS,
            least_lufs=LEAST_LUFS,
            temp_folder=temp_folder,
            progress=part_of(progress, 0.6, 0.75),
        )
        levelled = level(store, options.target, least_lufs=LEAST_LUFS, progress=part_of(progress, 0.75, 1))
        yield LessonSound(levelled, length, [*notes, *levelled.notes])


def _refuse_bad_order(parts: Sequence[SoundPart], voices: Sequence[PlacedVoice]) -> None:
    if not parts:
        raise ValueError("a lesson's sound needs parts")
    for voice in voices:
        if voice.begin_lesson_s < 0:
            raise ValueError(f"{voice} begins before the lesson")


def _balance_engine(
    store: SoundStore, voices: Sequence[PlacedVoice], options: MixOptions, progress: Progress, notes: list[str]
) -> None:
    """Bring the engine to its loudness beside the voices, and out of their way."""
    meter = LoudnessMeter(rate_hz=MIX_RATE_HZ, channels=MIX_CHANNELS, with_peak=False)
    for begin, end in store.spans():
        meter.add(store.read(begin, end))
        progress(end / store.length / 2, "measuring the engine's sound")
    measured = meter.result().integrated_lufs
    if measured is None or measured < LEAST_LUFS:
        notes.append("The recording's sound is all but silent and was not raised.")
        return
    if not voices:
        return
    factor = np.float32(10 ** ((SPEECH_LUFS + options.engine_lu - measured) / 20))
    duck = DuckGain([(float(v.begin_lesson_s), float(v.end_lesson_s)) for v in voices], options.ducking)
    for begin, end in store.spans():
        store.write(begin, store.read(begin, end) * (factor * duck.gain(begin, end, rate_hz=MIX_RATE_HZ)))
        progress(0.5 + end / store.length / 2, "lowering the engine under the voices")


def _about_engine(recording: Recording | None, parts: Sequence[SoundPart]) -> list[str]:
    if recording is None:
        return []
    if recording.audio is None:
        return ["The recording has no sound, so no engine is heard."]
    notes = []
    if recording.audio.channels == 6:
        notes.append("The recording's six channels were mixed into two.")
    elif recording.audio.channels > 2:
        notes.append(f"The recording's {recording.audio.channels} channels were mixed into one.")
    mute = [part for part in parts if part.tempo and not part.is_heard]
    if mute:
        notes.append(f"{len(mute)} parts play slower than 1/32 or faster than 32 times and are silent.")
    return notes


def _about_voices(voices: Sequence[PlacedVoice], length_s: Fraction) -> list[str]:
    notes = []
    for voice in voices:
        late_s = float(voice.end_lesson_s - length_s)
        if voice.begin_lesson_s >= length_s:
            notes.append(f"{voice} begins when the lesson is over and is not heard.")
        elif late_s > 0:
            notes.append(f"{voice} is not over when the lesson ends: its last {late_s:.1f} s are cut off.")
    for first, second in pairwise(sorted(voices, key=lambda voice: voice.begin_lesson_s)):
        both_s = float(min(first.end_lesson_s, second.end_lesson_s) - second.begin_lesson_s)
        if both_s > 0:
            notes.append(f"{first} and {second} speak at the same time for {both_s:.1f} s.")
    return notes
