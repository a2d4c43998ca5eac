"""`syncview consistency`: how steadily the corners are driven over many laps, and what the best of each would make."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_project, print_json, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.shown_units import ShownUnit, Units
    from syncview.track.many_laps import BestSections, CornerSpread, ManyLaps


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "consistency",
        help="how steadily each corner is driven, and the lap made of the best sections",
        description="Take all laps together that stand for the driving (those left out are named with the reason). "
        "Corners are listed from the least steady to the steadiest: median and spread (median absolute deviation) of "
        "the time in the corner's section and of braking point, slowest speed and throttle. The lap made of the best "
        "sections is an upper bound of the pace: nobody has driven it.",
    )
    add_project(parser)
    parser.add_argument("--facts", type=int, metavar="N", help="median, spread and best of every fact of corner N")
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """List corners by steadiness, or one corner's facts."""
    from syncview.lesson.session import open_session
    from syncview.track.facts import session_facts
    from syncview.track.many_laps import many_laps

    with progress_shown() as progress:
        session = open_session(arguments.project, progress=progress)
        together = many_laps(session.facts, session_facts(session.facts, progress=progress))
    if arguments.json:
        print_json(_as_json(together))
        return 0
    for verdict in together.verdicts:
        if not verdict.stands:
            warn(f"lap {verdict.lap.number} is left out: {'; '.join(verdict.reasons)}")
    if arguments.facts is not None:
        _print_facts(_one(together, arguments.facts))
    else:
        _print(together, session.project.units)
    return 0


def _one(together: ManyLaps, number: int) -> CornerSpread:
    from syncview.errors import SyncviewError

    for each in together.corners:
        if each.corner.number == number:
            return each
    known = ", ".join(str(each.corner.number) for each in together.corners) or "none"
    raise SyncviewError(f"there is no corner {number} to compare", f"Corners that are not flat: {known}.")


def _print(together: ManyLaps, units: Units) -> None:
    from syncview.shown_units import LENGTH, SPEED

    speed, length = SPEED[units], LENGTH[units]
    laps = [v.lap.number for v in together.verdicts if v.stands]
    print(f"{len(laps)} laps stand for the driving: {', '.join(map(str, laps)) or 'none'}; "
          f"median ± spread, speeds in {speed.label}, distances in {length.label}, times in s")  # fmt: skip
    rows = [
        (
            f"{each.corner.number} {each.corner.name}".strip(),
            f"{each.time_mad_s:.3f}",
            f"{each.behind_best_s:.3f}",
            str(each.quickest_lap),
            _shown(each, "brake.before_apex_m", length),
            _shown(each, "slowest.speed_mps", speed),
            _shown(each, "pickup.after_apex_m", length),
            _shown(each, "full.after_apex_m", length),
            _shown(each, "span.exit_speed_mps", speed),
        )
        for each in together.ranking
    ]
    print_table(
        ("corner", "spread", "to best", "best lap", "brakes before", "slowest", "throttle after", "full after", "exit"),
        rows,
    )  # fmt: skip
    if together.best is not None:
        _print_best(together.best, speed)


def _shown(each: CornerSpread, fact: str, unit: ShownUnit) -> str:
    found = each.spread(fact)
    return "–" if found is None else f"{unit.of(found.median):.0f} ± {unit.of(found.mad):.1f}"


def _print_best(best: BestSections, speed: ShownUnit) -> None:
    from syncview.track.laps import format_gap_ms, format_ms

    print()
    for section, lap, time_s in zip(best.sections, best.laps, best.times_s, strict=True):
        print(f"  {time_s:7.3f} s  lap {lap:<3d} {section.words}")
    print(f"{format_ms(best.time_ms):>11s}  made of the best sections, {format_gap_ms(best.to_best_ms)} to lap "
          f"{best.best_lap}, the best one driven")  # fmt: skip
    unlike = max(map(abs, best.joins), default=0.0)
    print("This is an upper bound of the pace, driven by nobody: where its pieces meet, their speeds differ by up to "
          f"{speed.of(unlike):.0f} {speed.label}.")  # fmt: skip


def _print_facts(each: CornerSpread) -> None:
    print(f"corner {each.corner.number} {each.corner.name}".strip() + f", section spread {each.time_mad_s:.3f} s")
    rows = []
    for found in each.facts:
        best = ("–", "–") if found.best is None else (f"{found.best:.3f}", str(found.best_lap))
        unit = "–" if found.unit == "1" else found.unit
        rows.append((found.fact, unit, str(found.count), f"{found.median:.3f}", f"{found.mad:.3f}", *best))
    print_table(("fact", "unit", "laps", "median", "spread", "best", "on lap"), rows, left=(0, 1))


def _as_json(together: ManyLaps) -> dict[str, Any]:
    from dataclasses import asdict

    best = together.best
    return {
        "laps": [
            {"number": v.lap.number, "time_ms": v.lap.time_ms, "stands": v.stands, "reasons": v.reasons}
            for v in together.verdicts
        ],
        "corners_least_steady_first": [
            {
                "number": each.corner.number,
                "name": each.corner.name,
                "section_time_mad_s": each.time_mad_s,
                "behind_best_s": each.behind_best_s,
                "quickest_lap": each.quickest_lap,
                "facts": {found.fact: asdict(found) for found in each.facts},
            }
            for each in together.ranking
        ],
        "best_sections": None if best is None else {
            "upper_bound": "the best sections of several laps joined; driven by nobody",
            "time_ms": best.time_ms,
            "best_lap": best.best_lap,
            "to_best_lap_ms": best.to_best_ms,
            "sections": [
                {"begin_m": s.begin_m, "end_m": s.end_m, "corners": s.corners, "lap": lap, "time_s": time_s}
                for s, lap, time_s in zip(best.sections, best.laps, best.times_s, strict=True)
            ],
            "speed_steps_mps": best.joins,
        },
    }  # fmt: skip
