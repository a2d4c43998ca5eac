"""What the coach does to the notes, as changes of the project: plain functions, no Qt."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.media_file import locate
from syncview.notes.note import Note, Voice, add, checked_distance, edit, find, give_voice, hold, remove
from syncview.project import Project

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.track.laps import Lap

NO_WORDS = "…"
"""Text of a note that marks its place and has no words yet: the place is safe from the moment it is dropped."""


def drop(project: Project, lap_distance_m: float) -> tuple[Project, str]:
    """The project with a note without words at a place, and its key. Raises `NoteError`."""
    number = project.notes_made + 1
    notes = add(project.notes, number, lap_distance_m=lap_distance_m, text=NO_WORDS)
    return replace(project, notes=notes, notes_made=number), f"n{number}"


def write(project: Project, key: str, text: str) -> Project:
    """The project with other words in a note; blank ones leave it without words. Raises `NoteError`."""
    return replace(project, notes=edit(project.notes, key, text=text if text.strip() else NO_WORDS))


def written(note: Note) -> str:
    """The words as a person edits them: none where none were written yet."""
    return "" if note.text == NO_WORDS else note.text


def move(project: Project, key: str, lap_distance_m: float) -> Project:
    """The project with a note at another place. Raises `NoteError`."""
    return replace(project, notes=edit(project.notes, key, lap_distance_m=lap_distance_m))


def leave_out(project: Project, key: str) -> Project:
    """The project without a note. Raises `NoteError`."""
    return replace(project, notes=remove(project.notes, key))


def stop_here(project: Project, key: str, hold_s: float | None) -> Project:
    """The project with a hold at a note; None leaves it to the pace plan. Raises `NoteError`."""
    return replace(project, notes=hold(project.notes, key, hold_s))


def say(project: Project, key: str, voice: Voice | None) -> Project:
    """The project with a note's recorded words, or without. Raises `NoteError`."""
    return replace(project, notes=give_voice(project.notes, key, voice))


def cut_voice(project: Project, key: str, begin_s: float | None, end_s: float | None) -> Project:
    """The project with only a part of a note's voice heard; None is the file's begin or end. Raises `NoteError`."""
    voice = find(project.notes, key).voice
    if voice is None:
        return project
    return say(project, key, replace(voice, begin_s=begin_s, end_s=end_s))


def is_shared(project: Project, key: str) -> bool:
    """Whether another note is heard from the same file."""
    voice = find(project.notes, key).voice
    others = (note.voice for note in project.notes if note.key != key)
    return voice is not None and any(other is not None and other.file == voice.file for other in others)


def voice_path(voice: Voice, project_path: Path) -> Path:
    """The voice's file; raises `ProjectError` when it is gone or is another."""
    return locate(voice.file, project_path.parent, what="voice")


def draft_at(session: Session, lap: Lap, corner: int) -> tuple[Note, tuple[str, ...]]:
    """A fresh draft for one corner, whatever notes there are, and what a person should know about it.

    Raises `SyncviewError` when the lap lacks the corner, and `TemplateError`.
    """
    from syncview.lesson.drafting import begin_distance_m, draft_missing

    bare = replace(session, project=replace(session.project, notes=()))
    drafted = draft_missing(bare, lap)
    begin_m = checked_distance(begin_distance_m(bare, lap, corner))
    note = min(drafted.made, key=lambda made: abs(made.lap_distance_m - begin_m))  # equal, but for the rounding
    return note, tuple(words for words in drafted.too_long if words.startswith(f"{note.key} "))


def with_draft(project: Project, session: Session, corner: int, draft: Note) -> tuple[Project, str]:
    """The project with a draft for a corner in place of an earlier one there, and its key; the coach's notes stay."""
    from syncview.lesson.drafting import corner_at

    def is_replaced(note: Note) -> bool:
        at = corner_at(session, note.lap_distance_m)
        return note.origin == "draft" and at is not None and at.number == corner

    kept = tuple(note for note in project.notes if not is_replaced(note))
    number = project.notes_made + 1
    notes = add(kept, number, lap_distance_m=draft.lap_distance_m, text=draft.text, origin="draft")
    return replace(project, notes=notes, notes_made=number), f"n{number}"
