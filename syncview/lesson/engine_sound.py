"""The recording's sound laid along the lesson: stretched with the picture, silent in holds, without clicks or drift."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from syncview.errors import MediaError
from syncview.media.sound import read_sound
from syncview.media.tempo import FASTEST_TEMPO, LEAD_S, POST_ROLL_S, PRE_ROLL_S, SLOWEST_TEMPO, stretched

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from syncview.media.recording import AudioTrack, Recording
    from syncview.media.sound_store import SoundStore
    from syncview.progress import Progress

HALF_JOIN_S = Fraction(5, 1000)
"""Two parts that both move are cross-faded from this long before their border to this long after it."""
HOLD_FADE_S = Fraction(80, 1000)
"""The engine runs on for this long into a hold while it fades, and comes back in its last 80 ms."""
_NO_FADE = 1e-9
"""Stands for a fade of no samples: all of it is over at once."""
_HALF = float(np.sqrt(0.5))


@dataclass(frozen=True, slots=True)
class SoundPart:
    """A stretch of the recording's sound and how long it is heard; begin == end for a hold or a card."""

    begin_media_s: Fraction
    end_media_s: Fraction
    lesson_s: Fraction
    """Time in the lesson; more than 0."""

    def __post_init__(self) -> None:
        if self.lesson_s <= 0 or self.end_media_s < self.begin_media_s:
            raise ValueError(f"a part must last and run forward: {self}")

    @property
    def tempo(self) -> Fraction:
        """Media seconds per lesson second; 0 in a hold."""
        return (self.end_media_s - self.begin_media_s) / self.lesson_s

    @property
    def is_heard(self) -> bool:
        """False for holds, and for tempos at which a stretched engine is only flutter."""
        return SLOWEST_TEMPO <= self.tempo <= FASTEST_TEMPO


@dataclass(frozen=True, slots=True)
class HeardSpan:
    """Where one part sounds, in the lesson's samples: rising from `begin` to `full`, falling from `fading` to `end`."""

    part: SoundPart
    begin_lesson_s: Fraction
    begin: int
    full: int
    fading: int
    end: int

    def gain(self, begin: int, end: int) -> NDArray[np.float32]:
        """The fade's gain for the lesson's samples begin..end; those of two joined parts add up to 1."""
        places = np.arange(begin, end, dtype=np.float64) + 0.5
        rise = np.clip((places - self.begin) / max(self.full - self.begin, _NO_FADE), 0, 1)
        fall = np.clip((self.end - places) / max(self.end - self.fading, _NO_FADE), 0, 1)
        return np.asarray(np.sin(np.pi / 2 * rise) ** 2 * np.sin(np.pi / 2 * fall) ** 2, dtype=np.float32)


def part_borders(parts: Sequence[SoundPart], *, rate_hz: int) -> tuple[int, ...]:
    """The samples at which parts begin, and the total: each is rounded from the exact time, so nothing adds up."""
    borders, time_s = [0], Fraction(0)
    for part in parts:
        time_s += part.lesson_s
        borders.append(round(time_s * rate_hz))
    return tuple(borders)


def heard_spans(parts: Sequence[SoundPart], *, rate_hz: int) -> tuple[HeardSpan, ...]:
    """Where each part that is heard begins, rises, falls and ends."""
    borders = part_borders(parts, rate_hz=rate_hz)
    joins = [_join(parts, borders, number, rate_hz) for number in range(len(parts) + 1)]
    spans, time_s = [], Fraction(0)
    for number, part in enumerate(parts):
        if part.is_heard and borders[number + 1] > borders[number]:
            (begin, full), (fading, end) = joins[number], joins[number + 1]
            spans.append(HeardSpan(part, time_s, begin, full, fading, end))
        time_s += part.lesson_s
    return tuple(spans)


def _join(parts: Sequence[SoundPart], borders: Sequence[int], number: int, rate_hz: int) -> tuple[int, int]:
    """The samples between which the fade at border `number` lies; never more than half of a part beside it."""
    place = borders[number]
    before = parts[number - 1] if number else None
    after = parts[number] if number < len(parts) else None
    room_before = (place - borders[number - 1]) // 2 if number else 0
    room_after = (borders[number + 1] - place) // 2 if after is not None else 0
    heard_before, heard_after = before is not None and before.is_heard, after is not None and after.is_heard
    half, fade = round(HALF_JOIN_S * rate_hz), round(HOLD_FADE_S * rate_hz)
    if heard_before and heard_after:
        reach = min(half, room_before, room_after)
        return place - reach, place + reach
    if heard_before:
        return (place, place + min(fade, room_after)) if after is not None else (place - min(half, room_before), place)
    return (place - min(fade, room_before), place) if before is not None else (place, place + min(half, room_after))


def lay_engine(
    recording: Recording, spans: Sequence[HeardSpan], store: SoundStore, *, rate_hz: int, progress: Progress
) -> None:
    """Add each span's sound to the store (stereo). Raises MediaError, OutputError, Cancelled."""
    whole = sum(span.end - span.begin for span in spans)
    done = 0
    for span in spans:
        for begin, block in _span_blocks(recording, span, rate_hz):
            store.add(begin, block * span.gain(begin, begin + block.shape[1]))
            done += block.shape[1]
            progress(done / whole, "stretching the engine's sound")


def _span_blocks(recording: Recording, span: HeardSpan, rate_hz: int) -> Iterator[tuple[int, NDArray[np.float32]]]:
    """Blocks of the part at its tempo, stereo, each with its first sample's place in the lesson."""
    track, tempo = _track(recording), span.part.tempo
    pre_s, lead_s = (Fraction(0), Fraction(0)) if tempo == 1 else (PRE_ROLL_S, LEAD_S)
    begin_media_s = span.part.begin_media_s + (Fraction(span.begin, rate_hz) - span.begin_lesson_s) * tempo
    length_media_s = Fraction(span.end - span.begin, rate_hz) * tempo
    first_s = begin_media_s - lead_s - pre_s
    blocks = read_sound(recording, first_s, begin_media_s + length_media_s + POST_ROLL_S)
    made = stretched(
        (in_stereo(block) for block in blocks),
        rate_hz=track.rate_hz,
        rate_out_hz=rate_hz,
        tempo=tempo,
        skip=round(pre_s / tempo * rate_hz),
        count=span.end - span.begin,
    )
    place = span.begin
    for block in made:
        yield place, block
        place += block.shape[1]


def _track(recording: Recording) -> AudioTrack:
    if recording.audio is None:
        raise MediaError("the recording has no sound", "Lay only voices.", where=recording.path)
    return recording.audio


def in_stereo(block: NDArray[np.float32]) -> NDArray[np.float32]:
    """Any number of channels as two, shape (2, n).

    Six are taken as 5.1 (left, right, centre, low, two surrounds) and mixed down after ITU-R BS.775-4, table 2 (the
    low channel left out), then lowered so that it cannot clip; other numbers above two become their mean.
    """
    if block.shape[0] == 1:
        return np.repeat(block, 2, axis=0)
    if block.shape[0] == 2:
        return block
    if block.shape[0] == 6:
        left, right, centre, _low, surround_left, surround_right = block
        sides = np.stack([left + _HALF * surround_left, right + _HALF * surround_right])
        return np.asarray((sides + _HALF * centre) / (1 + 2 * _HALF), dtype=np.float32)
    return np.repeat(block.mean(axis=0, keepdims=True, dtype=np.float32), 2, axis=0)
