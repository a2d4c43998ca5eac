"""Putting a project's picture and data on one clock: the steps that a person takes, each giving a changed project."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from syncview.clock.align import Alignment, align
from syncview.clock.log_lap_starts import LapStart, LogLaps, find_lap_starts
from syncview.clock.marks import HAND_FRAMES, Mark, Passes
from syncview.errors import ClockError, SyncviewError
from syncview.lesson.session import laps_on_circuit, locate_circuit, open_log_of, open_recording_of
from syncview.output_file import whole_file
from syncview.progress import Progress, part_of, silent
from syncview.project import Project, SavedClock
from syncview.track.circuit_file import read_circuit
from syncview.track.distance import Track, build_track
from syncview.track.laps import LapTable, lap_table

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
    laps, track = lap_starts_of(project, path, log)
    result = align(
        recording,
        log,
        marks=tuple(marks),
        use_sound=options.use_sound,
        use_picture=options.use_picture,
        laps=laps,
        passes=_passes(log, laps, track) if any(mark.lap_distance_m for mark in marks) else None,
        progress=part_of(progress, 0.1, 1.0),
    )
    fit = result.fit
    if fit.clock is None and options.accept:
        raise ClockError(f"there is no clock to accept: {fit.doubts[0]}", "Mark one lap start with --lap-start.")
    saved = None
    if fit.clock is not None:
        saved = SavedClock(fit.clock, fit.sure, fit.basis, fit.doubts, accepted=options.accept and not fit.sure)
    return Aligned(replace(project, marks=tuple(marks), clock=saved), result, recording)


def lap_starts_of(project: Project, path: Path, log: SessionLog) -> tuple[LogLaps, Track | None]:
    """Lap starts as every other command counts them, and the laps on the circuit file where the project uses one.

    A circuit's start line takes the place of the log's own. Raises as `open_session` does.
    """
    if project.circuit is None:
        laps = find_lap_starts(log)
        return LogLaps(_numbered(lap_table(log, laps.starts_s), laps.starts), laps.source, laps.rejected), None
    file = locate_circuit(project.circuit, path)
    laps, placing = laps_on_circuit(log, read_circuit(file), name=str(file))
    starts = laps.starts
    if placing.moved:
        timed = placing.track.timed
        moments = [*(lap.start_s for lap in timed), timed[-1].end_s]
        starts = tuple(LapStart(log_s, _place_sigma_s(placing.track, log_s), 0) for log_s in moments)
    source = f"{laps.source}; {placing.words}" if placing.moved else laps.source
    return LogLaps(_numbered(LapTable(placing.track.laps), starts), source, laps.rejected), placing.track


def _numbered(table: LapTable, starts: tuple[LapStart, ...]) -> tuple[LapStart, ...]:
    """Lap starts with the numbers that laps are listed under; with their own where no lap is complete."""
    if not table.timed:
        return starts
    first = table.timed[0].number
    return tuple(replace(start, number=first + i) for i, start in enumerate(starts))


def _passes(log: SessionLog, laps: LogLaps, track: Track | None) -> Passes:
    """Where each timed lap passes a lap distance, by the same lap distance that corners and notes use."""
    track = build_track(log, laps.starts_s) if track is None else track

    def passes(lap_distance_m: float) -> tuple[LapStart, ...]:
        if not 0 <= lap_distance_m < track.lap_length_m:
            raise ClockError(
                f"{lap_distance_m:g} m is not on the lap", f"Give 0 to {track.lap_length_m:.0f} metres.", where=log.name
            )
        found = []
        for lap in track.timed:
            log_s = float(track.traces[lap.number].log_s_at(np.array([lap_distance_m]))[0])
            if math.isfinite(log_s):
                found.append(LapStart(log_s, _place_sigma_s(track, log_s), lap.number))
        return tuple(found)

    return passes


PLACE_SIGMA_M = 1.0
"""A place on the lap is known to about a metre from lap to lap. Common practice, no source."""


def _place_sigma_s(track: Track, log_s: float) -> float:
    """What that leaves open in time, at the speed there."""
    ahead_m = track.course_at(np.array([log_s - 0.5, log_s + 0.5]))
    pace_mps = float(ahead_m[1] - ahead_m[0])
    return PLACE_SIGMA_M / pace_mps if pace_mps > PLACE_SIGMA_M else 1.0


def nudge_project(project: Project, text: str, frame_s: float, *, accept: bool = False) -> Project:
    """Shift the clock by hand: `1f`, `-2f` (frames later or earlier) or `+10ms`. Raises `ClockError`.

    A sure clock that is shifted further than its evidence allows is used on the person's word. One that was unsure
    stays so unless it is accepted.
    """
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
    taken = accept or saved.usable
    return replace(project, clock=SavedClock(clock, saved.sure and not doubts, basis, doubts, accepted=taken))


def parse_nudge(text: str, frame_s: float) -> float:
    """Seconds of `1f`, `-2f`, `+10ms`, `0.01s`; raises `SyncviewError` for anything else."""
    match = re.fullmatch(r"([+-]?\d+(?:\.\d+)?)\s*(f|ms|s)", text.strip())
    if match is None:
        raise SyncviewError(f"“{text}” is not a nudge", "Write frames (1f, -2f) or time (+10ms, -0.02s).")
    return float(match[1]) * {"f": frame_s, "ms": 1e-3, "s": 1.0}[match[2]]


def parse_mark(text: str) -> Mark:
    """`12.345`, `1:02.345` or `2=12.345` (lap = time) as a mark on the start line. Raises `SyncviewError`."""
    left, equals, time = text.rpartition("=")
    try:
        return Mark(_seconds(time), int(left) if equals else None)
    except ValueError:
        remedy = "Write LAP=SECONDS (2=12.345) or SECONDS; minutes may be given as 1:02.345."
        raise SyncviewError(f"“{text}” is not a mark", remedy) from None


def parse_place(text: str, markers: Mapping[str, float]) -> Mark:
    """`640=12.345` (metres = time), `b100-1=12.345` (marker = time), or `2/640=12.345` in lap 2, as a mark on a place.

    `markers`: the keys of markers with their lap distances. Raises `SyncviewError`.
    """
    place, equals, time = text.rpartition("=")
    lap, slash, place = place.rpartition("/")
    try:
        media_s, number = _seconds(time), int(lap) if slash else None
    except ValueError:
        equals = ""
    if not equals or not place:
        remedy = "Write METRES=SECONDS (640=12.345), MARKER=SECONDS, or with the lap 2/640=12.345."
        raise SyncviewError(f"“{text}” is not a mark on a place", remedy)
    try:
        return Mark(media_s, number, markers[place] if place in markers else float(place))
    except ValueError:
        known = f"The circuit file's markers are: {', '.join(markers)}." if markers else (
            "The project uses no circuit file with markers, so give metres."
        )  # fmt: skip
        raise SyncviewError(f"“{place}” is neither metres nor a marker", known) from None


def _seconds(text: str) -> float:
    minutes, colon, seconds = text.rpartition(":")
    return float(seconds) + 60 * (int(minutes) if colon else 0)


def markers_of(project: Project, path: Path) -> dict[str, float]:
    """Lap distance of each marker of the circuit file in use, by key; none without one. Raises `CircuitError`."""
    if project.circuit is None:
        return {}
    return {marker.key: marker.at_m for marker in read_circuit(locate_circuit(project.circuit, path)).markers}


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
