"""`syncview sheet`: the lap on paper."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import Commands, add_lap, add_project, progress_shown


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "sheet",
        help="write the lap as a PDF for the pit wall",
        description="The map, the conditions of the day, the facts of every corner, the notes, and the traces of each "
        "corner, on landscape pages that fit A4 and Letter and can be printed in grey. The cautions are on each page.",
    )
    add_project(parser)
    parser.add_argument("output", type=Path, metavar="SHEET.pdf", help="where to write it")
    add_lap(parser)
    parser.add_argument("--overwrite", action="store_true", help="replace a file of that name")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the sheet."""
    from syncview.errors import OutputError
    from syncview.lesson.pictures.sheet import write_sheet
    from syncview.lesson.session import open_session
    from syncview.output_file import refuse_bad_target

    output: Path = arguments.output
    if output.suffix.lower() != ".pdf":
        raise OutputError("the sheet is a PDF", "End the name with .pdf.", where=output)
    refuse_bad_target(output, overwrite=arguments.overwrite)
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
        pages = write_sheet(
            session, session.lap(arguments.lap), output, overwrite=arguments.overwrite, progress=progress
        )
    print(f"wrote {output}: {pages} pages")
    return 0
