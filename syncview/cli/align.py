"""`syncview align`: put picture and data on one clock."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncview.cli.console import Commands, add_json, add_project, print_json, print_table, progress_shown, warn

if TYPE_CHECKING:
    from syncview.clock.align import Alignment
    from syncview.clock.clock_map import ClockMap
    from syncview.clock.marks import Mark
    from syncview.media.recording import Recording


def add_to(commands: Commands) -> None:
    """Add the command."""
    parser = commands.add_parser(
        "align",
        help="put picture and data on one clock",
        description="Find the clock: media seconds = rate x log seconds + offset. The engine's sound is compared with "
        "the logged engine speed; where that does not settle it, the motion of the picture with the turning of the "
        "car; the pictures at the lap starts must be of the same place. What you mark is combined with it. When the "
        "result is not certain it says so and why, and products are refused until it is (exit code 5).",
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
    parser.add_argument(
        "--place",
        action="append",
        default=[],
        metavar="[LAP/]PLACE=SECONDS",
        help="the car passes this lap distance (in metres), or this marker of the circuit file (its key), at this time "
        "of the recording; with LAP/ also in which lap; may be given several times",
    )
    parser.add_argument("--forget-marks", action="store_true", help="drop the marks given earlier")
    # argparse would take -1f for an option; what begins like a number is a value here.
    parser._negative_number_matcher = re.compile(r"-[\d.]")
    parser.add_argument("--nudge", metavar="BY", help="only shift the clock found before: 1f, -2f (frames) or +10ms")
    parser.add_argument("--no-sound", action="store_true", help="do not listen to the engine")
    looks = parser.add_mutually_exclusive_group()
    looks.add_argument("--picture", action="store_true", help="watch the whole picture even when the sound settles it")
    looks.add_argument("--no-picture", action="store_true", help="do not look at the picture at all")
    parser.add_argument(
        "--accept", action="store_true", help="use the clock although it is unsure, on your own word; look at it first"
    )
    parser.add_argument(
        "--evidence", type=Path, metavar="FILE.png", help="draw the evidence (also .pdf, .svg), with the data as .json"
    )
    parser.add_argument("--overwrite", action="store_true", help="replace an evidence picture that exists")
    add_json(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Align, save, report."""
    from syncview.errors import ClockError
    from syncview.lesson.aligning import (
        AlignOptions,
        align_project,
        markers_of,
        parse_mark,
        parse_place,
        save_evidence_files,
    )
    from syncview.output_file import refuse_bad_target
    from syncview.project import load, save

    project = load(arguments.project)
    if arguments.nudge is not None:
        return _nudge(arguments)
    if arguments.evidence is not None:
        refuse_bad_target(arguments.evidence, overwrite=arguments.overwrite)
    kept = () if arguments.forget_marks else project.marks
    markers = markers_of(project, arguments.project) if arguments.place else {}
    given = (
        *(parse_mark(text) for text in arguments.lap_start),
        *(parse_place(text, markers) for text in arguments.place),
    )
    look = True if arguments.picture else False if arguments.no_picture else None
    options = AlignOptions(not arguments.no_sound, look, arguments.accept)
    with progress_shown() as progress:
        aligned = align_project(
            project, arguments.project, tuple(dict.fromkeys((*kept, *given))), options=options, progress=progress
        )
    save(aligned.project, arguments.project)
    if arguments.json:
        print_json(_as_json(aligned.result, aligned.recording))
    else:
        _print(aligned.result, aligned.recording)
        if kept and not aligned.result.fit.sure:
            warn(f"marks given earlier count, too ({', '.join(map(_mark_words, kept))}); --forget-marks drops them")
    if arguments.evidence is not None:
        for path in save_evidence_files(aligned, arguments.evidence, overwrite=arguments.overwrite):
            warn(f"the evidence is in {path}")
    clock = aligned.project.clock
    return 0 if clock is not None and clock.usable else ClockError.exit_code


