"""The plan cut into pieces that a person can point at: stretches at one speed, and holds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from syncview.lesson.lesson_plan import LessonPlan, Section
    from syncview.notes.note import Note
    from syncview.plan.lesson_choices import PinnedPace
    from syncview.plan.pace_plan import PaceSpan
    from syncview.project import Project

LapDistance = Callable[[Fraction], "float | None"]
SLIVER_S = Fraction(1, 1000)
"""Media shorter than this between two borders comes from rounding; nobody is asked to point at it."""
_ROUNDING_S = Fraction(2, 1_000_000)
"""Plans keep media times to the microsecond: the lap's begin and end may lie so far from a span's border."""
_TOUCH_M = 0.01
"""Stretches that overlap by less only touch."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One stretch or hold of a lap section."""

    kind: Literal["play", "hold"]
    begin_s: Fraction
    end_s: Fraction
    """Lesson time; the same as the begin for a hold that the coach set to nothing."""
    begin_media_s: Fraction
    end_media_s: Fraction
    speed: Fraction
    """0 in a hold."""
    why: str
    in_breakdown: bool
    pinned: bool
    """Whether the coach set it."""
    note_key: str | None = None
    """The note whose hold this is; None where it belongs to none, and then its length cannot be set."""
    begin_m: float | None = None
    end_m: float | None = None
    """Lap distance of a stretch; None outside the lap, and then its speed cannot be set."""

    @property
    def length_s(self) -> Fraction:
        """Lesson time."""
        return self.end_s - self.begin_s

    @property
    def can_be_set(self) -> bool:
        """Whether the coach may pin it."""
        if not self.in_breakdown:
            return False
        return self.note_key is not None if self.kind == "hold" else self.begin_m is not None


def pieces_of(plan: LessonPlan, project: Project, lap_distance_m: LapDistance) -> tuple[Piece, ...]:
    """All pieces of the lap sections in order of lesson time; holds set to nothing are among them.

    `lap_distance_m` gives the lap distance at a media time of the taught lap.
    """
    pieces: list[Piece] = []
    for section in plan.sections:
        if section.pace is None:
            continue
        own = [
            _piece(span, section.begin_s + section.pace.begin_lesson_s(index), section, plan, project, lap_distance_m)
            for index, span in enumerate(section.pace.spans)
        ]
        if section.kind == "breakdown":
            own = [*own, *_holds_of_nothing(section, project, plan)]
            own.sort(key=lambda piece: (piece.begin_s, piece.end_s))
        pieces += own
    return tuple(pieces)


def _piece(
    span: PaceSpan, begin_s: Fraction, section: Section, plan: LessonPlan, project: Project, at_m: LapDistance
) -> Piece:
    in_breakdown = section.kind == "breakdown"
    note, stretch = None, None
    if in_breakdown and span.is_hold:
        note = _note_held(span.begin_media_s, plan, project)
    elif in_breakdown and span.end_media_s - span.begin_media_s >= SLIVER_S:
        stretch = stretch_m(span.begin_media_s, span.end_media_s, plan, at_m)
    pinned = (note is not None and note.hold_s is not None) or (
        stretch is not None and any(overlaps(pin, *stretch) for pin in project.lesson.pinned)
    )
    begin_m, end_m = stretch or (None, None)
    return Piece(
        "hold" if span.is_hold else "play", begin_s, begin_s + span.lesson_s, span.begin_media_s, span.end_media_s,
        span.speed, span.why, in_breakdown, pinned, None if note is None else note.key, begin_m, end_m,
    )  # fmt: skip


def overlaps(pin: PinnedPace, begin_m: float, end_m: float) -> bool:
    """Whether a pin covers part of a stretch, more than touching it."""
    return min(pin.end_m, end_m) - max(pin.begin_m, begin_m) > _TOUCH_M


