"""`syncview laps`: the laps of a session."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_project, print_json, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.lesson.session import Session


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "laps",
        help="list the laps, choose the one to teach",
        description="List the laps with their times to the millisecond. The best lap that stands for the driving is "
        "taught unless you choose another.",
    )
    add_project(parser)
    parser.add_argument("--choose", metavar="N|best", help="teach this lap from now on")
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """List, and choose when asked."""
    from syncview.lesson.session import open_session

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    if arguments.choose is not None:
        session = _choose(session, arguments)
    if arguments.json:
        print_json(_as_json(session))
    else:
        _print(session)
    return 0


def _choose(session: Session, arguments: argparse.Namespace) -> Session:
    from dataclasses import replace

    from syncview.errors import SyncviewError
    from syncview.project import save

    number = None
    if arguments.choose != "best":
        if not arguments.choose.isdecimal():
            raise SyncviewError(f"“{arguments.choose}” is not a lap", "Give a lap's number, or best.")
        number = int(arguments.choose)
        session.lap(number)  # refuses a lap that is not there
    project = replace(session.project, lap=number)
    save(project, arguments.project)
    return replace(session, project=project)


def _print(session: Session) -> None:
    from syncview.track.laps import format_gap_ms, format_ms

    taught, best = session.lap(), session.track.best
    rows = []
    for lap in session.track.laps:
        words = [word for word, holds in (("best", lap == best), ("taught", lap == taught)) if holds]
        time = format_ms(lap.time_ms) if lap.timed else "–"
        gap = format_gap_ms(lap.time_ms - best.time_ms) if lap.timed and best is not None else ""
        rows.append((str(lap.number), time, gap, f"{lap.start_s:.3f}", "; ".join((*words, lap.remark)).strip("; ")))
    print_table(("lap", "time", "to best", "begins, log s", ""), rows, left=(4,))
    print(f"lap length {session.track.lap_length_m:.1f} m, by {session.track.source}; "
          f"lap starts by {session.log_laps.source}")  # fmt: skip
    for wrong in session.log_laps.rejected:
        warn(f"not a lap start, log {wrong.log_s:.2f} s: {wrong.reason}")
    for sentence in (*session.log.warnings, *session.track.warnings):
        warn(sentence)


def _as_json(session: Session) -> dict[str, Any]:
    taught, best = session.lap(), session.track.best
    return {
        "lap_length_m": session.track.lap_length_m,
        "lap_distance_source": session.track.source,
        "lap_start_source": session.log_laps.source,
        "best": None if best is None else best.number,
        "taught": taught.number,
        "laps": [
            {
                "number": lap.number,
                "timed": lap.timed,
                "time_ms": lap.time_ms if lap.timed else None,
                "start_s": lap.start_s,
                "end_s": lap.end_s,
                "remark": lap.remark,
            }
            for lap in session.track.laps
        ],
        "not_lap_starts": [{"log_s": wrong.log_s, "reason": wrong.reason} for wrong in session.log_laps.rejected],
    }
