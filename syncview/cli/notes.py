"""`syncview notes`: what the coach says, and where on the lap."""

from __future__ import annotations

import argparse
import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_json, add_lap, add_project, print_json, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.lesson.session import Session
    from syncview.notes.speech import Place
    from syncview.progress import Progress
    from syncview.project import Project


def add_to(commands: Commands) -> None:
    """Add the command and its own sub-commands."""
    parser = commands.add_parser(
        "notes",
        help="write, draft, import and list the corner notes",
        description="Notes are what you say at a place of the lap. They are tied to lap distance, so they carry over "
        "to any other lap: whatever is made from the project shows them where that lap passes the place.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    _add_list(actions)
    _add_add(actions)
    _add_edit(actions)
    _add_remove(actions)
    _add_import(actions)
    _add_draft(actions)
    _add_template(actions)


def _add_list(actions: Commands) -> None:
    parser = actions.add_parser("list", help="list the notes in lap order")
    add_project(parser)
    add_lap(parser)
    add_json(parser)
    parser.set_defaults(run=run_list)


def _add_place(parser: argparse.ArgumentParser, *, required: bool) -> None:
    place = parser.add_mutually_exclusive_group(required=required)
    place.add_argument("--at", type=float, metavar="METRES", help="lap distance from the start line")
    place.add_argument("--corner", type=int, metavar="N", help="where the lap begins corner N: its braking or entry")
    place.add_argument("--media", type=float, metavar="SECONDS", help="where the car is at this time of the recording")


def _add_add(actions: Commands) -> None:
    parser = actions.add_parser("add", help="add a note")
    add_project(parser)
    parser.add_argument("text", metavar="TEXT", help="what is said")
    _add_place(parser, required=True)
    add_lap(parser)
    parser.set_defaults(run=run_add)


def _add_edit(actions: Commands) -> None:
    parser = actions.add_parser("edit", help="change a note's words or place")
    add_project(parser)
    parser.add_argument("key", metavar="KEY", help="the note's key, such as n3")
    parser.add_argument("--text", help="new words")
    _add_place(parser, required=False)
    add_lap(parser)
    parser.set_defaults(run=run_edit)


def _add_remove(actions: Commands) -> None:
    parser = actions.add_parser("remove", help="remove notes")
    add_project(parser)
    parser.add_argument("keys", nargs="+", metavar="KEY", help="keys, such as n3")
    parser.set_defaults(run=run_remove)


def _add_import(actions: Commands) -> None:
    parser = actions.add_parser(
        "import",
        help="make notes from a transcript (SubRip or WebVTT) of your talk over the recording",
        description="Captions about one corner become one note, at the place where the car is when the first of them "
        "begins; a caption belongs to the corner in which (or on the way to which) most of it is spoken. The file's "
        "times are times of the recording, not of a film cut from it. Captions outside the timed laps are listed and "
        "left out. What was imported before is not made twice.",
    )
    add_project(parser)
    parser.add_argument("file", type=Path, metavar="FILE", help="a .srt or .vtt file")
    parser.add_argument("--lap", type=int, metavar="N", help="only what is said over this lap")
    parser.add_argument("--per-caption", action="store_true", help="a note for each caption")
    parser.add_argument(
        "--clean",
        action="store_true",
        help="leave out English fillers (um, er, “you know” between commas …) and stutters; the words as they were "
        "spoken are kept in the project",
    )
    parser.set_defaults(run=run_import)


def _add_draft(actions: Commands) -> None:
    parser = actions.add_parser(
        "draft",
        help="draft a note for every corner from the facts",
        description="Write a note from the facts for every corner that has none. Drafts are a start: edit them. "
        "Drafts made earlier are replaced; notes that you wrote, edited or imported stay. A draft is kept short "
        "enough to be read while the corner lasts at the lesson's speed; how it is worded: syncview notes template.",
    )
    add_project(parser)
    add_lap(parser)
    parser.add_argument(
        "--speed", type=float, default=0.25, metavar="SHARE",
        help="share of full speed at which the lesson will go through the corners (default 0.25)",
    )  # fmt: skip
    parser.set_defaults(run=run_draft)


def run_list(arguments: argparse.Namespace) -> int:
    """List the notes, with the corner each belongs to."""
    with progress_shown() as progress:
        session = _open(arguments, progress)
    notes = session.project.notes
    where = [_corner_words(session, note.lap_distance_m) for note in notes]
    if arguments.json:
        print_json([
            {"key": n.key, "lap_distance_m": n.lap_distance_m, "corner": w, "text": n.text, "origin": n.origin}
            for n, w in zip(notes, where, strict=True)
        ])  # fmt: skip
        return 0
    rows = [
        (n.key, f"{n.lap_distance_m:.0f} m", w, n.origin, " ".join(n.text.split()))
        for n, w in zip(notes, where, strict=True)
    ]
    print_table(("key", "at", "corner", "from", "note"), rows, left=(0, 2, 3, 4))
    return 0


def run_add(arguments: argparse.Namespace) -> int:
    """Add one note."""
    from syncview.notes.note import add

    with progress_shown() as progress:
        session = _open(arguments, progress)
    project = session.project
    number = project.notes_made + 1
    notes = add(project.notes, number, lap_distance_m=_place(session, arguments), text=arguments.text)
    _save(replace(project, notes=notes, notes_made=number), arguments.project)
    print(f"added n{number}")
    return 0


def run_edit(arguments: argparse.Namespace) -> int:
    """Change one note."""
    from syncview.errors import SyncviewError
    from syncview.notes.note import edit, find
    from syncview.project import load

    moved = any(option is not None for option in (arguments.at, arguments.corner, arguments.media))
    if arguments.text is None and not moved:
        raise SyncviewError("there is nothing to change", "Give --text, or a place with --at, --corner or --media.")
    project = load(arguments.project)
    find(project.notes, arguments.key)
    distance = None
    if moved:
        with progress_shown() as progress:
            session = _open(arguments, progress)
        distance = _place(session, arguments)
    _save(replace(project, notes=edit(project.notes, arguments.key, text=arguments.text, lap_distance_m=distance)),
          arguments.project)  # fmt: skip
    print(f"changed {arguments.key}")
    return 0


def run_remove(arguments: argparse.Namespace) -> int:
    """Remove notes; all or none."""
    from syncview.notes.note import remove
    from syncview.project import load

    project = load(arguments.project)
    notes = project.notes
    for key in dict.fromkeys(arguments.keys):
        notes = remove(notes, key)
    _save(replace(project, notes=notes), arguments.project)
    print(f"removed {', '.join(dict.fromkeys(arguments.keys))}")
    return 0


def run_import(arguments: argparse.Namespace) -> int:
    """Notes from a caption file."""
    from syncview.notes.speech import ImportOptions, notes_from_captions
    from syncview_codecs.captions import read_captions

    captions = read_captions(arguments.file)
    with progress_shown() as progress:
        session = _open(arguments, progress)
    project = session.project
    if arguments.lap is not None:
        session.lap(arguments.lap)
    options = ImportOptions(arguments.lap, arguments.per_caption, arguments.clean)
    heard = notes_from_captions(
        captions.cues,
        lambda media_s: _place_at(session, media_s),
        next_key=project.notes_made + 1,
        corner_of=lambda lap_distance_m: _corner_number(session, lap_distance_m),
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
    _save(replace(project, notes=notes, notes_made=project.notes_made + len(heard.notes)), arguments.project)
    print(f"made {len(heard.notes)} notes from {heard.captions_used} of {len(captions.cues)} captions")
    return 0


def run_draft(arguments: argparse.Namespace) -> int:
    """Drafts from facts, for corners without a note."""
    from syncview.lesson.drafting import draft_missing

    with progress_shown() as progress:
        session = _open(arguments, progress)
    drafted = draft_missing(session, session.lap(arguments.lap), speed=arguments.speed)
    _save(drafted.project, arguments.project)
    for note in drafted.made:
        print(f"{note.key}  {note.lap_distance_m:.0f} m  {note.text}")
    for sentence in drafted.too_long:
        warn(sentence)
    if not drafted.made:
        print("every corner has a note already; nothing was drafted")
    return 0


def _add_template(actions: Commands) -> None:
    from argparse import RawDescriptionHelpFormatter

    parser = actions.add_parser(
        "template",
        help="see or change how drafts are worded",
        description="Drafts are worded by a template: text with {{ values }} and {% if value %} … {% endif %}, a\n"
        "small and safe part of the Jinja language (no loops, calls or files). --show prints the one in use, with a\n"
        "description at its top; save it, edit it, and --set it. --values lists what it may use.",
        formatter_class=RawDescriptionHelpFormatter,
    )
    add_project(parser)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--show", action="store_true", help="print the template in use")
    what.add_argument("--values", action="store_true", help="list the values and filters")
    what.add_argument("--set", type=Path, metavar="FILE", help="use this template; it is tried on every corner first")
    what.add_argument("--reset", action="store_true", help="go back to the one that comes along")
    add_lap(parser)
    parser.set_defaults(run=run_template)


def run_template(arguments: argparse.Namespace) -> int:
    """Show, list, set or reset the wording of drafts."""
    from syncview.notes.draft_values import FILTERS, VALUES
    from syncview.notes.templates import default_template
    from syncview.project import load

    if arguments.set is not None:
        return _set_template(arguments)
    project = load(arguments.project)
    if arguments.show:
        print((project.draft_template or default_template()).rstrip("\n"))
    elif arguments.values:
        print_table(("value", "meaning"), list(VALUES.items()), left=(0, 1))
        print()
        print_table(("filter", "meaning"), list(FILTERS.items()), left=(0, 1))
    else:
        _save(replace(project, draft_template=""), arguments.project)
        print("drafts are worded by the template that comes along")
    return 0


def _set_template(arguments: argparse.Namespace) -> int:
    from syncview.errors import SyncviewError, describe_os_error
    from syncview.lesson.drafting import try_template
    from syncview.notes.templates import LONGEST_TEMPLATE, checked_template

    try:
        with arguments.set.open(encoding="utf-8-sig") as file:
            text = file.read(LONGEST_TEMPLATE + 1)
    except OSError as error:
        problem = f"the template cannot be read ({describe_os_error(error)})"
        raise SyncviewError(problem, "Check the path.", where=arguments.set) from error
    except ValueError as error:
        raise SyncviewError("the template is not UTF-8 text", "Save it as UTF-8.", where=arguments.set) from error
    checked_template(text)
    with progress_shown() as progress:
        session = _open(arguments, progress)
    drafts = try_template(session, session.lap(arguments.lap), text)
    _save(replace(session.project, draft_template=text), arguments.project)
    print("drafts are worded by it from now on, for example:")
    for draft in drafts[:3]:
        print(f"  {draft}")
    return 0


def _open(arguments: argparse.Namespace, progress: Progress) -> Session:
    from syncview.lesson.session import open_session

    return open_session(arguments.project, progress=progress)


def _save(project: Project, path: Path) -> None:
    from syncview.project import save

    save(project, path)


def _place(session: Session, arguments: argparse.Namespace) -> float:
    """The lap distance that --at, --corner or --media names; raises `SyncviewError`."""
    from syncview.errors import SyncviewError

    length = session.track.lap_length_m
    if arguments.at is not None:
        if not 0 <= arguments.at < length:
            raise SyncviewError(f"{arguments.at:g} m is not on the lap", f"Give 0 to {length:.0f} metres.")
        return float(arguments.at)
    if arguments.corner is not None:
        from syncview.lesson.drafting import begin_distance_m

        return begin_distance_m(session, session.lap(arguments.lap), arguments.corner)
    place = _place_at(session, arguments.media)
    if place is None:
        raise SyncviewError(
            f"at {arguments.media:g} s of the recording the car is on no timed lap",
            "Choose a moment within a timed lap.",
        )
    return place.lap_distance_m


def _place_at(session: Session, media_s: float) -> Place | None:
    import numpy as np

    from syncview.notes.speech import Place

    log_s = session.clock().to_log_s(media_s)
    for lap in session.track.timed:
        if lap.start_s <= log_s < lap.end_s:
            distance = float(session.track.traces[lap.number].distance_at(np.array([log_s]))[0])
            return Place(lap.number, distance) if math.isfinite(distance) else None
    return None


def _corner_words(session: Session, lap_distance_m: float) -> str:
    from syncview.lesson.chapters import corner_title
    from syncview.lesson.drafting import corner_at

    corner = corner_at(session, lap_distance_m)
    return "" if corner is None else corner_title(corner)


def _corner_number(session: Session, lap_distance_m: float) -> int | None:
    from syncview.lesson.drafting import corner_at

    corner = corner_at(session, lap_distance_m)
    return None if corner is None else corner.number
