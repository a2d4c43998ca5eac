"""`syncview conditions`: what the day was like."""

from __future__ import annotations

import argparse
from pathlib import Path

from syncview.cli.console import (
    Commands,
    add_json,
    add_lap,
    add_project,
    pairs,
    print_json,
    print_table,
    progress_shown,
    warn,
)


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "conditions",
        help="say, show and draw the conditions of the day",
        description="Track and air temperature are read from the log where it holds them (median over the lap). The "
        "rest you say: time, weather, rubber, fuel, tyres, setup, and whatever you like to add. Quantities are shown "
        "in metric and US units (°C and °F, L and US gal, bar and psi, kg and lb, mm and in).",
    )
    add_project(parser)
    parser.add_argument("--set", action="append", default=[], metavar="NAME=TEXT", help="say an entry: fuel='12 L'")
    parser.add_argument("--unset", action="append", default=[], metavar="NAME", help="take back what was said")
    parser.add_argument("--picture", type=Path, metavar="FILE.png", help="draw the card as a picture, 1920 x 1080")
    parser.add_argument("--overwrite", action="store_true", help="replace the picture that exists")
    add_lap(parser)
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Change, print and draw the card."""
    from dataclasses import replace

    from syncview.lesson.conditions import condition_rows, with_condition, without_condition
    from syncview.lesson.session import open_session
    from syncview.project import load, save

    before = load(arguments.project)
    project = before
    for name in arguments.unset:
        project = without_condition(project, name)
    for name, text in pairs(arguments.set, "--set").items():
        project = with_condition(project, name, text)
    with progress_shown() as progress:
        session = replace(open_session(arguments.project, progress=progress), project=project)
    lap = session.lap(arguments.lap)
    rows = condition_rows(session, lap)
    if project != before:
        save(project, arguments.project)
    if arguments.picture is not None:
        from syncview.lesson.conditions_picture import write_card

        for sentence in write_card(rows, arguments.picture, units=project.units, overwrite=arguments.overwrite):
            warn(sentence)
    if arguments.json:
        print_json([
            {"name": r.name, "label": r.label, "metric": r.metric, "imperial": r.imperial, "source": r.source}
            for r in rows
        ])  # fmt: skip
    elif rows:
        print_table(("", "metric", "US", "from"), [(r.label, r.metric, r.imperial, r.source) for r in rows],
                    left=(0, 1, 2, 3))  # fmt: skip
    else:
        print("nothing is known of the day; say it with --set, for example --set fuel='12 L'")
    if arguments.picture is not None and not arguments.json:
        print(f"drew {arguments.picture}")
    return 0
