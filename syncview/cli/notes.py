"""`syncview notes`: what the coach says, and where on the lap."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_json, add_lap, add_project, print_json, print_table, progress_shown
from syncview.cli.notes_drafts import add_draft, add_template
from syncview.cli.notes_import import add_import

if TYPE_CHECKING:
    from syncview.lesson.session import Session


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
    add_import(actions)
    add_draft(actions)
    add_template(actions)


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


def run_list(arguments: argparse.Namespace) -> int:
    """List the notes, with the corner each belongs to."""
    from syncview.lesson.note_places import corner_words
    from syncview.lesson.session import open_session

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    notes = session.project.notes
    where = [corner_words(session, note.lap_distance_m) for note in notes]
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
    from syncview.lesson.session import open_session
    from syncview.notes.note import add
    from syncview.project import save

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    project = session.project
    number = project.notes_made + 1
    notes = add(project.notes, number, lap_distance_m=_place(session, arguments), text=arguments.text)
    save(replace(project, notes=notes, notes_made=number), arguments.project)
    print(f"added n{number}")
    return 0


def run_edit(arguments: argparse.Namespace) -> int:
    """Change one note."""
    from syncview.errors import SyncviewError
    from syncview.lesson.session import open_session
    from syncview.notes.note import edit, find
    from syncview.project import load, save

    moved = any(option is not None for option in (arguments.at, arguments.corner, arguments.media))
    if arguments.text is None and not moved:
        raise SyncviewError("there is nothing to change", "Give --text, or a place with --at, --corner or --media.")
    project = load(arguments.project)
    find(project.notes, arguments.key)
    distance = None
    if moved:
        with progress_shown() as progress:
            session = open_session(arguments.project, progress=progress)
        distance = _place(session, arguments)
    save(replace(project, notes=edit(project.notes, arguments.key, text=arguments.text, lap_distance_m=distance)),
          arguments.project)  # fmt: skip
    print(f"changed {arguments.key}")
    return 0


def run_remove(arguments: argparse.Namespace) -> int:
    """Remove notes; all or none."""
    from syncview.notes.note import remove
    from syncview.project import load, save

    project = load(arguments.project)
    notes = project.notes
    for key in dict.fromkeys(arguments.keys):
        notes = remove(notes, key)
    save(replace(project, notes=notes), arguments.project)
    print(f"removed {', '.join(dict.fromkeys(arguments.keys))}")
    return 0


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
    from syncview.lesson.note_places import place_at

    place = place_at(session, arguments.media)
    if place is None:
        raise SyncviewError(
            f"at {arguments.media:g} s of the recording the car is on no timed lap",
            "Choose a moment within a timed lap.",
        )
    return place.lap_distance_m
