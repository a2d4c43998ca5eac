"""A coach's dictated transcript over the recording, turned into notes at the places where the car was."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

from syncview.notes.note import Note, checked_distance, checked_text


class Caption(Protocol):
    """Words over a stretch of media time; a caption file's cue is one."""

    @property
    def start_ms(self) -> int: ...  # noqa: D102
    @property
    def text(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Place:
    """Where the car is at a moment of the recording."""

    lap: int
    lap_distance_m: float


@dataclass(frozen=True, slots=True)
class Heard:
    """Notes made from a transcript, and what could not be placed."""

    notes: tuple[Note, ...]
    left_out: tuple[str, ...]
    """One sentence per caption that was not used."""


def notes_from_captions(
    captions: Sequence[Caption],
    place_at: Callable[[float], Place | None],
    *,
    next_key: int,
    lap: int | None = None,
) -> Heard:
    """Notes at the lap distance where each caption begins; with `lap`, only those spoken over that lap.

    `place_at` gives the place for a media time in seconds, None outside the timed laps. Keys count up from
    `next_key`.
    """
    notes: list[Note] = []
    left_out: list[str] = []
    for caption in captions:
        place = place_at(caption.start_ms / 1000)
        words = " ".join(caption.text.split())
        begin = f"“{words[:40]}{'…' if len(words) > 40 else ''}” at {caption.start_ms / 1000:.2f} s"
        if place is None or not math.isfinite(place.lap_distance_m):
            left_out.append(f"{begin} is spoken outside the timed laps")
        elif lap is not None and place.lap != lap:
            left_out.append(f"{begin} is spoken over lap {place.lap}")
        else:
            key = f"n{next_key + len(notes)}"
            notes.append(Note(key, checked_distance(place.lap_distance_m), checked_text(words), "import"))
    return Heard(tuple(notes), tuple(left_out))
