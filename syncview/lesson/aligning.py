"""Putting a project's picture and data on one clock: the steps that a person takes, each giving a changed project."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from syncview.clock.align import Alignment, align
from syncview.clock.log_lap_starts import LapStart, find_lap_starts
from syncview.clock.marks import HAND_FRAMES, Mark, Passes
from syncview.errors import ClockError, SyncviewError
from syncview.lesson.session import open_log_of, open_recording_of
from syncview.output_file import whole_file
from syncview.progress import Progress, part_of, silent
from syncview.project import Project, SavedClock

if TYPE_CHECKING:
    from syncview.channels import SessionLog
    from syncview.media.recording import Recording


@dataclass(frozen=True, slots=True)
class AlignOptions:
    """What may be used to find the clock."""

    use_sound: bool = True
    use_picture: bool | None = None
    """None looks at the picture where the sound does not settle it."""
    accept: bool = False
    """Take an unsure clock on the person's word."""


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """The changed project and what was found."""

    project: Project
    result: Alignment
    recording: Recording


def align_project(
    project: Project,
    path: Path,
    marks: Sequence[Mark],
    *,
    options: AlignOptions,
    progress: Progress = silent,
) -> Aligned:
    """Find the clock with these marks and keep both in the project.

    Raises `ClockError` when an unsure clock is to be accepted and there is none, or a mark lies outside.
    """
    recording = open_recording_of(project, path, part_of(progress, 0.0, 0.1))
    log = open_log_of(project, path)
    result = align(
        recording,
        log,
        marks=tuple(marks),
        use_sound=options.use_sound,
        use_picture=options.use_picture,
        passes=_passes(log) if any(mark.lap_distance_m for mark in marks) else None,
        progress=part_of(progress, 0.1, 1.0),
    )
    fit = result.fit
    if fit.clock is None and options.accept:
        raise ClockError(f"there is no clock to accept: {fit.doubts[0]}", "Mark one lap start with --lap-start.")
    saved = None
    if fit.clock is not None:
        saved = SavedClock(fit.clock, fit.sure, fit.basis, fit.doubts, accepted=options.accept and not fit.sure)
    return Aligned(replace(project, marks=tuple(marks), clock=saved), result, recording)


def _passes(log: SessionLog) -> Passes:
    """Where each timed lap passes a lap distance, by the same lap distance that corners and notes use."""
    from syncview.track.distance import build_track

    starts = find_lap_starts(log)
    track = build_track(log, starts.starts_s)

    def passes(lap_distance_m: float) -> tuple[LapStart, ...]:
        if not 0 <= lap_distance_m < track.lap_length_m:
            raise ClockError(
                f"{lap_distance_m:g} m is not on the lap", f"Give 0 to {track.lap_length_m:.0f} metres.", where=log.name
            )
        found = []
        for lap in track.timed:
            log_s = float(track.traces[lap.number].log_s_at(np.array([lap_distance_m]))[0])
            if math.isfinite(log_s):
                found.append(LapStart(log_s, PLACE_SIGMA_S, lap.number))
        return tuple(found)

    return passes


PLACE_SIGMA_S = 0.02
"""A place on the lap is known to about a metre from lap to lap. Common practice, no source."""


def nudge_project(project: Project, text: str, frame_s: float) -> Project:
    """Shift the clock by hand: `1f`, `-2f` (frames later or earlier) or `+10ms`. Raises `ClockError`."""
    if project.clock is None:
        raise ClockError("there is no clock to nudge", "Run syncview align first.")
    by_s = parse_nudge(text, frame_s)
    saved = project.clock
    clock = replace(
        saved.clock,
        offset_s=saved.clock.offset_s + by_s,
        sigma_pivot_s=float(np.hypot(saved.clock.sigma_pivot_s, HAND_FRAMES * frame_s)),
    )
    doubts = saved.doubts
    if abs(by_s) > max(2 * frame_s, 1.5 * saved.clock.half_width_s(saved.clock.pivot_log_s)) and saved.sure:
        doubts = (*doubts, f"nudged {by_s * 1000:+.1f} ms, further than the evidence allows")
    basis = f"{saved.basis}; nudged by hand {by_s * 1000:+.1f} ms"
    return replace(project, clock=SavedClock(clock, saved.sure and not doubts, basis, doubts, accepted=True))


def parse_nudge(text: str, frame_s: float) -> float:
    """Seconds of `1f`, `-2f`, `+10ms`, `0.01s`; raises `SyncviewError` for anything else."""
    match = re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*(f|ms|s)", text.strip())
    if match is None:
        raise SyncviewError(f"“{text}” is not a nudge", "Write frames (1f, -2f) or time (+10ms, -0.02s).")
    return float(match[1]) * {"f": frame_s, "ms": 1e-3, "s": 1.0}[match[2]]


def parse_mark(text: str, *, on_lap: bool = True) -> Mark:
    """`12.345`, `1:02.345` or `2=12.345` (lap = time) as a mark on the start line; `640=12.345` (metres = time) as one
    on another place when `on_lap` is False. Raises `SyncviewError`.
    """
    left, equals, time = text.rpartition("=")
    minutes, colon, seconds = time.rpartition(":")
    try:
        media_s = float(seconds) + 60 * (int(minutes) if colon else 0)
        if on_lap:
            return Mark(media_s, int(left) if equals else None)
        return Mark(media_s, None, float(left))
    except ValueError:
        form = "LAP=SECONDS (2=12.345) or SECONDS" if on_lap else "METRES=SECONDS (640=12.345)"
        raise SyncviewError(f"“{text}” is not a mark", f"Write {form}; minutes may be given as 1:02.345.") from None


def save_evidence_files(aligned: Aligned, picture: Path, *, overwrite: bool) -> tuple[Path, Path]:
    """Write the picture of the evidence (PNG, PDF or SVG) and the same as JSON beside it."""
    import json

    from syncview.clock.evidence_picture import evidence_data, lap_start_frames, save_evidence
    from syncview.errors import OutputError

    if picture.suffix.lower() not in (".png", ".pdf", ".svg"):
        raise OutputError("a picture is a .png, .pdf or .svg file", "Choose one of these suffixes.", where=picture)
    data = picture.with_suffix(".json")
    title = f"{aligned.recording.path.name} and {Path(aligned.project.log.path).name}"
    with whole_file(picture, overwrite=overwrite) as part, whole_file(data, overwrite=overwrite) as data_part:
        frames = lap_start_frames(aligned.recording, aligned.result.fit)
        save_evidence(aligned.result, frames, title, part)
        data_part.write_text(json.dumps(evidence_data(aligned.result), ensure_ascii=False), "utf-8")
    return picture, data
