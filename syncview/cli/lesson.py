"""`syncview lesson`: the lesson with slow motion that waits for the words."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli import lesson_choices
from syncview.cli.console import (
    Commands,
    add_json,
    add_lap,
    add_project,
    print_json,
    print_table,
    progress_shown,
    warn,
)
from syncview.cli.render import add_coding_options

if TYPE_CHECKING:
    from fractions import Fraction

    from syncview.lesson.lesson_plan import Section
    from syncview.lesson.ready_lesson import ReadyLesson
    from syncview.progress import Progress


def add_to(commands: Commands) -> None:
    """Add the command and its own sub-commands."""
    parser = commands.add_parser(
        "lesson",
        help="plan and make the lesson: hot lap, then slow motion that waits for the words",
        description="The lesson is a card with the day's conditions, the lap once at full speed, then the breakdown: "
        "the lap again, slowed down and held where a note needs time to be heard and read, and the lap time at the "
        "end. The plan is made from your notes; lesson plan shows it and why, the other actions change it.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    _add_plan(actions)
    lesson_choices.add_set(actions)
    lesson_choices.add_pin(actions)
    lesson_choices.add_hold(actions)
    lesson_choices.add_voice(actions)
    lesson_choices.add_draw(actions)
    _add_preview(actions)
    _add_film(actions)


def _add_plan(actions: Commands) -> None:
    parser = actions.add_parser(
        "plan",
        help="show how the lesson plays, and why",
        description="Each stretch with its speed and the reason for it, and when each note is said.",
    )
    add_project(parser)
    add_lap(parser)
    add_json(parser)
    parser.set_defaults(run=run_plan)


def _add_preview(actions: Commands) -> None:
    parser = actions.add_parser("preview", help="one picture of the lesson, without making the film")
    add_project(parser)
    parser.add_argument("picture", type=Path, metavar="FILE.png", help="where to write it")
    when = parser.add_mutually_exclusive_group(required=True)
    when.add_argument("--at", type=float, metavar="SECONDS", help="time of the lesson")
    when.add_argument("--note", metavar="KEY", help="while this note is said")
    parser.add_argument("--overwrite", action="store_true", help="replace what exists")
    add_lap(parser)
    parser.set_defaults(run=run_preview)


def _add_film(actions: Commands) -> None:
    parser = actions.add_parser(
        "film",
        help="make the lesson's film",
        description="Gauges, slow motion, stills with drawings, voices over the engine's sound, captions and chapters. "
        "A film that was broken off (a crash, a power cut) goes on where it was when the same command is given again. "
        "The recording itself is never changed.",
    )
    add_project(parser)
    parser.add_argument("film", type=Path, metavar="FILM.mp4", help="where to write it (.mp4, .mov, .m4v or .mkv)")
    add_coding_options(parser)
    parser.add_argument("--no-gauges", action="store_true", help="draw no gauges")
    parser.add_argument("--overwrite", action="store_true", help="replace what exists")
    add_lap(parser)
    parser.set_defaults(run=run_film)


def run_plan(arguments: argparse.Namespace) -> int:
    """Print the plan."""
    from syncview.lesson.plan_document import plan_document

    with progress_shown() as progress:
        lesson = _ready(arguments, progress)
    plan = lesson.plan
    if arguments.json:
        print_json(plan_document(plan))
        return 0
    rows = []
    for section in plan.sections:
        if section.pace is None:
            rows.append((_clock(section.begin_s), _clock(section.end_s), "", "card", section.title))
            continue
        rows.extend(_span_rows(section))
    print_table(("from", "to", "recording", "speed", "why"), rows, left=(2, 3, 4))
    print()
    print_table(
        ("note", "said from", "to", "takes", "words"),
        [
            (
                item.note.key,
                _clock(item.begin_s),
                _clock(item.end_s),
                f"{float(item.speaking_s):.1f} s{' (estimated)' if item.is_estimate else ''}",
                " ".join(item.note.text.split()),
            )
            for item in plan.said
        ],
        left=(0, 3, 4),
    )
    print(f"\nthe lesson takes {_clock(plan.length_s)}")
    for sentence in lesson.remarks:
        warn(sentence)
    return 0


def _span_rows(section: Section) -> list[tuple[str, str, str, str, str]]:
    assert section.pace is not None  # the caller has looked
    rows = []
    for index, span in enumerate(section.pace.spans):
        begin = section.begin_s + section.pace.begin_lesson_s(index)
        media = f"{float(span.begin_media_s):.2f} s"
        speed = "held" if span.is_hold else f"{float(span.speed):.3g}"
        rows.append((_clock(begin), _clock(begin + span.lesson_s), media, speed, span.why))
    return rows


def _clock(lesson_s: Fraction) -> str:
    tenths = round(lesson_s * 10)
    return f"{tenths // 600}:{tenths // 10 % 60:02d}.{tenths % 10}"


def run_preview(arguments: argparse.Namespace) -> int:
    """Draw one picture of the lesson."""
    from syncview.lesson.lesson_preview import write_preview

    with progress_shown() as progress:
        lesson = _ready(arguments, progress)
        at_s = write_preview(
            lesson, arguments.picture, at_s=arguments.at, note_key=arguments.note, overwrite=arguments.overwrite
        )
    print(f"drew {arguments.picture}: the lesson at {_clock(at_s)}")
    return 0


def run_film(arguments: argparse.Namespace) -> int:
    """Make the film."""
    from syncview.cli.render import settings_of
    from syncview.lesson.lesson_film import LessonFilmOptions, write_lesson
    from syncview.output_file import refuse_bad_target

    refuse_bad_target(arguments.film, overwrite=arguments.overwrite)
    options = LessonFilmOptions(
        gauges=not arguments.no_gauges,
        settings=settings_of(arguments.quality, arguments.coding),
        overwrite=arguments.overwrite,
    )
    with progress_shown() as progress:
        lesson = _ready(arguments, progress)
        report = write_lesson(lesson, arguments.film, options=options, progress=progress)
    for sentence in (*lesson.remarks, *report.notes):
        warn(sentence)
    print(f"wrote {report.output}: {report.duration_s:.2f} s, {report.frames} frames, {report.size_bytes / 1e6:.1f} MB")
    return 0


def _ready(arguments: argparse.Namespace, progress: Progress) -> ReadyLesson:
    from syncview.lesson.ready_lesson import ready_lesson
    from syncview.lesson.session import open_recording_of, open_session

    session = open_session(arguments.project, progress=progress)
    session.clock()  # refuses before anything slow is done
    recording = open_recording_of(session.project, arguments.project, progress)
    return ready_lesson(session, recording, session.lap(arguments.lap), progress=progress)
