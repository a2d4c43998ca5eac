"""A project opened for work: its log by role, laps on one lap distance, corners and their facts, and the clock."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from syncview.channels import SessionLog, open_log
from syncview.clock.clock_map import ClockMap
from syncview.clock.log_lap_starts import LogLaps, find_lap_starts
from syncview.errors import LogError, ProjectError, UnsureError
from syncview.media_file import MediaFile, locate
from syncview.progress import Progress, silent
from syncview.project import Project, load
from syncview.track.circuit import Circuit
from syncview.track.circuit_file import read_circuit
from syncview.track.circuit_match import Placing, place_on_circuit
from syncview.track.corners import Corner
from syncview.track.distance import Track, build_track
from syncview.track.fact_basis import FactBasis, prepare_facts
from syncview.track.laps import Lap

if TYPE_CHECKING:
    from syncview.media.recording import Recording


@dataclass(frozen=True, slots=True, eq=False)
class Session:
    """What the data of a project say, ready for questions."""

    project: Project
    path: Path
    """Where the project lies."""
    log: SessionLog
    log_laps: LogLaps
    track: Track
    facts: FactBasis
    circuit: Circuit | None = None
    """The circuit file in use."""
    placing: Placing | None = None
    """How the laps were placed on it."""

    @property
    def corners(self) -> tuple[Corner, ...]:
        """In driving order."""
        return self.facts.corners

    def lap(self, number: int | None = None) -> Lap:
        """The timed lap of that number; else the one that the project chose, else the best.

        Raises `LogError` naming the laps there are.
        """
        wanted = self.project.lap if number is None else number
        if wanted is None:
            if self.track.best is not None:
                return self.track.best
            problem = "no lap stands for the driving, so none can be called best"
        else:
            for lap in self.track.timed:
                if lap.number == wanted:
                    return lap
            problem = f"there is no timed lap {wanted}"
        known = ", ".join(str(lap.number) for lap in self.track.timed) or "none"
        raise LogError(problem, f"Timed laps are: {known}; choose with --lap.", where=self.log.name)

    def clock(self) -> ClockMap:
        """The clock, when products may rest on it; raises `UnsureError` saying why not."""
        return usable_clock(self.project, self.path)


def usable_clock(project: Project, path: Path) -> ClockMap:
    """The project's clock; raises `UnsureError` when there is none or it is unsure and was not accepted."""
    saved = project.clock
    if saved is None:
        raise UnsureError(
            "picture and data are not on one clock yet", f"Run: syncview align {path.name}.", where=path.name
        )
    if not saved.usable:
        raise UnsureError(
            f"the clock is unsure: {'; '.join(saved.doubts)}",
            "Mark a lap start with: syncview align PROJECT --lap-start SECONDS; or look at it and add --accept.",
            where=path.name,
        )
    return saved.clock


def open_session(path: Path, *, progress: Progress = silent) -> Session:
    """Open a project's log and work out laps, lap distance, corners and what facts need.

    Raises `ProjectError`, `CircuitError`, `LogError` or `CodecError`.
    """
    project = load(path)
    if project.circuit is None:
        return session_of(project, path, progress=progress)
    file = locate_circuit(project.circuit, path)
    return session_of(project, path, circuit=read_circuit(file), circuit_file=file, progress=progress)


def session_of(project: Project, path: Path, *, circuit: Circuit | None = None, circuit_file: Path | None = None,
               progress: Progress = silent) -> Session:  # fmt: skip
    """A session placed on this circuit, whichever the project uses; on none, its own laps are the measure."""
    log = open_log_of(project, path)
    if circuit is None:
        log_laps = find_lap_starts(log)
        track = build_track(log, log_laps.starts_s, progress=progress)
        return Session(project, path, log, log_laps, track, prepare_facts(track, log))
    name = "" if circuit_file is None else str(circuit_file)
    log_laps, placing = laps_on_circuit(log, circuit, name=name, progress=progress)
    facts = prepare_facts(placing.track, log, circuit.corners, markers=circuit.markers)
    return Session(project, path, log, log_laps, placing.track, facts, circuit, placing)


def laps_on_circuit(
    log: SessionLog, circuit: Circuit, *, name: str = "", progress: Progress = silent
) -> tuple[LogLaps, Placing]:
    """A log's lap starts and where its laps lie on the circuit. Raises as `place_on_circuit` does."""
    log_laps = _lap_starts(log, circuit)
    return log_laps, place_on_circuit(log, log_laps.starts_s, circuit, name=name, progress=progress)


def _lap_starts(log: SessionLog, circuit: Circuit) -> LogLaps:
    """The log's own lap starts; of a log that does not count laps, its crossings of the circuit's start line."""
    if log.values("lap") is not None or log.values("lap_distance") is not None:
        return find_lap_starts(log)
    line = circuit.start_line
    here = None if line is None else (math.radians(line.lat_deg), math.radians(line.lon_deg))
    return find_lap_starts(log, start_line_rad=here)


def locate_circuit(file: MediaFile, path: Path) -> Path:
    """The circuit file of a project, found again when it was moved; it may have been edited meanwhile."""
    expected = path.parent / file.path
    if expected.is_file():
        return expected
    try:
        return locate(file, path.parent, what="circuit file")
    except ProjectError as error:
        remedy = f"Say where it is now with: syncview circuit use {path.name} FILE; or: circuit leave {path.name}."
        raise ProjectError(error.problem, remedy, where=expected) from None


def open_log_of(project: Project, path: Path) -> SessionLog:
    """The project's log, found again when it was moved."""
    file = locate(project.log, path.parent, what="log")
    return open_log(file, roles=project.roles, units=project.column_units)


def open_recording_of(project: Project, path: Path, progress: Progress = silent) -> Recording:
    """The project's recording, found again when it was moved."""
    from syncview.media.recording import open_recording

    return open_recording(locate(project.recording, path.parent, what="recording"), progress=progress)
