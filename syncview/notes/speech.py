"""A coach's dictated transcript over the recording, turned into notes at the places where the car was."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Protocol

from syncview.notes.fillers import without_fillers
from syncview.notes.note import LONGEST_NOTE, Note, Notes, checked_distance, checked_text


class Caption(Protocol):
    """Words over a stretch of media time; a caption file's cue is one."""

    @property
    def start_ms(self) -> int: ...  # noqa: D102
    @property
    def end_ms(self) -> int: ...  # noqa: D102
    @property
    def text(self) -> str: ...  # noqa: D102


@dataclass(frozen=True, slots=True)
class Place:
    """Where the car is at a moment of the recording."""

    lap: int
    lap_distance_m: float


@dataclass(frozen=True, slots=True)
class ImportOptions:
    """How captions become notes."""

    lap: int | None = None
    """Only what is spoken over this lap; None for all."""
    per_caption: bool = False
    """A note for each caption; else those about one corner become one note."""
    clean: bool = False
    """Without filler words; the words as they were are kept in `Note.original`."""


@dataclass(frozen=True, slots=True)
class Heard:
    """Notes made from a transcript, and what was not used."""

    notes: tuple[Note, ...]
    left_out: tuple[str, ...]
    """One sentence per caption that could not be placed."""
    known: tuple[str, ...] = ()
    """One sentence per note that the project has already."""
    captions_used: int = 0


@dataclass(frozen=True, slots=True)
class _Placed:
    words: str
    place: Place
    corner: int | None


def notes_from_captions(
    captions: Sequence[Caption],
    place_at: Callable[[float], Place | None],
    *,
    next_key: int,
    corner_of: Callable[[float], int | None] = lambda _lap_distance_m: None,
    existing: Notes = (),
    options: ImportOptions | None = None,
) -> Heard:
    """Notes at the lap distance where their captions begin.

    `place_at` gives the place for a media time in seconds, None outside the timed laps; `corner_of` the number of the
    corner that a lap distance belongs to or leads up to. A caption belongs to the corner in which most of its time
    lies. Keys count up from `next_key`. What stands among `existing` with the same words at the same place is not
    made again.
    """
    options = options or ImportOptions()
    placed: list[_Placed] = []
    left_out: list[str] = []
    for caption in captions:
        found = _placed(caption, place_at, corner_of, options)
        if isinstance(found, str):
            left_out.append(found)
        else:
            placed.append(found)
    made = _Made(next_key, existing)
    for group in _groups(placed, options):
        made.add(group, options)
    return Heard(tuple(made.notes), tuple(left_out), tuple(made.known), len(placed))


def _placed(
    caption: Caption,
    place_at: Callable[[float], Place | None],
    corner_of: Callable[[float], int | None],
    options: ImportOptions,
) -> _Placed | str:
    """A caption with its place and corner, or why it is left out."""
    words = " ".join(caption.text.split())
    begin = f"{_shortened(words)} at {caption.start_ms / 1000:.2f} s"
    place = place_at(caption.start_ms / 1000)
    if place is None or not math.isfinite(place.lap_distance_m):
        return f"{begin} is spoken outside the timed laps"
    if options.lap is not None and place.lap != options.lap:
        return f"{begin} is spoken over lap {place.lap}"
    if options.per_caption:
        return _Placed(words, place, None)
    return _at_its_corner(words, place, _moments(caption, place_at, corner_of))


def _shortened(words: str) -> str:
    return f"“{words[:40]}{'…' if len(words) > 40 else ''}”"


_STEPS = 20
"""A caption's time is looked at in so many steps."""


def _moments(
    caption: Caption, place_at: Callable[[float], Place | None], corner_of: Callable[[float], int | None]
) -> list[tuple[Place, int | None]]:
    """Where the car is during a caption, and the corner that each place belongs to."""
    moments = []
    for i in range(_STEPS):
        at_ms = caption.start_ms + (i + 0.5) / _STEPS * (caption.end_ms - caption.start_ms)
        place = place_at(at_ms / 1000)
        if place is not None and math.isfinite(place.lap_distance_m):
            moments.append((place, corner_of(place.lap_distance_m)))
    return moments


def _at_its_corner(words: str, begin: Place, moments: Sequence[tuple[Place, int | None]]) -> _Placed:
    """A caption at the corner in which most of its time lies (of equals, the first).

    Its place is where it begins, or where it first is at that corner, so that the note is found there.
    """
    counts: dict[int | None, int] = {}
    for _, corner in moments:
        counts[corner] = counts.get(corner, 0) + 1
    most = max(counts, key=lambda corner: counts[corner], default=None)
    if most is None or not moments or moments[0][1] == most:
        return _Placed(words, begin, most)
    return _Placed(words, next(place for place, corner in moments if corner == most), most)


def _groups(placed: Sequence[_Placed], options: ImportOptions) -> list[list[_Placed]]:
    """Captions that make one note: neighbours about one corner of one lap, as far as one note may be long."""
    if options.per_caption:
        return [[one] for one in placed]
    groups: list[list[_Placed]] = []
    for (_, corner), members in groupby(placed, key=lambda one: (one.place.lap, one.corner)):
        current: list[_Placed] = []
        for one in members:
            length = sum(len(other.words) + 1 for other in current) + len(one.words)
            if current and (corner is None or length > LONGEST_NOTE):
                groups.append(current)
                current = []
            current.append(one)
        groups.append(current)
    return groups


SAME_PLACE_M = 20.0
"""Notes with the same words nearer than this are the same; a clock found anew moves a place by less."""


@dataclass(slots=True)
class _Made:
    """The notes of one import as they come about."""

    next_key: int
    existing: Notes
    notes: list[Note] = field(default_factory=list)
    known: list[str] = field(default_factory=list)

    def add(self, group: Sequence[_Placed], options: ImportOptions) -> None:
        """One note from a group, unless it is there already."""
        spoken = "\n".join(one.words for one in group)
        distance_m = checked_distance(group[0].place.lap_distance_m)
        if self._is_known(spoken, distance_m):
            self.known.append(f"{_shortened(spoken.replace(chr(10), ' '))} at {distance_m:.0f} m")
            return
        joined = " ".join(spoken.split("\n"))
        text = (without_fillers(joined) or joined) if options.clean else joined
        original = "" if text == spoken else spoken
        key = f"n{self.next_key + len(self.notes)}"
        self.notes.append(Note(key, distance_m, checked_text(text), "import", original))

    def _is_known(self, spoken: str, distance_m: float) -> bool:
        words = spoken.split()
        return any(
            words in (note.original.split(), note.text.split())
            and abs(note.lap_distance_m - distance_m) <= SAME_PLACE_M
            for note in self.existing
        )
