"""`syncview desk`: the window."""

from __future__ import annotations

import argparse

from syncview.cli.console import Commands, project_path


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "desk",
        help="open the window (so does syncview alone)",
        description="Open the window in which picture, traces, map, notes and lesson plan lie under one playhead.",
    )
    parser.add_argument("project", nargs="?", type=project_path, metavar="PROJECT", help="a project to open")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Open the window and stay until it is closed."""
    from importlib.util import find_spec

    from syncview.errors import SyncviewError

    if find_spec("PyQt6") is None:
        raise SyncviewError(
            "the window needs PyQt6, which is not installed",
            "Install it with: pip install 'syncview[desk]'; all commands work without it, see syncview --help.",
        )
    try:
        from syncview.desk.app import display_fault
        from syncview.desk.app import run as run_desk
    except ImportError as error:
        raise SyncviewError(
            f"the window cannot start: a library is missing ({error})",
            "Install the libraries that Qt needs; all commands work without it, see syncview --help.",
        ) from error
    fault = display_fault()
    if fault is not None:
        raise SyncviewError(
            f"the window cannot be shown: {fault}",
            "Run it where a desktop is; all commands work without one, see syncview --help.",
        )
    return run_desk(arguments.project)
