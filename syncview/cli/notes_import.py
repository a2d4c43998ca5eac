"""`syncview notes import`: notes from a transcript of the coach's talk."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_project, progress_shown, warn

if TYPE_CHECKING:
    from collections.abc import Callable

    from syncview.lesson.session import Session
    from syncview.notes.speech import Place


def add_import(actions: Commands) -> None:
    """Add `notes import`."""
    parser = actions.add_parser(
        "import",
        help="make notes from a transcript (SubRip or WebVTT) of your talk over the recording",
        description="Captions about one corner become one note, at the place where the car is when the first of them "
        "begins; a caption belongs to the corner in which (or on the way to which) most of it is spoken. The file's "
        "times are times of the recording unless you say otherwise. Captions outside the timed laps are listed and "
        "left out. What was imported before is not made twice.",
    )
    add_project(parser)
    parser.add_argument("file", type=Path, metavar="FILE", help="a .srt or .vtt file")
    parser.add_argument("--lap", type=int, metavar="N", help="only what is said over this lap")
    times = parser.add_mutually_exclusive_group()
    times.add_argument(
        "--over-lesson", action="store_true", help="the file's times are of the lesson's film, as it is planned now"
    )
    times.add_argument(
        "--over-plan", type=Path, metavar="PLAN.json", help="the file's times are of an earlier film, whose plan was "
        "saved with lesson plan --json",
    )  # fmt: skip
    parser.add_argument("--per-caption", action="store_true", help="a note for each caption")
    parser.add_argument(
        "--clean",
        action="store_true",
        help="leave out English fillers (um, er, “you know” between commas …) and stutters; the words as they were "
        "spoken are kept in the project",
    )
    parser.set_defaults(run=run_import)


def run_import(arguments: argparse.Namespace) -> int:
    """Notes from a caption file."""
    from syncview.lesson.note_places import corner_number
    from syncview.lesson.session import open_session
    from syncview.notes.speech import ImportOptions, notes_from_captions
    from syncview.project import save
    from syncview_codecs.captions import read_captions

    captions = read_captions(arguments.file)
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    project = session.project
    if arguments.lap is not None:
        session.lap(arguments.lap)
    options = ImportOptions(arguments.lap, arguments.per_caption, arguments.clean)
    heard = notes_from_captions(
        captions.cues,
        _placing(session, arguments),
        next_key=project.notes_made + 1,
        corner_of=lambda lap_distance_m: corner_number(session, lap_distance_m),
        existing=project.notes,
        options=options,
    )
    for skipped in captions.skipped:
        warn(f"{arguments.file.name}, line {skipped.line}: {skipped.reason}")
    for sentence in (*captions.warnings, *heard.left_out):
        warn(sentence)
    for words in heard.known:
        warn(f"{words} is among the notes already; it was not made twice")
    notes = tuple(sorted((*project.notes, *heard.notes), key=lambda note: note.lap_distance_m))
    save(replace(project, notes=notes, notes_made=project.notes_made + len(heard.notes)), arguments.project)
    print(f"made {len(heard.notes)} notes from {heard.captions_used} of {len(captions.cues)} captions")
    return 0


def _placing(session: Session, arguments: argparse.Namespace) -> Callable[[float], Place | None]:
    """From the time of a caption to where the car is then."""
    from syncview.lesson.note_places import place_at
    from syncview.lesson.plan_document import media_time_in, read_media_time

    if arguments.over_plan is not None:
        media_s_of = read_media_time(arguments.over_plan)
    elif arguments.over_lesson:
        from syncview.lesson.ready_lesson import ready_lesson
        from syncview.lesson.session import open_recording_of

        with progress_shown() as progress:
            recording = open_recording_of(session.project, arguments.project, progress)
            lesson = ready_lesson(session, recording, session.lap(arguments.lap), progress=progress)
        media_s_of = media_time_in(lesson.plan)
    else:
        return lambda media_s: place_at(session, media_s)

    def place(lesson_s: float) -> Place | None:
        media_s = media_s_of(lesson_s)
        return None if media_s is None else place_at(session, media_s)

    return place
