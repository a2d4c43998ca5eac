"""`syncview render`: the chosen lap as a film with gauges."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_lap, add_project, progress_shown, warn

if TYPE_CHECKING:
    from syncview.lesson.lap_film import LapFilm
    from syncview.media.encoders import EncoderSettings
    from syncview.media.stream_copy import CopyReport
    from syncview.progress import Progress

QUALITIES = ("draft", "web", "archive")
CODINGS = ("h264", "h265", "av1")
"""As in `syncview.media.encoders`, which is not loaded before it is needed."""


def add_coding_options(parser: argparse.ArgumentParser) -> None:
    """How films are coded."""
    parser.add_argument(
        "--quality",
        choices=QUALITIES,
        default="web",
        help="draft is quick to make; web is for sending (default); archive is for cutting again later, and large",
    )
    parser.add_argument(
        "--coding",
        choices=CODINGS,
        default="h264",
        help="h264 plays everywhere (default); h265 and av1 make smaller files, take longer and need newer players",
    )


def add_film_options(parser: argparse.ArgumentParser) -> None:
    """Options that every command with a film of a lap has."""
    add_lap(parser)
    add_coding_options(parser)
    parser.add_argument(
        "--before", type=float, default=3.0, metavar="S", help="seconds shown before the lap (default 3)"
    )
    parser.add_argument("--after", type=float, default=3.0, metavar="S", help="seconds shown after the lap (default 3)")
    parser.add_argument("--overwrite", action="store_true", help="replace what exists")


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "render",
        help="write the lap as a film with gauges",
        description="Write one lap at full speed with the gauges drawn on it: pedals on a see-saw (brake to the left, "
        "throttle to the right), gear, speed, steering, lap time and corner card. The sound is kept and the chapters "
        "are inside. The recording itself is never changed.",
    )
    add_project(parser)
    parser.add_argument("film", type=Path, metavar="FILM.mp4", help="where to write it (.mp4, .mov, .m4v or .mkv)")
    parser.add_argument("--no-gauges", action="store_true", help="draw no gauges")
    parser.add_argument(
        "--copy",
        action="store_true",
        help="cut the lap out without coding it again: in seconds and without loss, captions and chapters as tracks "
        "that players switch, no gauges",
    )
    parser.add_argument("--notes", action="store_true", help="write the notes on the picture too")
    add_film_options(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Render the lap."""
    from syncview.lesson.chapters import film_chapters
    from syncview.lesson.corner_span import corner_spans
    from syncview.lesson.render import FilmOptions, copy_lap, render_lap
    from syncview.output_file import refuse_bad_target

    refuse_bad_target(arguments.film, overwrite=arguments.overwrite)
    settings = settings_of(arguments.quality, arguments.coding)
    options = FilmOptions(not arguments.no_gauges, arguments.notes, settings, arguments.overwrite)
    with progress_shown() as progress:
        film = open_film(arguments, progress)
        spans = corner_spans(film.session, film.lap)
        chapters = film_chapters(film, spans)
        if arguments.copy:
            return _print_copied(copy_lap(film, arguments.film, chapters=chapters, overwrite=arguments.overwrite,
                                          progress=progress))  # fmt: skip
        report = render_lap(film, spans, arguments.film, chapters=chapters, options=options, progress=progress)
    for sentence in (*chapters.notes, *report.notes):
        warn(sentence)
    print(f"wrote {report.output}: {report.duration_s:.2f} s, {report.frames} frames, {report.size_bytes / 1e6:.1f} MB")
    return 0


def _print_copied(report: CopyReport) -> int:
    for sentence in report.notes:
        warn(sentence)
    seconds = float(report.end_media_s - report.begin_media_s)
    print(f"wrote {report.output}: {seconds:.2f} s, {report.frames} frames copied, {report.size_bytes / 1e6:.1f} MB")
    return 0


def open_film(arguments: argparse.Namespace, progress: Progress) -> LapFilm:
    """The lap film that the command's options describe."""
    from syncview.errors import SyncviewError
    from syncview.lesson.lap_film import lap_film
    from syncview.lesson.session import open_recording_of, open_session

    if not (arguments.before >= 0 and arguments.after >= 0):
        raise SyncviewError("--before and --after cannot be less than nothing", "Give seconds, 0 or more.")
    session = open_session(arguments.project, progress=progress)
    session.clock()  # refuses before anything slow is done
    recording = open_recording_of(session.project, arguments.project, progress)
    return lap_film(session, recording, session.lap(arguments.lap), before_s=arguments.before, after_s=arguments.after)


def settings_of(quality: str, coding: str = "h264") -> EncoderSettings:
    """Encoder settings by the names that people use."""
    from syncview.media.encoders import settings_for

    return settings_for(quality, coding)
