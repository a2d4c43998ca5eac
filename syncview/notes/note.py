"""A note, and the list of them as plain values: every change gives a new list."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from typing import Literal

from syncview.errors import SyncviewError
from syncview.gauges.drawing import Drawing, checked
from syncview.media_file import MediaFile

Origin = Literal["coach", "draft", "import"]
LONGEST_NOTE = 10_000


class NoteError(SyncviewError):
    """A note is not there, or cannot be as asked."""

    exit_code = 8


@dataclass(frozen=True, slots=True)
class Voice:
    """Recorded words: a sound file, or a part of one."""

    file: MediaFile
    begin_s: float | None = None
    """On the file's clock; None for its begin."""
    end_s: float | None = None
    """None for its end."""


@dataclass(frozen=True, slots=True)
class Note:
    """What is said at a place; it belongs to the circuit, not to one lap or recording."""

    key: str
    """Short name by which a person edits it: `n1`, `n2` …; never used twice in a project."""
    lap_distance_m: float
    text: str
    origin: Origin = "coach"
    original: str = ""
    """The words as they were imported, when `text` has been changed since."""
    voice: Voice | None = None
    """The words as they were recorded, for the lesson."""
    drawings: tuple[Drawing, ...] = ()
    """What is drawn on the still when the lesson stops here."""
    hold_s: float | None = None
    """How long the lesson stops here, where the coach said so; None leaves it to the pace plan."""


Notes = tuple[Note, ...]
"""Ascending by lap distance."""


def has_words(note: Note) -> bool:
    """Whether there is anything to say and read; a note that was only dropped at a place has none yet."""
    return any(sign.isalnum() for sign in note.text)


def add(notes: Notes, next_key: int, *, lap_distance_m: float, text: str, origin: Origin = "coach") -> Notes:
    """The notes with one more; `next_key` is the number for its key."""
    note = Note(f"n{next_key}", checked_distance(lap_distance_m), checked_text(text), origin)
    return _ordered((*notes, note))


def edit(notes: Notes, key: str, *, text: str | None = None, lap_distance_m: float | None = None) -> Notes:
    """The notes with one changed; a draft or an import that a person changes is the coach's from then on."""
    old = find(notes, key)
    new = old
    if text is not None and text != old.text:
        original = old.original or (old.text if old.origin == "import" else "")
        new = replace(new, text=checked_text(text), origin="coach", original=original)
    if lap_distance_m is not None:
        new = replace(new, lap_distance_m=checked_distance(lap_distance_m))
    return _ordered(tuple(new if note is old else note for note in notes))


def remove(notes: Notes, key: str) -> Notes:
    """The notes without one."""
    gone = find(notes, key)
    return tuple(note for note in notes if note is not gone)


def find(notes: Notes, key: str) -> Note:
    """The note of that key; raises `NoteError`."""
    for note in notes:
        if note.key == key:
            return note
    known = ", ".join(note.key for note in notes) or "none yet"
    raise NoteError(f"there is no note “{key}”", f"Notes are: {known}.")


LONGEST_HOLD_S = 120.0


def hold(notes: Notes, key: str, hold_s: float | None) -> Notes:
    """The notes with a hold set at one of them; None leaves it to the pace plan. Raises `NoteError`."""
    if hold_s is not None and not 0 <= hold_s <= LONGEST_HOLD_S:
        raise NoteError(f"a hold of {hold_s:g} s cannot be", f"Give 0 to {LONGEST_HOLD_S:g} seconds.")
    return _with(notes, replace(find(notes, key), hold_s=hold_s))


def give_voice(notes: Notes, key: str, voice: Voice | None) -> Notes:
    """The notes with the recorded words of one of them, or without; raises `NoteError`."""
    return _with(notes, replace(find(notes, key), voice=voice))


def draw(notes: Notes, key: str, drawings: tuple[Drawing, ...]) -> Notes:
    """The notes with these drawings on the still of one of them; raises `NoteError` or `DrawingError`."""
    return _with(notes, replace(find(notes, key), drawings=tuple(checked(drawing) for drawing in drawings)))


def _with(notes: Notes, changed: Note) -> Notes:
    return tuple(changed if note.key == changed.key else note for note in notes)


def checked_text(text: str) -> str:
    """The text without blanks around it; raises `NoteError` when it is empty, too long or holds control signs."""
    cleaned = text.replace("\r\n", "\n").replace("\r", "\n").strip()
    if not cleaned:
        raise NoteError("a note needs words", "Give its text.")
    if len(cleaned) > LONGEST_NOTE:
        raise NoteError(
            f"a note of {len(cleaned)} characters is longer than {LONGEST_NOTE}", "Split it into several notes."
        )
    bad = re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", cleaned)
    if bad:
        raise NoteError(f"the text holds the control character U+{ord(bad[0]):04X}", "Remove it.")
    return cleaned


def checked_distance(lap_distance_m: float) -> float:
    """The distance to the centimetre; raises `NoteError` when it is not one."""
    if not math.isfinite(lap_distance_m) or lap_distance_m < 0:
        raise NoteError(f"{lap_distance_m} is not a lap distance", "Give metres from the start line, 0 or more.")
    return round(lap_distance_m, 2)


def _ordered(notes: Notes) -> Notes:
    return tuple(sorted(notes, key=lambda note: note.lap_distance_m))
