"""`syncview demo`: the whole job on the sample that comes along."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import Commands


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "demo",
        help="do the whole job on the sample",
        description="Make a project from the sample recording and log (an invented circuit), align it, take up its "
        "circuit file, list laps and corners, draw the map, import a coach's transcript, draft the missing notes, and "
        "export everything to a folder.",
    )
    parser.add_argument("folder", type=Path, metavar="OUT", help="where to write; made when missing")
    parser.add_argument(
        "--sample", type=Path, metavar="FOLDER", help="where the sample is (default: sample_media of this checkout)"
    )
    parser.add_argument("--quality", choices=("draft", "web"), default="web", help="draft is quicker")
    parser.add_argument("--overwrite", action="store_true", help="replace what an earlier demo wrote")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Run the other commands one after the other, as a coach would type them."""
    from syncview.cli import main
    from syncview.output_file import ready_folder

    sample = _sample(arguments.sample)
    folder = ready_folder(arguments.folder)
    project = str(folder / "demo.syncview.json")
    again = ["--overwrite"] if arguments.overwrite else []
    steps = (
        ["new", project, "--recording", str(sample / "session.mp4"), "--log", str(sample / "session.csv"), *again],
        ["align", project],
        ["laps", project],
        ["circuit", "use", project, str(sample / "circuit.toml")],
        ["corners", project],
        ["consistency", project],
        ["picture", project, str(folder / "map.png"), *again],
        ["notes", "import", project, str(sample / "talk.srt")],
        ["notes", "draft", project],
        ["notes", "list", project],
        ["lesson", "hold", project, "n3", "4"],
        ["lesson", "draw", project, "n3", "--clear"],
        ["lesson", "draw", project, "n3", "spotlight", "0.24,0.3", "0.52,0.62"],
        ["lesson", "draw", project, "n3", "arrow", "0.62,0.72", "0.42,0.47", "--label", "just before the fifty board"],
        ["lesson", "plan", project],
        ["export", project, str(folder / "lesson"), "--quality", arguments.quality, *again],
    )
    for words in steps:
        print(f"\n$ syncview {' '.join(words)}", flush=True)
        code = main(words)
        if code:
            return code
    print(f"\nThe lesson lies in {folder / 'lesson'}, its film is lesson.mp4; the project is {project}.")
    return 0


def _sample(given: Path | None) -> Path:
    from syncview.errors import SyncviewError

    folder = Path(__file__).parents[2] / "sample_media" if given is None else given
    missing = [
        name for name in ("session.mp4", "session.csv", "talk.srt", "circuit.toml") if not (folder / name).is_file()
    ]
    if missing:
        raise SyncviewError(
            f"the sample is not there ({missing[0]} is missing)",
            "Run this from a checkout of the project, or say where the sample is with --sample FOLDER.",
            where=folder,
        )
    return folder
