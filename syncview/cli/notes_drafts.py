"""`syncview notes draft` and `template`: first words for every corner, and how they are worded."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from syncview.cli.console import Commands, add_lap, add_project, print_table, progress_shown, warn


def add_draft(actions: Commands) -> None:
    """Add `notes draft`."""
    parser = actions.add_parser(
        "draft",
        help="draft a note for every corner from the facts",
        description="Write a note from the facts for every corner that has none. Drafts are a start: edit them. "
        "Drafts made earlier are replaced; notes that you wrote, edited or imported stay. A draft is kept short "
        "enough to be read while the corner lasts at the lesson's speed; how it is worded: syncview notes template.",
    )
    add_project(parser)
    add_lap(parser)
    parser.add_argument(
        "--speed", type=float, default=0.25, metavar="SHARE",
        help="share of full speed at which the lesson will go through the corners (default 0.25)",
    )  # fmt: skip
    parser.set_defaults(run=run_draft)


def add_template(actions: Commands) -> None:
    """Add `notes template`."""
    from argparse import RawDescriptionHelpFormatter

    parser = actions.add_parser(
        "template",
        help="see or change how drafts are worded",
        description="Drafts are worded by a template: text with {{ values }} and {% if value %} … {% endif %}, a\n"
        "small and safe part of the Jinja language (no loops, calls or files). --show prints the one in use, with a\n"
        "description at its top; save it, edit it, and --set it. --values lists what it may use.",
        formatter_class=RawDescriptionHelpFormatter,
    )
    add_project(parser)
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--show", action="store_true", help="print the template in use")
    what.add_argument("--values", action="store_true", help="list the values and filters")
    what.add_argument("--set", type=Path, metavar="FILE", help="use this template; it is tried on every corner first")
    what.add_argument("--reset", action="store_true", help="go back to the one that comes along")
    add_lap(parser)
    parser.set_defaults(run=run_template)


def run_draft(arguments: argparse.Namespace) -> int:
    """Drafts from facts, for corners without a note."""
    from syncview.lesson.drafting import draft_missing
    from syncview.lesson.session import open_session
    from syncview.project import save

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    drafted = draft_missing(session, session.lap(arguments.lap), speed=arguments.speed)
    save(drafted.project, arguments.project)
    for note in drafted.made:
        print(f"{note.key}  {note.lap_distance_m:.0f} m  {note.text}")
    for sentence in drafted.too_long:
        warn(sentence)
    if not drafted.made:
        print("every corner has a note already; nothing was drafted")
    return 0


def run_template(arguments: argparse.Namespace) -> int:
    """Show, list, set or reset the wording of drafts."""
    from syncview.notes.draft_values import FILTERS, VALUES
    from syncview.notes.templates import default_template
    from syncview.project import load, save

    if arguments.set is not None:
        return _set_template(arguments)
    project = load(arguments.project)
    if arguments.show:
        print((project.draft_template or default_template()).rstrip("\n"))
    elif arguments.values:
        print_table(("value", "meaning"), list(VALUES.items()), left=(0, 1))
        print()
        print_table(("filter", "meaning"), list(FILTERS.items()), left=(0, 1))
    else:
        save(replace(project, draft_template=""), arguments.project)
        print("drafts are worded by the template that comes along")
    return 0


def _set_template(arguments: argparse.Namespace) -> int:
    from syncview.errors import SyncviewError, describe_os_error
    from syncview.lesson.drafting import try_template
    from syncview.lesson.session import open_session
    from syncview.notes.templates import LONGEST_TEMPLATE, checked_template
    from syncview.project import save

    try:
        with arguments.set.open(encoding="utf-8-sig") as file:
            text = file.read(LONGEST_TEMPLATE + 1)
    except OSError as error:
        problem = f"the template cannot be read ({describe_os_error(error)})"
        raise SyncviewError(problem, "Check the path.", where=arguments.set) from error
    except ValueError as error:
        raise SyncviewError("the template is not UTF-8 text", "Save it as UTF-8.", where=arguments.set) from error
    checked_template(text)
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    drafts = try_template(session, session.lap(arguments.lap), text)
    save(replace(session.project, draft_template=text), arguments.project)
    print("drafts are worded by it from now on, for example:")
    for draft in drafts[:3]:
        print(f"  {draft}")
    return 0
