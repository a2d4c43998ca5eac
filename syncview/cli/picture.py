"""`syncview picture`: the lap as a map, or one corner as traces, for paper or screen."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import Commands, add_lap, add_project, progress_shown


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "picture",
        help="draw the lap as a map, or one corner as traces",
        description="Draw the lap as a map coloured by speed, with corner numbers, braking and full-throttle points "
        "and markers; or with --corner the traces of one corner with its facts marked on them. The colours are told "
        "apart by all kinds of colour vision and in grey. The suffix says the kind: .png, .svg or .pdf.",
    )
    add_project(parser)
    parser.add_argument("output", type=Path, metavar="OUT", help="the picture, such as map.png, map.svg or map.pdf")
    parser.add_argument("--corner", type=int, metavar="N", help="the traces of corner N instead of the map")
    add_lap(parser)
    parser.add_argument("--against", type=int, metavar="N", help="with --corner: another lap drawn thinly behind")
    parser.add_argument("--overwrite", action="store_true", help="replace a file of that name")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Draw one picture."""
    from syncview.lesson.pictures import draw_corner, draw_map, refuse_bad_output
    from syncview.lesson.session import open_session

    refuse_bad_output(arguments.output, overwrite=arguments.overwrite)
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    lap = session.lap(arguments.lap)
    if arguments.corner is None:
        draw_map(session, lap, arguments.output, overwrite=arguments.overwrite)
    else:
        other = None if arguments.against is None else session.lap(arguments.against)
        draw_corner(session, lap, arguments.corner, arguments.output, against=other, overwrite=arguments.overwrite)
    print(f"drew {arguments.output}")
    return 0
