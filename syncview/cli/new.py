"""`syncview new`: make a project from a recording and a log."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import Commands, add_project, pairs, progress_shown, warn


def add_log_options(parser: argparse.ArgumentParser) -> None:
    """Options by which a person says what the log's columns are."""
    parser.add_argument(
        "--role", action="append", default=[], metavar="ROLE=COLUMN", help="which column of the log is, say, the speed"
    )
    parser.add_argument(
        "--unit", action="append", default=[], metavar="COLUMN=UNIT", help="the unit of a column whose heading lacks it"
    )


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "new",
        help="make a project from a recording and a log",
        description="Make a project: one small document that refers to a recording and a log. Neither is copied or "
        "changed. Both are opened at once, so that what does not fit is said here.",
    )
    add_project(parser)
    parser.add_argument("--recording", required=True, type=Path, metavar="FILE", help="the onboard video")
    parser.add_argument("--log", required=True, type=Path, metavar="FILE", help="the car's log (delimited text)")
    add_log_options(parser)
    parser.add_argument("--units", choices=("metric", "imperial"), default="metric", help="what people are shown")
    parser.add_argument("--overwrite", action="store_true", help="replace a project of that name")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Make the project."""
    from syncview.channels import open_log
    from syncview.errors import ProjectError
    from syncview.media.recording import open_recording
    from syncview.media_file import refer_to
    from syncview.project import Project, save

    path: Path = arguments.project
    if path.exists() and not arguments.overwrite:
        raise ProjectError("a project of that name exists", "Choose another name, or add --overwrite.", where=path)
    if not path.parent.is_dir():
        raise ProjectError("there is no such folder", "Make it first, or choose another.", where=path.parent)
    roles, units = pairs(arguments.role, "--role"), pairs(arguments.unit, "--unit")
    with progress_shown() as progress:
        recording = open_recording(arguments.recording, progress=progress)
    log = open_log(arguments.log, roles=roles, units=units)
    for sentence in (*recording.notes, *log.warnings):
        warn(sentence)
    project = Project(
        recording=refer_to(arguments.recording, path.parent),
        log=refer_to(arguments.log, path.parent),
        roles=roles,
        column_units=units,
        units=arguments.units,
    )
    save(project, path)
    print(f"made {path}")
    print(f"next: syncview align {path}")
    return 0
