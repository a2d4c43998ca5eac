"""The voices of the notes: recorded ones that the project refers to, and drafts that a machine speaks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import MediaError, ProjectError
from syncview.media.voice_cuts import REACH_S, cut_voice
from syncview.media.voice_file import VoiceFile, VoicePiece, open_voice
from syncview.media_file import locate, refer_to
from syncview.notes.note import Note, NoteError, Voice, find, give_voice, has_words
from syncview.plan.speaking import speaking_s
from syncview.progress import Progress, part_of, silent

if TYPE_CHECKING:
    from syncview.project import Project

DRAFTS_FOLDER = ".syncview-voices"
"""Beside the project; it may be deleted at any time."""


@dataclass(frozen=True, slots=True)
class NoteVoice:
    """What is heard of a note."""

    piece: VoicePiece
    is_draft: bool
    """Spoken by a machine."""


def attach_voice(project: Project, key: str, file: Path, path: Path) -> tuple[Project, Fraction]:
    """The project (which lies at `path`) with a note's recorded words, and how long these take.

    Raises NoteError, and MediaError for a file that cannot be heard.
    """
    find(project.notes, key)
    piece = open_voice(file).piece()
    voice = Voice(refer_to(file, path.parent))
    return replace(project, notes=give_voice(project.notes, key, voice)), piece.length_s


@dataclass(frozen=True, slots=True)
class WholeVoice:
    """One recording of all notes, cut."""

    project: Project
    pieces: tuple[tuple[str, VoicePiece], ...]
    """By the note's key, in lap order."""
    remarks: tuple[str, ...]
    """Where a person should listen whether the cut is right."""


def attach_whole(project: Project, file: Path, path: Path, *, progress: Progress = silent) -> WholeVoice:
    """Cut one recording of all notes, spoken in lap order, at the pauses nearest to where the words should change.

    These places follow from the share of the words that each note has. Raises NoteError without notes, and
    MediaError for a file that cannot be heard, is too short, or has a note for which nobody speaks.
    """
    if not project.notes:
        raise NoteError("there are no notes to speak", "Add them first.")
    voice = open_voice(file, progress=progress)
    cut = cut_voice(voice, _wanted_cuts(project, voice), reach_s=_reach_s(project, voice))
    keys = [note.key for note in project.notes]
    silent_keys = [key for key, piece in zip(keys, cut.pieces, strict=True) if piece is None]
    if silent_keys:
        raise MediaError(
            f"nobody speaks where note {silent_keys[0]} should be heard",
            "Give the voices note by note, or leave longer pauses between the notes.",
            where=file,
        )
    pieces = tuple((key, piece) for key, piece in zip(keys, cut.pieces, strict=True) if piece is not None)
    reference, notes = refer_to(file, path.parent), project.notes
    for key, piece in pieces:
        notes = give_voice(notes, key, Voice(reference, float(piece.begin_s), float(piece.end_s)))
    return WholeVoice(replace(project, notes=notes), pieces, (*voice.notes, *cut.notes))


def _wanted_cuts(project: Project, voice: VoiceFile) -> list[Fraction]:
    estimates = [speaking_s(note.text, words_per_minute=project.lesson.words_per_minute) for note in project.notes]
    spoken_s, whole_s = voice.speech_end_s - voice.speech_begin_s, sum(estimates, Fraction(0))
    return [voice.speech_begin_s + spoken_s * said / whole_s for said in list(accumulate(estimates))[:-1]]


def _reach_s(project: Project, voice: VoiceFile) -> Fraction:
    """Estimates of long notes are off by more: half of a note's usual length, but what is usual at least."""
    return max(REACH_S, (voice.speech_end_s - voice.speech_begin_s) / (2 * len(project.notes)))


def voices_of(project: Project, path: Path, *, progress: Progress = silent) -> tuple[dict[str, NoteVoice], list[str]]:
    """What is heard of each note, by its key, and what a person should know of the files, each a sentence.

    Notes without a voice are spoken by a machine when the project asks for it, otherwise left out. Raises ProjectError
    for a file that is gone, MediaError for one that cannot be heard or when the machine cannot speak.
    """
    found: dict[str, NoteVoice] = {}
    remarks: dict[str, None] = {}
    opened: dict[str, VoiceFile] = {}
    for number, note in enumerate(project.notes):
        share = part_of(progress, number / len(project.notes), (number + 1) / len(project.notes))
        voice = _recorded(note, path, opened, share) if note.voice is not None else _drafted(note, project, path)
        if voice is not None:
            found[note.key] = voice
            name = voice.piece.voice.path.name
            if not voice.is_draft:
                remarks.update({f"{name}: {sentence}": None for sentence in voice.piece.voice.notes})
    drafts = sum(voice.is_draft for voice in found.values())
    if drafts:
        remarks[f"{drafts} notes have a draft voice, made by a machine: record your own before students hear it."] = (
            None
        )
    return found, list(remarks)


def _recorded(note: Note, path: Path, opened: dict[str, VoiceFile], progress: Progress) -> NoteVoice:
    assert note.voice is not None  # the caller has looked
    reference = note.voice.file
    if reference.path not in opened:
        try:
            file = locate(reference, path.parent, what="voice")
        except ProjectError as error:
            remedy = f"Give it again with: syncview lesson voice {path.name} {note.key} --file FILE; or --remove."
            raise ProjectError(f"note {note.key}: {error.problem}", remedy, where=error.where) from None
        opened[reference.path] = open_voice(file, progress=progress)
    voice = opened[reference.path]
    begin, end = (None if at is None else Fraction(at) for at in (note.voice.begin_s, note.voice.end_s))
    return NoteVoice(voice.piece(begin, None if end is None else min(end, voice.length_s)), is_draft=False)


def _drafted(note: Note, project: Project, path: Path) -> NoteVoice | None:
    language = project.lesson.draft_voice
    if not language or not has_words(note):
        return None
    from syncview.lesson.draft_voice import draft_voice

    pace = round(project.lesson.words_per_minute)
    made = draft_voice(note.text, path.parent / DRAFTS_FOLDER, language=language, words_per_minute=pace)
    return NoteVoice(made.piece, is_draft=True)
