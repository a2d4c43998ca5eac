"""`syncview circuit`: a circuit's corners and markers, kept in a file for every session there."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_project, print_json, print_table, progress_shown, project_path

if TYPE_CHECKING:
    from collections.abc import Callable

    from syncview.lesson.circuit_use import Taken
    from syncview.track.circuit import Circuit


def add_to(commands: Commands) -> None:
    """Add the command and its own sub-commands."""
    parser = commands.add_parser(
        "circuit",
        help="keep a circuit's corners and markers in a file, use it for later sessions",
        description="A circuit file holds the start line, the line, the corners with their names, and the markers that "
        "a driver can see. It is made once from the laps of a session, edited, and used for every later session: its "
        "laps are then measured from the circuit's start line, by position or by how the lap bends.",
    )
    actions = parser.add_subparsers(title="actions", metavar="ACTION", required=True)
    for add in (_add_make, _add_use, _add_leave, _add_list, _add_marker_actions, _add_corner_actions):
        add(actions)


def _add_make(actions: Commands) -> None:
    parser = actions.add_parser("make", help="make a circuit file from a project's laps")
    add_project(parser)
    _add_file(parser)
    parser.add_argument("--name", help="the circuit's name (otherwise the file's)")
    parser.add_argument("--overwrite", action="store_true", help="replace a file of that name")
    parser.set_defaults(run=run_make)


def _add_use(actions: Commands) -> None:
    parser = actions.add_parser(
        "use",
        help="use a circuit file for a project",
        description="Check that the project's laps lie on the circuit, and measure them on it from now on. Notes stay "
        "at their places on the ground. The circuit file may be edited later; the project reads it anew each time.",
    )
    add_project(parser)
    _add_file(parser)
    add_json(parser)
    parser.set_defaults(run=run_use)


def _add_leave(actions: Commands) -> None:
    parser = actions.add_parser("leave", help="use no circuit file any more; corners are found in the laps")
    add_project(parser)
    parser.set_defaults(run=run_leave)


def _add_list(actions: Commands) -> None:
    parser = actions.add_parser("list", help="list a circuit's corners and markers")
    _add_file(parser)
    add_json(parser)
    parser.set_defaults(run=run_list)


def _add_marker_actions(actions: Commands) -> None:
    parser = actions.add_parser(
        "add-marker",
        help="add something that a driver can see: a board, a kerb, a bridge",
        description="Add a marker. Say where it is in one of four ways. Facts then count from it: "
        "“brakes 18 m past the 100 board”.",
    )
    _add_file(parser)
    parser.add_argument("--key", required=True, help="its short name in the file, such as b100-1")
    parser.add_argument("--kind", required=True, help="a word: board, kerb, bridge, patch …")
    parser.add_argument("--words", help="what you call it (otherwise the kind, with its metres for a board)")
    parser.add_argument("--side", choices=("left", "right", "across"), help="beside which edge, or across the track")
    parser.add_argument("--corner", type=int, metavar="N", help="only for this corner")
    place = parser.add_mutually_exclusive_group(required=True)
    place.add_argument("--at", type=float, metavar="METRES", help="lap distance from the start line")
    place.add_argument(
        "--before-corner", type=int, metavar="N", help="--metres before the entry of corner N, for which it is used"
    )
    place.add_argument("--position", metavar="LAT,LON", help="latitude and longitude in degrees")
    place.add_argument("--media", type=float, metavar="SECONDS", help="where the car is at this time of the recording")
    parser.add_argument("--metres", type=float, metavar="M", help="with --before-corner")
    parser.add_argument("--project", type=project_path, metavar="PROJECT", help="with --media: whose recording")
    parser.set_defaults(run=run_add_marker)
    parser = actions.add_parser("remove-marker", help="remove a marker")
    _add_file(parser)
    parser.add_argument("key", metavar="KEY", help="the marker's key")
    parser.set_defaults(run=run_remove_marker)


def _add_corner_actions(actions: Commands) -> None:
    parser = _corner_action(actions, "rename", "give a corner a name", run_rename)
    parser.add_argument("name", metavar="NAME", help="the new name; “” takes it away")
    parser = _corner_action(actions, "merge", "make a corner and the next one a single corner", run_merge)
    parser.add_argument("--name", help="the name of what they become (otherwise the first one's)")
    parser = _corner_action(actions, "split", "make two corners of one", run_split)
    parser.add_argument("--at", type=float, required=True, metavar="METRES", help="lap distance at which they part")
    parser.add_argument("--name", default="", help="name of the second part")
    parser = _corner_action(actions, "move", "put a corner's entry, apex or exit elsewhere", run_move)
    for name in ("entry", "apex", "exit"):
        parser.add_argument(f"--{name}", type=float, metavar="METRES", help=f"new lap distance of the {name}")
    flat = parser.add_mutually_exclusive_group()
    flat.add_argument("--flat", action="store_true", default=None, help="it is taken without lifting")
    flat.add_argument("--not-flat", dest="flat", action="store_false", help="it is not")


def _corner_action(actions: Commands, name: str, words: str, run: Callable[[argparse.Namespace], int],
                   ) -> argparse.ArgumentParser:  # fmt: skip
    parser = actions.add_parser(name, help=words)
    _add_file(parser)
    parser.add_argument("corner", type=int, metavar="N", help="the corner's number")
    parser.set_defaults(run=run)
    return parser


def _add_file(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="the circuit file (.toml)")


def run_make(arguments: argparse.Namespace) -> int:
    """Make a circuit file."""
    from syncview.lesson.circuit_use import make_file

    name = arguments.name or arguments.file.stem
    with progress_shown() as progress:
        circuit = make_file(
            arguments.project, arguments.file, name=name, overwrite=arguments.overwrite, progress=progress
        )
    print(f"made {arguments.file}: {circuit.name}, {circuit.lap_length_m:.1f} m, {len(circuit.corners)} corners")
    if circuit.line is None:
        print("the log has no position, so the circuit is known by how the lap bends")
    print(f"next: name its corners, and syncview circuit use {arguments.project} {arguments.file}")
    return 0


def run_use(arguments: argparse.Namespace) -> int:
    """Use a circuit file."""
    from syncview.lesson.circuit_use import take_up
    from syncview.project import save

    with progress_shown() as progress:
        taken = take_up(arguments.project, arguments.file, progress=progress)
    save(taken.project, arguments.project)
    placing, circuit = taken.session.placing, taken.session.circuit
    assert placing is not None
    assert circuit is not None
    if arguments.json:
        print_json({"circuit": circuit.name, "lap_length_m": circuit.lap_length_m, "shift_m": placing.shift_m,
                    "laps_begin_elsewhere_now": placing.moved, "basis": placing.basis,
                    "notes_moved": taken.notes_moved})  # fmt: skip
        return 0
    print(f"{circuit.name}: {placing.words}")
    _say_notes(taken)
    print(f"saved {arguments.project}")
    return 0


def run_leave(arguments: argparse.Namespace) -> int:
    """Use no circuit file any more."""
    from syncview.lesson.circuit_use import leave
    from syncview.project import save

    with progress_shown() as progress:
        taken = leave(arguments.project, progress=progress)
    save(taken.project, arguments.project)
    _say_notes(taken)
    print(f"saved {arguments.project}")
    return 0


def _say_notes(taken: Taken) -> None:
    if taken.notes_moved is None and taken.project.notes:
        print("the circuit file used before could not be opened, so notes kept their lap distances: check them")
    elif taken.notes_moved:
        print(f"{taken.notes_moved} notes have another lap distance now, at the same places on the ground")


def run_list(arguments: argparse.Namespace) -> int:
    """List corners and markers."""
    from dataclasses import asdict

    from syncview.track.circuit_file import read_circuit

    circuit = read_circuit(arguments.file)
    if arguments.json:
        print_json({"name": circuit.name, "lap_length_m": circuit.lap_length_m,
                    "corners": [asdict(c) for c in circuit.corners],
                    "markers": [asdict(m) for m in circuit.markers]})  # fmt: skip
        return 0
    known_by = "its line" if circuit.line is not None else "how the lap bends"
    print(f"{circuit.name}, {circuit.lap_length_m:.1f} m, known by {known_by}; distances in m from the start line")
    print_table(
        ("corner", "name", "side", "entry", "apex", "exit", ""),
        [(str(c.number), c.name, c.side, f"{c.entry_m:.1f}", ", ".join(f"{a:.1f}" for a in c.apexes),
          f"{c.exit_m:.1f}", "flat" if c.flat else "") for c in circuit.corners],
        left=(1, 2, 6),
    )  # fmt: skip
    if circuit.markers:
        print()
        _print_markers(circuit)
    return 0


def _print_markers(circuit: Circuit) -> None:
    rows = [
        (m.key, m.kind, f"{m.at_m:.1f}", m.side or "", "" if m.corner is None else str(m.corner), m.words)
        for m in circuit.markers
    ]
    print_table(("marker", "kind", "at", "side", "corner", "words"), rows, left=(0, 1, 3, 5))


def run_add_marker(arguments: argparse.Namespace) -> int:
    """Add one marker."""
    from syncview.track.circuit_file import read_circuit
    from syncview.track.corner_edits import add_marker
    from syncview.track.markers import Marker

    circuit = read_circuit(arguments.file)
    at_m = round(_marker_place(circuit, arguments), 1)
    words = arguments.words
    if words is None:
        words = arguments.kind if arguments.metres is None else f"{arguments.metres:g} {arguments.kind}"
    corner = arguments.before_corner if arguments.corner is None else arguments.corner
    marker = Marker(arguments.key, arguments.kind, at_m, words, arguments.side, corner)
    _save(add_marker(circuit, marker), arguments.file)
    print(f"added {marker.key} at {marker.at_m:.1f} m")
    return 0


def _marker_place(circuit: Circuit, arguments: argparse.Namespace) -> float:
    from syncview.errors import SyncviewError
    from syncview.lesson.circuit_use import place_at_media
    from syncview.track.circuit_match import place_of_position
    from syncview.track.corner_edits import corner_of

    if arguments.at is not None:
        return float(arguments.at)
    if arguments.before_corner is not None:
        if arguments.metres is None or not 0 <= arguments.metres < circuit.lap_length_m:
            raise SyncviewError("--before-corner needs --metres", "Add how far before its entry: --metres 100.")
        entry_m = corner_of(circuit, arguments.before_corner).entry_m
        return float(entry_m - arguments.metres) % circuit.lap_length_m
    if arguments.position is not None:
        return place_of_position(circuit, *_lat_lon(arguments.position))
    if arguments.project is None:
        raise SyncviewError("--media needs --project", "Say whose recording: --project PROJECT.")
    with progress_shown() as progress:
        return place_at_media(arguments.project, arguments.file, arguments.media, progress=progress)


def _lat_lon(text: str) -> tuple[float, float]:
    from syncview.errors import SyncviewError

    try:
        lat, lon = (float(part) for part in text.split(","))
    except ValueError:
        raise SyncviewError(f"--position {text} is not of the form LAT,LON",
                            "Write degrees as --position=45.00007,-29.99892.") from None  # fmt: skip
    return lat, lon


def run_remove_marker(arguments: argparse.Namespace) -> int:
    """Remove one marker."""
    from syncview.track.corner_edits import remove_marker

    return _edit(arguments, lambda circuit: remove_marker(circuit, arguments.key))


def run_rename(arguments: argparse.Namespace) -> int:
    """Name a corner."""
    from syncview.track.corner_edits import rename

    return _edit(arguments, lambda circuit: rename(circuit, arguments.corner, arguments.name))


def run_merge(arguments: argparse.Namespace) -> int:
    """Make one corner of two."""
    from syncview.track.corner_edits import merge

    return _edit(arguments, lambda circuit: merge(circuit, arguments.corner, name=arguments.name))


def run_split(arguments: argparse.Namespace) -> int:
    """Make two corners of one."""
    from syncview.track.corner_edits import split

    return _edit(arguments, lambda circuit: split(circuit, arguments.corner, at_m=arguments.at, name=arguments.name))


def run_move(arguments: argparse.Namespace) -> int:
    """Move a corner, or say whether it is flat."""
    from syncview.track.corner_edits import move, set_flat

    def change(circuit: Circuit) -> Circuit:
        places: dict[str, Any] = {"entry_m": arguments.entry, "apex_m": arguments.apex, "exit_m": arguments.exit}
        if arguments.flat is not None:
            circuit = set_flat(circuit, arguments.corner, flat=arguments.flat)
            if all(place is None for place in places.values()):
                return circuit
        return move(circuit, arguments.corner, **places)

    return _edit(arguments, change)


def _edit(arguments: argparse.Namespace, change: Callable[[Circuit], Circuit]) -> int:
    from syncview.track.circuit_file import read_circuit

    _save(change(read_circuit(arguments.file)), arguments.file)
    print(f"saved {arguments.file}")
    return 0


def _save(circuit: Circuit, file: Path) -> None:
    from syncview.track.circuit_file import write_changes

    write_changes(circuit, file)
