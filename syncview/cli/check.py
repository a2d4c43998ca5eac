"""`syncview check`: whether what the notes say agrees with the data."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_lap, add_project, print_json, progress_shown, warn

if TYPE_CHECKING:
    from syncview.lesson.checking import CheckedNote
    from syncview.notes.check import Tolerances, Verdict

_TOLERANCES = (
    ("speed_kmh", "KM/H", "speeds (default 3; a round number may be 5 off)"),
    ("length_m", "M", "places: metres to the apex or past a board (default 8)"),
    ("at_m", "M", "“at the board”, “at the apex” (default 12)"),
    ("near_m", "M", "how far “just past” may be (default 25)"),
    ("pedal", "SHARE", "pedals, as a share of full travel (default 0.1)"),
    ("time_s", "S", "lap times, beyond the digit that is said (default 0.05)"),
    ("roughly", "FACTOR", "how much “about” widens all of these (default 2)"),
)


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "check",
        help="hold what the notes say against the data",
        description="Read what each note claims (gears, pedal percentages, speeds, places against boards and the apex, "
        "“flat”, “no brakes”, the wheel, the lap time) and compare it with the facts of the lap it is shown over: "
        "agrees, DISAGREES and by how much, or cannot be told and why. What is not plain is left alone. Reads "
        "English. Boards are known from the markers of the circuit file.",
        epilog="exit code 9 with --strict when a note disagrees",
    )
    add_project(parser)
    add_lap(parser)
    parser.add_argument("--strict", action="store_true", help="fail when a note disagrees with the data")
    add_json(parser)
    add_tolerances(parser)
    parser.set_defaults(run=run)


def add_tolerances(parser: argparse.ArgumentParser) -> None:
    """An option for each tolerance of the check."""
    group = parser.add_argument_group("tolerances", "how far what is said may be from what was measured")
    for name, metavar, words in _TOLERANCES:
        group.add_argument(f"--within-{name.replace('_', '-')}", type=float, metavar=metavar, help=words)


def tolerances_of(arguments: argparse.Namespace) -> Tolerances:
    """The tolerances that the options give; raises `SyncviewError` for one that is negative."""
    from syncview.errors import SyncviewError
    from syncview.notes.check import Tolerances

    given = {name: getattr(arguments, f"within_{name}") for name, _, _ in _TOLERANCES}
    for name, value in given.items():
        if value is not None and not 0 <= value < float("inf"):
            raise SyncviewError(f"--within-{name.replace('_', '-')} cannot be {value:g}", "Give a number, 0 or more.")
    return Tolerances(**{name: value for name, value in given.items() if value is not None})


def run(arguments: argparse.Namespace) -> int:
    """Check the notes."""
    from syncview.lesson.checking import DisagreementError, check_notes
    from syncview.lesson.session import open_session

    tolerances = tolerances_of(arguments)
    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
        lap = session.lap(arguments.lap)
        checked = check_notes(session, lap, tolerances=tolerances)
    wrong = sum(len(one.disagreements) for one in checked)
    if arguments.json:
        print_json({"lap": lap.number, "disagree": wrong, "notes": [_as_json(one) for one in checked]})
    else:
        _print(checked, lap.number)
        if not session.facts.markers:
            warn("no boards are known, so places against boards cannot be told: they stand in a circuit file")
    return DisagreementError.exit_code if wrong and arguments.strict else 0


_MARKS = {"agree": "agrees", "disagree": "DISAGREES", "cannot tell": "?"}


def _print(checked: tuple[CheckedNote, ...], lap: int) -> None:
    counts = dict.fromkeys(_MARKS, 0)
    for one in checked:
        print(f"{one.note.key}  {one.note.lap_distance_m:.0f} m  {one.corner or 'at no corner'}")
        for verdict in one.verdicts:
            counts[verdict.outcome] += 1
            print(f"  {_MARKS[verdict.outcome]:<9}  “{_words(one, verdict)}”: {verdict.why}")
        if not one.verdicts:
            print("  no claim that can be checked")
    claims = sum(counts.values())
    print(
        f"lap {lap}: {claims} claims in {len(checked)} notes; {counts['agree']} agree, "
        f"{counts['disagree']} disagree, {counts['cannot tell']} cannot be told"
    )


def _words(one: CheckedNote, verdict: Verdict) -> str:
    return " ".join(one.note.text[verdict.claim.begin : verdict.claim.end].split())


def _as_json(one: CheckedNote) -> dict[str, Any]:
    return {
        "key": one.note.key,
        "lap_distance_m": one.note.lap_distance_m,
        "corner": one.corner,
        "text": one.note.text,
        "claims": [
            {
                "quantity": v.claim.quantity, "words": _words(one, v), "begin": v.claim.begin, "end": v.claim.end,
                "value": v.claim.value, "unit": v.claim.unit, "role": v.claim.role, "marker": v.claim.marker,
                "about": v.claim.about, "negated": v.claim.negated, "outcome": v.outcome, "why": v.why,
                "measured": v.measured, "off_by": v.off_by,
            }
            for v in one.verdicts
        ],
    }  # fmt: skip
