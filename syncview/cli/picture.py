"""`syncview picture`: the lap as a map, one corner as traces, or the gauges over one frame."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import Commands, add_lap, add_project, progress_shown, warn


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "picture",
        help="draw the lap as a map, one corner as traces, or the gauges over one frame",
        description="Draw the lap as a map coloured by speed, with corner numbers, braking and full-throttle points "
        "and markers; or with --corner the traces of one corner with its facts marked on them. The colours are told "
        "apart by all kinds of colour vision and in grey. The suffix says the kind: .png, .svg or .pdf. With --gauges "
        "one frame of the recording with the gauges on it, as a film would show it: always a .png.",
    )
    add_project(parser)
    parser.add_argument("output", type=Path, metavar="OUT", help="the picture, such as map.png, map.svg or map.pdf")
    kind = parser.add_mutually_exclusive_group()
    kind.add_argument("--corner", type=int, metavar="N", help="the traces of corner N instead of the map")
    kind.add_argument("--gauges", action="store_true", help="the gauges over one frame instead of the map")
    add_lap(parser)
    parser.add_argument(
        "--against",
        type=int,
        metavar="N",
        help="with --corner: another lap drawn thinly behind; with --gauges: the lap that the gap is to "
        "(default: the best other lap)",
    )
    parser.add_argument(
        "--at", type=float, metavar="S", help="with --gauges: second of the recording (default: the first braking)"
    )
    parser.add_argument(
        "--shape",
        choices=("as recorded", "wide", "tall", "square"),
        default="as recorded",
        help="with --gauges: the picture is cut to 16:9, 9:16 or 1:1",
    )
    parser.add_argument(
        "--without",
        action="append",
        default=[],
        metavar="GAUGE",
        help="with --gauges: leave one out (seesaw, lap_time, corner, gap, marker, map); may be repeated",
    )
    parser.add_argument("--overwrite", action="store_true", help="replace a file of that name")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Draw one picture."""
    if arguments.gauges:
        return _run_gauges(arguments)
    _refuse_stray_options(arguments)
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


def _refuse_stray_options(arguments: argparse.Namespace) -> None:
    from syncview.errors import SyncviewError

    if arguments.at is not None or arguments.without or arguments.shape != "as recorded":
        raise SyncviewError("--at, --shape and --without are about the gauges", "Add --gauges.")


def _run_gauges(arguments: argparse.Namespace) -> int:
    from syncview.errors import SyncviewError
    from syncview.gauges.choice import ALL_GAUGES
    from syncview.lesson.gauge_feed import usual_reference
    from syncview.lesson.gauge_preview import write_gauge_preview
    from syncview.lesson.lap_film import lap_film
    from syncview.lesson.session import open_recording_of, open_session
    from syncview.output_file import refuse_bad_target

    refuse_bad_target(arguments.output, overwrite=arguments.overwrite)
    try:
        choice = ALL_GAUGES.without(arguments.without)
    except ValueError as error:
        raise SyncviewError(str(error), "Name one of these with --without.") from None
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
        session.clock()  # refuses before anything slow is done
        recording = open_recording_of(session.project, arguments.project, progress)
    film = lap_film(session, recording, session.lap(arguments.lap))
    known = arguments.against is not None
    reference = session.lap(arguments.against) if known else usual_reference(session, film.lap)
    moment_s, notes = write_gauge_preview(
        film,
        arguments.output,
        media_s=arguments.at,
        shape=arguments.shape,
        choice=choice,
        reference=reference,
        overwrite=arguments.overwrite,
    )
    for sentence in notes:
        warn(sentence)
    print(f"drew {arguments.output}: the frame at {moment_s:.3f} s of the recording")
    return 0
