"""What an open project needs, read in threads. Knows no Qt."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.errors import SyncviewError

if TYPE_CHECKING:
    from pathlib import Path

    from syncview.lesson.lap_film import LapFilm
    from syncview.lesson.session import Session
    from syncview.media.recording import Recording
    from syncview.notes.note import Note
    from syncview.progress import Progress
    from syncview.project import Project


def read_session(project: Project, path: Path, progress: Progress) -> Session:
    """The data of a project that need not be saved yet; raises as `open_session` does."""
    from syncview.lesson.session import locate_circuit, session_of
    from syncview.track.circuit_file import read_circuit

    if project.circuit is None:
        return session_of(project, path, progress=progress)
    file = locate_circuit(project.circuit, path)
    return session_of(project, path, circuit=read_circuit(file), circuit_file=file, progress=progress)


def read_recording(project: Project, path: Path, progress: Progress) -> Recording:
    """Its recording, indexed."""
    from syncview.lesson.session import open_recording_of

    return open_recording_of(project, path, progress)


def film_of(session: Session, recording: Recording) -> LapFilm | None:
    """The taught lap on the recording's clock; None where it is not recorded whole or the clock cannot be used."""
    from syncview.lesson.lap_film import lap_film

    choices = session.project.lesson
    try:
        return lap_film(session, recording, session.lap(), before_s=choices.before_s, after_s=choices.after_s)
    except SyncviewError:
        return None  # the lesson's planning says why


def lap_distance_m(film: LapFilm, media_s: Fraction | float) -> float | None:
    """Lap distance of a film's lap at a media time; None outside that lap."""
    import numpy as np

    trace = film.session.track.traces[film.lap.number]
    log_s = film.clock.to_log_s(float(media_s))
    if not film.lap.start_s <= log_s <= film.lap.end_s:
        return None
    distance_m = float(trace.distance_at(np.array([log_s]))[0])
    return distance_m if math.isfinite(distance_m) else None


def media_s_at(film: LapFilm, lap_distance_m: float) -> Fraction | None:
    """Media time at which a film's lap passes that place; None where it does not."""
    media_s = film.media_s_at(lap_distance_m)
    return Fraction(media_s) if math.isfinite(media_s) else None


def note_near(project: Project, lap_distance_m: float, within_m: float) -> Note | None:
    """The note nearest to a place; None when there is none so near."""
    near = min(project.notes, key=lambda note: abs(note.lap_distance_m - lap_distance_m), default=None)
    return near if near is not None and abs(near.lap_distance_m - lap_distance_m) <= within_m else None
