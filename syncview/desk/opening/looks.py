"""What the three steps show, worked out from recording and log. Knows no Qt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.errors import LogError, MediaError, SyncviewError
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from syncview.channels import SessionLog
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording
    from syncview.project import Project
    from syncview_codecs.logs import LogTable

SPARK_POINTS = 240


@dataclass(frozen=True, slots=True, eq=False)
class FramePicture:
    """One frame, small."""

    media_s: Fraction
    """When it appears."""
    rgb: NDArray[np.uint8]
    """Shape (rows, columns, 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class Spark:
    """A channel at a glance: the least and the largest value in each of some hundred parts of the log."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    """Shape (k,), as written in the log; NaN where it has no value."""


@dataclass(frozen=True, slots=True, eq=False)
class LogLook:
    """A log with its columns matched to roles, as far as that goes."""

    table: LogTable
    log: SessionLog | None
    """Without the columns that do not fit their role; None when nothing else is left."""
    fault: SyncviewError | None = None
    """Why the log cannot be used like this: the first column that does not fit."""
    misfits: Mapping[str, str] = field(default_factory=dict)
    """Role -> column that does not fit it."""
    sparks: Mapping[str, Spark] = field(default_factory=dict)
    """By column."""
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Least and largest value of each column, as written."""


def frames_at(
    recording: Recording, times_s: Sequence[Fraction | float], *, width: int = 320, progress: Progress = silent
) -> list[FramePicture | None]:
    """The frames on screen at these media times; None for one outside the recording or damaged."""
    import numpy as np

    from syncview.media.reading import FrameReader
    from syncview.media.turning import upright

    height = max(2, round(width * recording.display_height / recording.display_width))
    found: list[FramePicture | None] = []
    with FrameReader(recording) as reader:
        for number, time_s in enumerate(times_s):
            progress(number / len(times_s), "")
            try:
                index = recording.frames.index_at(time_s)
                picture = upright(reader.frame(index), recording.turn)
            except (ValueError, MediaError):
                found.append(None)
                continue
            small = picture.reformat(width=width, height=height, format="rgb24")
            rgb = np.ascontiguousarray(small.to_ndarray(), dtype=np.uint8)
            found.append(FramePicture(recording.frames.media_s(index), rgb))
    return found


def read_table(path: Path) -> LogTable:
    """The log's columns; raises `LogError` or `CodecError`."""
    from syncview_codecs.logs import read_log

    try:
        return read_log(path)
    except OSError as error:
        raise LogError(f"the file cannot be read ({error})", "Check its permissions.", where=path.name) from error


def look_at_log(table: LogTable, roles: Mapping[str, str], units: Mapping[str, str]) -> LogLook:
    """Match a log's columns; a column that does not fit is told, not raised."""
    sparks, ranges = {}, {}
    for channel in table.channels:
        written = as_written(table, channel.name)
        sparks[channel.name] = _spark(written)
        ranges[channel.name] = _range(written)
    log, fault, misfits = _matched(table, roles, units)
    return LogLook(table, log, fault, misfits, sparks, ranges)


def _matched(
    table: LogTable, roles: Mapping[str, str], units: Mapping[str, str]
) -> tuple[SessionLog | None, SyncviewError | None, dict[str, str]]:
    """Match as far as it goes: a column that does not fit is noted and left out of the next try."""
    from dataclasses import replace

    from syncview.channels import ROLES, match_roles

    first: SyncviewError | None = None
    misfits: dict[str, str] = {}
    left = table
    for _try in range(len(table.channels) + 1):
        names = {channel.name for channel in left.channels}
        try:
            log = match_roles(
                left, roles={role: column for role, column in roles.items() if column in names},
                units={column: unit for column, unit in units.items() if column in names},
            )  # fmt: skip
        except SyncviewError as error:
            first = first or error
            wrong = next((name for name in names if f"“{name}”" in error.problem), None)
            if wrong is None:
                wrong = next((column for column, unit in units.items() if f"“{unit}”" in error.problem), None)
            if wrong is None:
                return None, first, misfits
            role = next((role.name for role in ROLES if f"the {role.words} " in f"{error.problem} "), None)
            if role is not None:
                misfits[role] = wrong
            left = replace(left, channels=tuple(channel for channel in left.channels if channel.name != wrong))
        else:
            return log, first, misfits
    return None, first, misfits


def as_written(table: LogTable, column: str) -> NDArray[np.float64]:
    """A column's values in the unit that the log states."""
    from syncview_codecs.logs.units import conversion

    channel = table.channel(column)
    assert channel is not None
    known = conversion(channel.written_unit)
    return channel.values if known is None else (channel.values - known.shift) / known.scale


def _spark(values: NDArray[np.float64]) -> Spark:
    import numpy as np

    parts = min(SPARK_POINTS, values.size)
    begins = np.linspace(0, values.size, parts, endpoint=False).astype(np.int64)
    return Spark(np.fmin.reduceat(values, begins), np.fmax.reduceat(values, begins))


def _range(values: NDArray[np.float64]) -> tuple[float, float]:
    import numpy as np

    good = values[np.isfinite(values)]
    return (float(good.min()), float(good.max())) if good.size else (float("nan"), float("nan"))


def new_project(
    recording: Path, log: Path, path: Path, *, roles: Mapping[str, str], column_units: Mapping[str, str], units: str
) -> Project:
    """A project that refers to both, saved at `path`; raises `ProjectError` when one of that name exists."""
    from syncview.errors import ProjectError
    from syncview.media_file import refer_to
    from syncview.project import Project, save

    if path.exists():
        raise ProjectError("a project of that name exists", "Open it, or choose another name.", where=path.name)
    project = Project(
        recording=refer_to(recording, path.parent),
        log=refer_to(log, path.parent),
        roles=dict(roles),
        column_units=dict(column_units),
        units="imperial" if units == "imperial" else "metric",
    )
    save(project, path)
    return project


def free_project_path(recording: Path) -> Path:
    """Beside the recording, named after it, with a number when that name is taken."""
    number = 1
    path = recording.with_name(f"{recording.stem}.syncview.json")
    while path.exists():
        number += 1
        path = recording.with_name(f"{recording.stem}-{number}.syncview.json")
    return path


def evidence_png(aligned_result: object, frames: Sequence[object], title: str) -> bytes:
    """The picture of the evidence."""
    import io

    from syncview.clock.align import Alignment
    from syncview.clock.evidence_picture import LapStartFrame, draw_evidence

    assert isinstance(aligned_result, Alignment)
    shown = [frame for frame in frames if isinstance(frame, LapStartFrame)]
    stream = io.BytesIO()
    draw_evidence(aligned_result, shown, title).savefig(stream, format="png")
    return stream.getvalue()


def lap_speeds(session: Session, number: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lap distance in metres and speed in m/s of one lap, at some hundred places; NaN where the log has no speed."""
    import numpy as np

    trace = session.track.traces[number]
    at_m = np.linspace(0, session.track.lap_length_m, 400)
    speed = session.log.at("speed", trace.log_s_at(at_m))
    return at_m, np.full(at_m.shape, np.nan) if speed is None else speed
