"""`syncview align`: put picture and data on one clock."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_project, print_json, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.clock.align import Alignment
    from syncview.clock.marks import Mark
    from syncview.media.recording import Recording


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "align",
        help="put picture and data on one clock",
        description="Find the clock: media seconds = rate x log seconds + offset. The engine's sound is compared with "
        "the logged engine speed; lap starts that you mark are combined with it. When the result is not certain it "
        "says so and why, and products are refused until it is (exit code 5).",
    )
    add_project(parser)
    parser.add_argument(
        "--lap-start",
        action="append",
        default=[],
        metavar="[LAP=]SECONDS",
        help="the car crosses the start line at this time of the recording (seconds from its first frame, or m:ss.mmm);"
        " with LAP= also which lap begins there; may be given several times",
    )
    parser.add_argument("--forget-marks", action="store_true", help="drop the lap starts marked earlier")
    parser.add_argument("--no-sound", action="store_true", help="rest on marks alone")
    parser.add_argument(
        "--accept", action="store_true", help="use the clock although it is unsure, on your own word; look at it first"
    )
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Align, save, report."""
    from dataclasses import replace

    from syncview.clock.align import align
    from syncview.errors import ClockError
    from syncview.lesson.session import open_log_of, open_recording_of
    from syncview.project import SavedClock, load, save

    project = load(arguments.project)
    kept = () if arguments.forget_marks else project.marks
    marks = tuple(dict.fromkeys((*kept, *(parse_mark(text) for text in arguments.lap_start))))
    with progress_shown() as progress:
        recording = open_recording_of(project, arguments.project, progress)
        log = open_log_of(project, arguments.project)
        result = align(recording, log, marks=marks, use_sound=not arguments.no_sound, progress=progress)
    fit = result.fit
    if fit.clock is None and arguments.accept:
        raise ClockError(f"there is no clock to accept: {fit.doubts[0]}", "Mark one lap start with --lap-start.")
    saved = None
    if fit.clock is not None:
        saved = SavedClock(fit.clock, fit.sure, fit.basis, fit.doubts, accepted=arguments.accept and not fit.sure)
    save(replace(project, marks=marks, clock=saved), arguments.project)
    if arguments.json:
        print_json(_as_json(result, recording))
    else:
        _print(result, recording)
    if saved is None or not saved.usable:
        return ClockError.exit_code
    return 0


def parse_mark(text: str) -> Mark:
    """`12.345`, `1:02.345` or `2=12.345` as a mark; raises `SyncviewError`."""
    from syncview.clock.marks import Mark
    from syncview.errors import SyncviewError

    lap, equals, time = text.rpartition("=")
    minutes, colon, seconds = time.rpartition(":")
    try:
        media_s = float(seconds) + 60 * (int(minutes) if colon else 0)
        return Mark(media_s, int(lap) if equals else None)
    except ValueError:
        raise SyncviewError(
            f"“{text}” is not a lap start", "Write seconds (12.345), minutes (1:02.345), or LAP=SECONDS (2=12.345)."
        ) from None


def _ends(recording: Recording, result: Alignment) -> list[tuple[str, float]]:
    """Start, middle and end of the recording on the log's clock."""
    assert result.fit.clock is not None
    end = recording.duration_s
    return [
        (name, result.fit.clock.to_log_s(media_s))
        for name, media_s in (("start", 0.0), ("middle", end / 2), ("end", end))
    ]


def _print(result: Alignment, recording: Recording) -> None:
    fit = result.fit
    if fit.clock is None:
        print("UNSURE: no clock was found")
    else:
        print(f"{'sure' if fit.sure else 'UNSURE'}: by {fit.basis}")
        print(f"log 0 s is at {fit.clock.offset_s:+.4f} s of the recording, whose clock runs "
              f"{fit.clock.drift_ppm:+.1f} ± {fit.clock.sigma_rate * 1.96e6:.1f} ppm against the log's")  # fmt: skip
        widths = ", ".join(
            f"{name} ± {fit.clock.half_width_s(at) * 1000:.1f} ms" for name, at in _ends(recording, result)
        )
        print(f"uncertainty (95 %): {widths}")
    if fit.residuals:
        rows = [
            (str(r.lap), f"{r.log_s:.3f}", f"{r.media_s:.3f}", _ms(r.evidence_s), _ms(r.mark_s)) for r in fit.residuals
        ]
        print_table(("start of lap", "log s", "recording s", "evidence says", "mark says"), rows)
    for doubt in fit.doubts:
        warn(doubt)
    for wrong in result.laps.rejected:
        warn(f"not a lap start, log {wrong.log_s:.2f} s: {wrong.reason}")
    if not fit.sure:
        for candidate in fit.candidates:
            print(f"  candidate: offset {candidate.offset_s:+.3f} s, {candidate.drift_ppm:+.0f} ppm ({candidate.why})")


def _ms(seconds: float | None) -> str:
    return "–" if seconds is None else f"{seconds * 1000:+.1f} ms"


def _as_json(result: Alignment, recording: Recording) -> dict[str, Any]:
    fit, clock = result.fit, result.fit.clock
    return {
        "sure": fit.sure,
        "basis": fit.basis,
        "doubts": list(fit.doubts),
        "clock": None
        if clock is None
        else {
            "offset_s": clock.offset_s,
            "rate": clock.rate,
            "drift_ppm": clock.drift_ppm,
            "half_width_95_s": {name: clock.half_width_s(at) for name, at in _ends(recording, result)},
        },
        "lap_starts": [
            {"lap": r.lap, "log_s": r.log_s, "media_s": r.media_s, "evidence_s": r.evidence_s, "mark_s": r.mark_s}
            for r in fit.residuals
        ],
        "lap_source": result.laps.source,
        "not_lap_starts": [{"log_s": wrong.log_s, "reason": wrong.reason} for wrong in result.laps.rejected],
        "candidates": [{"offset_s": c.offset_s, "drift_ppm": c.drift_ppm, "why": c.why} for c in fit.candidates],
    }
