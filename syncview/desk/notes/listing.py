"""The notes as the list shows them: in lap order, under the corner that each is about."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from syncview.notes.note import Note, Voice
from syncview.plan.speaking import speaking_s

if TYPE_CHECKING:
    from syncview.lesson.ready_lesson import ReadyLesson
    from syncview.lesson.session import Session
    from syncview.project import Project
    from syncview.track.corners import Corner

SaidBy = Literal["estimate", "voice", "draft voice", "not measured"]


@dataclass(frozen=True, slots=True)
class Speaking:
    """How long a note is spoken."""

    seconds: Fraction | None
    """None while the recorded words are not measured yet."""
    said_by: SaidBy


@dataclass(frozen=True, slots=True)
class ListedNote:
    """A note with what the list says of it."""

    note: Note
    corner: Corner | None
    """None between corners, and while the corners are not known."""
    to_apex_m: float | None
    """How far after the note's place the apex comes; negative past it."""
    speaking: Speaking
    opens_corner: bool
    """The first of the notes in a row that are about the same corner."""


def listed(
    project: Project, session: Session | None, lesson: ReadyLesson | None, *,
    measured_s: Callable[[Voice], Fraction | None] | None = None,
) -> tuple[ListedNote, ...]:  # fmt: skip
    """All notes, ascending by lap distance; `measured_s` tells the length of voices that the lesson does not have."""
    rows: list[ListedNote] = []
    for note in project.notes:
        corner = _corner_of(session, note)
        opens = not rows or _number(rows[-1].corner) != _number(corner)
        to_apex_m = None if corner is None or session is None else _to_apex_m(session, corner, note.lap_distance_m)
        rows.append(ListedNote(note, corner, to_apex_m, speaking_of(note, project, lesson, measured_s), opens))
    return tuple(rows)


def _corner_of(session: Session | None, note: Note) -> Corner | None:
    if session is None:
        return None
    from syncview.lesson.drafting import corner_at

    return corner_at(session, note.lap_distance_m)


def _number(corner: Corner | None) -> int | None:
    return None if corner is None else corner.number


def _to_apex_m(session: Session, corner: Corner, lap_distance_m: float) -> float:
    """Across the start line the short way."""
    length_m = session.track.lap_length_m
    return (corner.apex_m - lap_distance_m + length_m / 2) % length_m - length_m / 2


def speaking_of(
    note: Note, project: Project, lesson: ReadyLesson | None,
    measured_s: Callable[[Voice], Fraction | None] | None = None,
) -> Speaking:  # fmt: skip
    """How long a note is spoken: as recorded, as the machine's draft voice says it, or estimated from its words."""
    heard = None if lesson is None else lesson.voices.get(note.key)
    planned = None if lesson is None else _note_of(lesson.plan.film.session.project.notes, note.key)
    if heard is not None and planned is not None and planned.voice == note.voice:
        if not heard.is_draft:
            return Speaking(heard.piece.length_s, "voice")
        if planned.text == note.text and project.lesson.draft_voice:
            return Speaking(heard.piece.length_s, "draft voice")
    if note.voice is not None:
        length_s = None if measured_s is None else measured_s(note.voice)
        return Speaking(length_s, "not measured" if length_s is None else "voice")
    return Speaking(_estimate_s(note.text, project.lesson.words_per_minute), "estimate")


@lru_cache(maxsize=1024)
def _estimate_s(text: str, words_per_minute: float) -> Fraction:
    """Asked for all notes at every keystroke in one of them."""
    return speaking_s(text, words_per_minute=words_per_minute)


def _note_of(notes: Sequence[Note], key: str) -> Note | None:
    return next((note for note in notes if note.key == key), None)


def neighbour(notes: Sequence[Note], key: str | None, step: int) -> str | None:
    """Key of the next (`step` 1) or last (-1) note; at an end it stays; without one, the first or the last."""
    keys = [note.key for note in notes]
    if not keys:
        return None
    if key not in keys:
        return keys[0] if step > 0 else keys[-1]
    return keys[min(max(keys.index(key) + step, 0), len(keys) - 1)]


def key_after(notes: Sequence[Note], key: str) -> str | None:
    """The note to work on when `key` is removed: the one after it, else the one before."""
    keys = [note.key for note in notes]
    if key not in keys or len(keys) < 2:
        return None
    i = keys.index(key)
    return keys[i + 1] if i + 1 < len(keys) else keys[i - 1]
