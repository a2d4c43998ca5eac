"""`syncview relink`: tell a project where its media are now, or change how it reads them."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.cli.console import Commands, add_project, pairs, warn
from syncview.cli.new import add_log_options

if TYPE_CHECKING:
    from syncview.media_file import MediaFile


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "relink",
        help="tell a project where its files are now, or how to read the log",
        description="Tell a project where its recording or log is now, which columns play which role, or which units "
        "you want to see. Another file than before needs --changed, and the clock is then found anew.",
    )
    add_project(parser)
    parser.add_argument("--recording", type=Path, metavar="FILE", help="where the recording is now")
    parser.add_argument("--log", type=Path, metavar="FILE", help="where the log is now")
    parser.add_argument("--changed", action="store_true", help="it is another file than before; forget the clock")
    add_log_options(parser)
    parser.add_argument("--units", choices=("metric", "imperial"), help="what people are shown")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Relink and save."""
    from syncview.channels import open_log
    from syncview.media_file import locate
    from syncview.project import load, save

    project, folder = load(arguments.project), arguments.project.parent
    clock = project.clock
    files: dict[str, MediaFile] = {}
    for what, path in (("recording", arguments.recording), ("log", arguments.log)):
        if path is not None:
            files[what] = _checked(path, project.recording if what == "recording" else project.log, what, arguments)
            if files[what].fingerprint != getattr(project, what).fingerprint:
                clock = None
    changed = replace(
        project,
        recording=files.get("recording", project.recording),
        log=files.get("log", project.log),
        roles={**project.roles, **pairs(arguments.role, "--role")},
        column_units={**project.column_units, **pairs(arguments.unit, "--unit")},
        units=arguments.units or project.units,
        clock=clock,
    )
    log = open_log(locate(changed.log, folder, what="log"), roles=changed.roles, units=changed.column_units)
    for sentence in log.warnings:
        warn(sentence)
    save(changed, arguments.project)
    print(f"saved {arguments.project}")
    if clock is None and project.clock is not None:
        print(f"the files changed, so the clock was forgotten; next: syncview align {arguments.project}")
    return 0


def _checked(path: Path, old: MediaFile, what: str, arguments: argparse.Namespace) -> MediaFile:
    from syncview.errors import ProjectError
    from syncview.media_file import refer_to

    new = refer_to(path, arguments.project.parent)
    if new.fingerprint != old.fingerprint and not arguments.changed:
        raise ProjectError(
            f"this is another file than the project's {what}",
            "Give the same file, or add --changed when it is meant to be another.",
            where=path,
        )
    return new
