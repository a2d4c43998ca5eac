"""A project and its circuit file: taking one up or leaving it, with the notes kept at their places on the ground."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from syncview.errors import OutputError, SyncviewError
from syncview.lesson.session import Session, open_session, session_of
from syncview.media_file import refer_to
from syncview.notes.note import Notes
from syncview.progress import Progress, silent
from syncview.project import Project, load
from syncview.track.circuit import Circuit, CircuitError
from syncview.track.circuit_file import read_circuit, write_new
from syncview.track.circuit_match import make_circuit
from syncview.track.distance import Track
from syncview.track.laps import Lap


@dataclass(frozen=True, slots=True)
class Taken:
    """A project after it took up or left a circuit file; not saved yet."""

    project: Project
    session: Session
    notes_moved: int | None
    """How many notes have another lap distance now; None when the circuit used before could not be opened any more,
    so that notes kept their old lap distances."""


def make_file(path: Path, output: Path, *, name: str, overwrite: bool, progress: Progress = silent) -> Circuit:
    """Make a circuit file from a project's laps, whatever circuit it uses. Raises as `open_session` does."""
    session = session_of(load(path), path, progress=progress)
    circuit = make_circuit(session.track, session.facts.curvature, session.corners, name=name)
    if output.exists() and not overwrite:
        raise OutputError("the file exists already and was kept", "Choose another name, or add --overwrite.",
                          where=output)  # fmt: skip
    write_new(circuit, output, overwrite=overwrite)
    return circuit


def take_up(path: Path, file: Path, *, progress: Progress = silent) -> Taken:
    """The project with that circuit in use; raises `CircuitError` when its laps do not lie on it."""
    circuit = read_circuit(file)
    project = load(path)
    session = session_of(project, path, circuit=circuit, circuit_file=file, progress=progress)
    return _taken(_before(path), replace(project, circuit=refer_to(file, path.parent)), session)


def leave(path: Path, *, progress: Progress = silent) -> Taken:
    """The project without a circuit file: corners are found in its own laps again."""
    project = load(path)
    if project.circuit is None:
        raise SyncviewError("the project uses no circuit file", "There is nothing to leave.", where=path.name)
    return _taken(_before(path), replace(project, circuit=None), session_of(project, path, progress=progress))


def place_at_media(path: Path, file: Path, media_s: float, *, progress: Progress = silent) -> float:
    """Lap distance on a circuit at a time of a project's recording. Raises as `session_of` and `Session.clock` do."""
    session = session_of(load(path), path, circuit=read_circuit(file), circuit_file=file, progress=progress)
    log_s = session.clock().to_log_s(np.array([media_s]))
    place_m = float(session.track.course_at(log_s)[0])
    if not np.isfinite(place_m):
        raise CircuitError(f"{media_s:g} s of the recording lies outside the laps",
                           "Give a time at which the car passes the marker on a lap.")  # fmt: skip
    return place_m % session.track.lap_length_m


def _before(path: Path) -> Session | None:
    """The session as the project used it so far; None when its circuit file has gone or fits no more."""
    try:
        return open_session(path)
    except SyncviewError:
        return None


def _taken(before: Session | None, project: Project, session: Session) -> Taken:
    if before is None:
        return Taken(project, replace(session, project=project), None)
    notes = moved_notes(project.notes, before.track, session.track)
    old_m = {note.key: note.lap_distance_m for note in project.notes}
    moved = sum(abs(note.lap_distance_m - old_m[note.key]) > 0.5 for note in notes)
    project = replace(project, notes=notes)
    return Taken(project, replace(session, project=project), moved)


def moved_notes(notes: Notes, before: Track, now: Track) -> Notes:
    """Notes at the same places on the ground on another lap distance: through the moment at which one lap was there."""
    lap = _shared_lap(before)
    begin_m = before.lap_begin_m(lap)
    result = []
    for note in notes:
        log_s = before.log_s_at_course(np.array([begin_m + note.lap_distance_m]))
        there_m = float(now.course_at(log_s)[0])
        if np.isfinite(there_m):
            note = replace(note, lap_distance_m=round(there_m % now.lap_length_m, 2))
        result.append(note)
    return tuple(sorted(result, key=lambda note: note.lap_distance_m))


def _shared_lap(track: Track) -> Lap:
    return track.best or track.timed[0]