def stretch_m(
    begin_media_s: Fraction, end_media_s: Fraction, plan: LessonPlan, at_m: LapDistance
) -> tuple[float, float] | None:
    """Lap distances of a stretch of media, as far as it lies in the lap; None when none of it does.

    A border at a note's place is that place exactly, so that the pin and the note meet without a sliver between them.
    """
    film = plan.film
    lap_begin_s, lap_end_s = (Fraction(film.clock.to_media_s(log_s)) for log_s in (film.lap.start_s, film.lap.end_s))
    places = {said.media_s: said.note.lap_distance_m for said in plan.said}

    def place(media_s: Fraction) -> float | None:
        if media_s <= lap_begin_s + _ROUNDING_S:
            return 0.0
        if media_s >= lap_end_s - _ROUNDING_S:
            return film.session.track.lap_length_m
        found = places.get(media_s, at_m(media_s))
        return None if found is None else round(found, 6)

    if min(end_media_s, lap_end_s) - max(begin_media_s, lap_begin_s) < SLIVER_S:
        return None
    begin_m, end_m = place(begin_media_s), place(end_media_s)
    return None if begin_m is None or end_m is None or end_m <= begin_m else (begin_m, end_m)


def _note_held(media_s: Fraction, plan: LessonPlan, project: Project) -> Note | None:
    """The project's note at whose place the picture stands; of several, one whose hold is set already."""
    keys = {said.note.key for said in plan.said if said.media_s == media_s}
    here = [note for note in project.notes if note.key in keys]
    return next((note for note in here if note.hold_s is not None), here[0] if here else None)


def _holds_of_nothing(section: Section, project: Project, plan: LessonPlan) -> Iterator[Piece]:
    assert section.pace is not None
    held = {span.begin_media_s for span in section.pace.spans if span.is_hold}
    set_to = {note.key: note.hold_s for note in project.notes}
    for said in plan.said:
        if set_to.get(said.note.key) == 0 and said.media_s not in held:
            at_s = section.begin_s + section.pace.to_lesson_s(said.media_s)
            yield Piece("hold", at_s, at_s, said.media_s, said.media_s, Fraction(0),
                        "no hold: set by the coach", True, True, said.note.key)  # fmt: skip


def steps(pieces: Sequence[Piece]) -> list[int]:
    """Numbers of the pieces that keys step through: those of the breakdown, without slivers."""
    return [
        number
        for number, piece in enumerate(pieces)
        if piece.in_breakdown and (piece.kind == "hold" or piece.end_media_s - piece.begin_media_s >= SLIVER_S)
    ]


def piece_at(pieces: Sequence[Piece], lesson_s: Fraction | float) -> int | None:
    """Number of the piece on screen at a lesson time; None on a card."""
    number = bisect_right([piece.begin_s for piece in pieces], lesson_s) - 1
    while number >= 0 and pieces[number].length_s == 0:
        number -= 1
    return number if number >= 0 and lesson_s < pieces[number].end_s else None


def lesson_at(plan: LessonPlan, media_s: Fraction) -> Fraction | None:
    """Lesson time at which the breakdown first shows a media time; None when it does not."""
    pace, section = plan.breakdown.pace, plan.breakdown
    if pace is None or not pace.begin_media_s <= media_s <= pace.end_media_s:
        return None
    return section.begin_s + pace.to_lesson_s(media_s)


def media_at(plan: LessonPlan, lesson_s: Fraction) -> Fraction | None:
    """Media time shown at a lesson time; None on cards and outside the lesson."""
    for section in plan.sections:
        if section.begin_s <= lesson_s < section.end_s:
            return section.to_media_s(lesson_s)
    return None


def same_place(pieces: Sequence[Piece], before: Piece) -> int | None:
    """The piece of a new plan that is what an earlier one was."""
    middle = (before.begin_media_s + before.end_media_s) / 2
    for number, piece in enumerate(pieces):
        if piece.in_breakdown != before.in_breakdown or piece.kind != before.kind:
            continue
        if piece.begin_media_s <= middle <= piece.end_media_s and piece.note_key == before.note_key:
            return number
    return None
