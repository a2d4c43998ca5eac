"""`syncview corners`: what the data say about each corner."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_lap, add_project, print_json, print_table, progress_shown

if TYPE_CHECKING:
    from syncview.lesson.corner_span import CornerSpan
    from syncview.lesson.session import Session
    from syncview.track.laps import Lap
    from syncview.track.markers import Marker


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "corners",
        help="list the corners with their facts",
        description="List the corners found in the data and what the lap does in each: where it brakes (metres before "
        "the apex), how hard, down to which gear, how slow, and where the throttle comes back (metres after the apex; "
        "minus is before it). Distances are along the lap from the start line.",
    )
    add_project(parser)
    add_lap(parser)
    parser.add_argument("--facts", type=int, metavar="N", help="every fact of corner N, with the channel it comes from")
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """List corners, or one corner's facts."""
    from syncview.lesson.corner_span import corner_spans
    from syncview.lesson.session import open_session

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
    lap = session.lap(arguments.lap)
    spans = corner_spans(session, lap)
    if arguments.facts is not None:
        spans = tuple(span for span in spans if span.corner.number == arguments.facts)
        _refuse_none(session, spans, arguments.facts)
    if arguments.json:
        print_json({"lap": lap.number, "corners": [_as_json(span) for span in spans]})
    elif arguments.facts is not None:
        _print_facts(spans[0], lap)
    else:
        _print(session, lap, spans)
    return 0


def _refuse_none(session: Session, spans: tuple[CornerSpan, ...], number: int) -> None:
    from syncview.errors import SyncviewError

    if not spans:
        known = ", ".join(str(corner.number) for corner in session.corners) or "none"
        raise SyncviewError(f"there is no corner {number}", f"Corners are: {known}.")


def _print(session: Session, lap: Lap, spans: tuple[CornerSpan, ...]) -> None:
    from syncview.lesson.corner_rows import HEADINGS, WORD_COLUMNS, corner_rows
    from syncview.shown_units import LENGTH, SPEED
    from syncview.track.laps import format_ms

    units = session.project.units
    print(
        f"lap {lap.number}, {format_ms(lap.time_ms)}; speeds in {SPEED[units].label}, "
        f"distances in {LENGTH[units].label}"
    )
    print_table(HEADINGS, corner_rows(spans, units), left=WORD_COLUMNS)


def _print_facts(span: CornerSpan, lap: Lap) -> None:
    print(f"corner {span.corner.number} {span.corner.name}".strip() + f" ({span.corner.side}), lap {lap.number}")
    print(f"  {span.corner.reason}")
    rows = []
    for name, fact in span.facts.named():
        value = (
            f"unknown: {fact.why_unknown}" if fact.value is None else f"{fact.value:.3f} {fact.unit}".replace(" 1", "")
        )
        rows.append((name, value, fact.source))
    print_table(("fact", "value, SI", "from"), rows, left=(0, 1, 2))
    for change in span.facts.gears.down or ():
        print(f"  gear {change.from_gear} to {change.to_gear} {change.before_apex_m:.0f} m before the apex")


def _markers(span: CornerSpan) -> dict[str, Marker]:
    """The marker that each group of facts is counted from."""
    facts = span.facts
    found = {"brake": facts.brake.marker, "turn_in": facts.turn_in.marker, "slowest": facts.slowest.marker,
             "apex": facts.apex.marker, "pickup": facts.pickup.marker, "full": facts.full.marker}  # fmt: skip
    return {name: marker for name, marker in found.items() if marker is not None}


def _as_json(span: CornerSpan) -> dict[str, Any]:
    from dataclasses import asdict

    return {
        "corner": asdict(span.corner),
        "begin_log_s": span.begin_log_s,
        "end_log_s": span.end_log_s,
        "facts": {
            name: {"value": fact.value, "unit": fact.unit, "source": fact.source, "why_unknown": fact.why_unknown}
            for name, fact in span.facts.named()
        },
        "markers": {name: asdict(marker) for name, marker in _markers(span).items()},
        "gears_down": [asdict(change) for change in span.facts.gears.down or ()],
    }