def _nudge(arguments: argparse.Namespace) -> int:
    from syncview.errors import ClockError, SyncviewError
    from syncview.lesson.aligning import nudge_project
    from syncview.lesson.session import open_recording_of
    from syncview.project import load, save

    if arguments.lap_start or arguments.place or arguments.forget_marks or arguments.evidence:
        problem = "a nudge only shifts the clock found before, and looks at no mark or evidence"
        raise SyncviewError(problem, "Give --nudge alone, before or after the other command.")
    project = load(arguments.project)
    with progress_shown() as progress:
        recording = open_recording_of(project, arguments.project, progress)
    frame_s = float(1 / recording.nominal_rate)
    project = nudge_project(project, arguments.nudge, frame_s, accept=arguments.accept)
    save(project, arguments.project)
    assert project.clock is not None  # nudge_project refuses a project without one
    print(f"log 0 s is now at {project.clock.clock.offset_s:+.4f} s of the recording")
    for doubt in project.clock.doubts:
        warn(doubt)
    if project.clock.usable:
        return 0
    warn("the clock was unsure before and still is; look at it and add --accept to use it")
    return ClockError.exit_code


def _mark_words(mark: Mark) -> str:
    """A mark as it is given."""
    lap = "" if mark.lap is None else f"{mark.lap}"
    if mark.lap_distance_m:
        return f"{lap}/{mark.lap_distance_m:g}={mark.media_s:g}".removeprefix("/")
    return f"{lap}={mark.media_s:g}".removeprefix("=")


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
        print(f"log 0 s is at {fit.clock.offset_s:+.4f} s of the recording, whose clock runs {_drift(fit.clock)}")
        print(f"uncertainty (95 %): {_widths(result, recording)}")
    for pause in fit.clock.pauses if fit.clock is not None else ():
        print(f"the recording was stopped at log {pause.log_s:.1f} s; {pause.lost_s:.2f} s of it are missing")
    if fit.residuals:
        rows = [
            (str(r.lap), f"{r.log_s:.3f}", f"{r.media_s:.3f}", _ms(r.evidence_s), _ms(r.mark_s)) for r in fit.residuals
        ]
        print_table(("start of lap", "log s", "recording s", "evidence says", "mark says"), rows)
    for doubt in fit.doubts:
        warn(doubt)
    if any("mark one lap start" in doubt for doubt in fit.doubts):
        warn("a mark is --lap-start SECONDS, or --place METRES=SECONDS where no lap start is recorded")
    for wrong in result.laps.rejected:
        warn(f"left out of the lap starts, log {wrong.log_s:.2f} s: {wrong.reason}")
    if not fit.sure:
        for candidate in fit.candidates:
            print(f"  candidate: offset {candidate.offset_s:+.3f} s, {candidate.drift_ppm:+.0f} ppm ({candidate.why})")


def _drift(clock: ClockMap) -> str:
    if not clock.sigma_pivot_s:
        return "as the log's for all that is known"
    return f"{clock.drift_ppm:+.1f} ± {clock.sigma_rate * 1.96e6:.1f} ppm against the log's"


def _widths(result: Alignment, recording: Recording) -> str:
    clock = result.fit.clock
    assert clock is not None
    if not clock.sigma_pivot_s:
        return "unknown, too little could be compared"
    return ", ".join(f"{name} ± {clock.half_width_s(at) * 1000:.1f} ms" for name, at in _ends(recording, result))


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
            "pauses": [{"log_s": pause.log_s, "lost_s": pause.lost_s} for pause in clock.pauses],
            "half_width_95_s": {
                name: clock.half_width_s(at) if clock.sigma_pivot_s else None for name, at in _ends(recording, result)
            },
        },
        "lap_starts": [
            {"lap": r.lap, "log_s": r.log_s, "media_s": r.media_s, "evidence_s": r.evidence_s, "mark_s": r.mark_s}
            for r in fit.residuals
        ],
        "lap_source": result.laps.source,
        "not_lap_starts": [{"log_s": wrong.log_s, "reason": wrong.reason} for wrong in result.laps.rejected],
        "candidates": [{"offset_s": c.offset_s, "drift_ppm": c.drift_ppm, "why": c.why} for c in fit.candidates],
    }
