"""Whether a session was driven on a circuit, and where its laps lie on it.

By position where both have it: the session's own line must lie on the circuit's. Else by how the lap bends: both
curvatures, as functions of the share of the lap, are compared at every rotation. Limits are common practice, no
source. What fits badly, backwards or at two places is refused in words and numbers; nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from syncview.channels import SessionLog
from syncview.progress import Progress, silent
from syncview.track.circuit import Circuit, CircuitError, LinePoints, StartLine
from syncview.track.corners import Corner
from syncview.track.curvature import lap_curvature
from syncview.track.curvature_grid import LapCurvature
from syncview.track.distance import Track, build_track
from syncview.track.geometry import smooth
from syncview.track.reference_line import ReferenceLine

FloatArray = NDArray[np.float64]

ON_LINE_M = 15.0
"""A place of the session's line this near to the circuit's lies on it: a track's width, and a receiver's error."""
ON_LINE_SHARE = 0.97
USUAL_OFF_M = 8.0
"""Half of the lap must lie nearer than this, and in the same direction of travel."""
LENGTH_AGREES = 0.04
"""Lap lengths by speed differ by a per cent or two (tyre, sensor, line)."""
SAME_LINE_M = 3.0
"""Lap starts this near to the circuit's start line are taken to be on it: a receiver is no better."""
BESIDE_M = 60.0
"""A marker further from the line than this cannot be meant."""
POINT_SPACING_M = 4.0
BEND_CELL_M = 2.0
BEND_SMOOTHING_M = 8.0
FITS = 0.85
"""Least correlation of two curvatures along the lap."""
SECOND_BEST = 0.9
"""A second place at which the pattern fits, this share as well as the best, makes it unsure."""
SAME_PLACE_M = 100.0
"""Rotations nearer than this to the best are the same place: corners are about this long."""


@dataclass(frozen=True, slots=True, eq=False)
class Placing:
    """A session's laps on a circuit."""

    track: Track
    shift_m: float
    """Lap distance on the circuit of the log's own lap starts, from minus to plus half a lap."""
    basis: str
    """How the circuit was known again, with the numbers."""
    moved: bool
    """The laps now begin at the circuit's start line and no longer at the log's own lap starts."""

    @property
    def words(self) -> str:
        """What a person should know of it."""
        if not self.moved:
            return self.basis
        where = "behind" if self.shift_m > 0 else "before"
        return (f"{self.basis}; the log's lap starts lie {abs(self.shift_m):.0f} m {where} the circuit's start line, "
                "where laps begin now")  # fmt: skip


def make_circuit(track: Track, curvature: LapCurvature, corners: Sequence[Corner], *, name: str) -> Circuit:
    """A circuit from the laps of a session: the line of its best lap, or how the median lap bends."""
    line = track.line
    if line is None:
        cells = max(round(track.lap_length_m / POINT_SPACING_M), 8)
        bends = _resampled(np.nan_to_num(curvature.median_1pm), cells)
        return Circuit(name, round(track.lap_length_m, 2), _tenths(corners, track.lap_length_m), curvature_1pm=bends)
    count = max(round(line.length_m / POINT_SPACING_M), 8)
    at_m = np.asarray(np.arange(count) * (line.length_m / count), dtype=np.float64)
    lat, lon = (_degrees(p) for p in line.plane.to_geodetic(*line.at(at_m)))
    x_m, y_m = line.at(np.array([-1.0, 1.0]))
    heading_deg = float(np.degrees(np.arctan2(x_m[1] - x_m[0], y_m[1] - y_m[0]))) % 360
    start = StartLine(float(lat[0]), float(lon[0]), round(heading_deg, 1) % 360)
    return Circuit(name, round(line.length_m, 2), _tenths(corners, line.length_m), (), start, LinePoints(lat, lon))


def _degrees(angle_rad: FloatArray) -> FloatArray:
    """As they are written: a millimetre or so."""
    return np.asarray(np.round(np.degrees(angle_rad), 8), dtype=np.float64)


def _tenths(corners: Sequence[Corner], length_m: float) -> tuple[Corner, ...]:
    """Places as they are written in a file, to a tenth of a metre; corners that touch go on touching."""

    def tenth(at_m: float) -> float:
        return round(at_m % length_m, 1) if round(at_m % length_m, 1) < round(length_m, 2) else 0.0

    return tuple(
        replace(c, entry_m=tenth(c.entry_m), apex_m=tenth(c.apex_m), exit_m=tenth(c.exit_m),
                apexes=tuple(map(tenth, c.apexes)))
        for c in corners
    )  # fmt: skip


def place_on_circuit(log: SessionLog, starts_s: FloatArray, circuit: Circuit, *, name: str = "",
                     progress: Progress = silent) -> Placing:  # fmt: skip
    """Measure a session's laps on the circuit's lap distance.

    `starts_s`: the log's own lap starts. `name`: the circuit file, for messages. Raises `CircuitError` when the shape
    is another, `LogError` as `build_track` does.
    """
    own = build_track(log, starts_s, progress=progress)
    _refuse_other_length(own, circuit, log, name)
    if own.line is not None and circuit.line is not None:
        shift_m, basis = _by_position(own.line, circuit, log, name)
    else:
        shift_m, basis = _by_bends(own, circuit, log, name)
    shift_m = float(shift_m)
    moved = abs(shift_m) > SAME_LINE_M
    new_starts_s = _moved_starts(own, shift_m, circuit.lap_length_m) if moved else starts_s
    line = None
    if circuit.line is not None and own.motion.fixes is not None:
        line = circuit.reference_line().on_plane(own.motion.fixes.plane)
    track = build_track(log, new_starts_s, line=line, lap_length_m=circuit.lap_length_m)
    return Placing(track, shift_m, basis, moved)


def place_of_position(circuit: Circuit, lat_deg: float, lon_deg: float) -> float:
    """Lap distance beside a position; raises `CircuitError` for one that is not at the track."""
    if circuit.line is None:
        raise CircuitError("the circuit has no line, so a position cannot be placed on it", "Give a lap distance.")
    line = circuit.reference_line()
    at_m, _ = line.place_of(np.radians([lat_deg]), np.radians([lon_deg]))
    x_m, y_m = line.plane.to_plane(np.radians([lat_deg]), np.radians([lon_deg]))
    line_x_m, line_y_m = line.at(at_m)
    away_m = float(np.hypot(x_m - line_x_m, y_m - line_y_m)[0])
    if not away_m <= BESIDE_M:
        raise CircuitError(f"the position is {away_m:.0f} m from the circuit's line", "Check latitude and longitude.")
    return float(at_m[0])


def _refuse(problem: str, log: SessionLog, name: str) -> CircuitError:
    remedy = f"{log.name} was driven elsewhere, or on another layout: use its own circuit file, or make one."
    return CircuitError(problem, remedy, where=name)


def _refuse_other_length(own: Track, circuit: Circuit, log: SessionLog, name: str) -> None:
    ratio = own.lap_length_m / circuit.lap_length_m
    if abs(ratio - 1) > LENGTH_AGREES:
        raise _refuse(
            f"the laps are {own.lap_length_m:.0f} m long and the circuit {circuit.lap_length_m:.0f} m", log, name
        )


def _by_position(line: ReferenceLine, circuit: Circuit, log: SessionLog, name: str) -> tuple[float, str]:
    """Where the session's lap starts lie on the circuit, by its own line; all places of the lap must lie on it."""
    theirs = circuit.reference_line()
    lat_rad, lon_rad = line.plane.to_geodetic(line.x_m, line.y_m)
    at_m, off_m = theirs.place_of(lat_rad, lon_rad)
    away_m = np.abs(off_m)
    on = float((away_m <= ON_LINE_M).mean())
    if on < ON_LINE_SHARE or float(np.median(away_m)) > USUAL_OFF_M:
        far = np.hypot(*(a - b for a, b in zip(theirs.plane.to_plane(lat_rad, lon_rad), theirs.at(at_m), strict=True)))
        raise _refuse(f"only {on:.0%} of the lap lies within {ON_LINE_M:.0f} m of the circuit's line "
                      f"(half of it is {np.median(far):.0f} m away or more)", log, name)  # fmt: skip
    steps_m = (np.diff(at_m, append=at_m[:1]) + theirs.length_m / 2) % theirs.length_m - theirs.length_m / 2
    forward = float((steps_m > 0).mean())
    if forward < 0.5:
        raise _refuse("the laps run the other way round the circuit's line", log, name)
    near = np.arange(-20, 21) % at_m.size
    gaps_m = at_m[near] - np.arange(-20, 21) * line.step_m
    half_m = theirs.length_m / 2
    around = (gaps_m - gaps_m[20] + half_m) % theirs.length_m - half_m
    shift_m = (gaps_m[20] + float(np.median(around)) + half_m) % theirs.length_m - half_m
    return shift_m, (f"known by position: {on:.0%} of the lap lies within {ON_LINE_M:.0f} m of the circuit's line, "
                     f"half of it within {np.median(away_m):.1f} m")  # fmt: skip


def _by_bends(own: Track, circuit: Circuit, log: SessionLog, name: str) -> tuple[float, str]:
    """The rotation at which both laps bend alike."""
    cells = max(round(circuit.lap_length_m / BEND_CELL_M), 64)
    sigma = BEND_SMOOTHING_M / BEND_CELL_M
    ours = smooth(_resampled(np.nan_to_num(lap_curvature(own, log).median_1pm), cells), sigma, closed=True)
    theirs = smooth(circuit.bends_1pm(cells), sigma, closed=True)
    follows = rotations(ours, theirs)
    best = int(np.argmax(follows))
    if follows[best] < FITS:
        raise _refuse(f"the lap bends in another way than the circuit: at best the two agree by {follows[best]:.2f} "
                      f"(1 is alike, {FITS} is asked for){_other_way(ours, theirs)}", log, name)  # fmt: skip
    apart = np.abs((np.arange(cells) - best + cells // 2) % cells - cells // 2) * BEND_CELL_M
    second = float(follows[apart > min(SAME_PLACE_M, circuit.lap_length_m / 4)].max())
    if second > SECOND_BEST * follows[best]:
        raise _refuse(f"the lap fits the circuit at two places (agreeing by {follows[best]:.2f} and {second:.2f}), "
                      "so it cannot be told where laps begin", log, name)  # fmt: skip
    at = best + _vertex(follows[best - 1], follows[best], follows[(best + 1) % cells])
    half_m = circuit.lap_length_m / 2
    shift_m = (at * circuit.lap_length_m / cells + half_m) % circuit.lap_length_m - half_m
    return shift_m, (f"known by how the lap bends: agrees by {follows[best]:.2f} (1 is alike), "
                     f"elsewhere by {second:.2f} at most")  # fmt: skip


def rotations(ours: FloatArray, theirs: FloatArray) -> FloatArray:
    """Correlation of `ours`, begun so many cells later on `theirs`, for every rotation; shape (n,), −1 to 1.

    By the Fourier transform; means are not taken away, since a lap's whole turn belongs to its shape.
    """
    norm = float(np.sqrt((ours @ ours) * (theirs @ theirs)))
    if norm == 0:
        return np.zeros(ours.size)
    return np.fft.irfft(np.conj(np.fft.rfft(ours)) * np.fft.rfft(theirs), ours.size) / norm


def _other_way(ours: FloatArray, theirs: FloatArray) -> str:
    if rotations(-ours, theirs).max() >= FITS:
        return "; with left and right exchanged it fits, so the log's sensor may grow to the right"
    if rotations(-ours[::-1], theirs).max() >= FITS:
        return "; driven the other way round it fits"
    return ""


def _vertex(before: float, at: float, after: float) -> float:
    """Place of a peak between cells, by the parabola through three of them."""
    bend = before - 2 * at + after
    return 0.0 if bend == 0 else 0.5 * (before - after) / bend


def _resampled(values: FloatArray, cells: int) -> FloatArray:
    """Means over `cells` equal parts of a lap, of values in equal parts."""
    whole = np.concatenate(([0.0], np.cumsum(values))) / values.size
    edges = np.interp(np.arange(cells + 1) / cells, np.arange(values.size + 1) / values.size, whole)
    return np.asarray(np.diff(edges) * cells, dtype=np.float64)


def _moved_starts(own: Track, shift_m: float, circuit_m: float) -> FloatArray:
    """Log times at which the laps pass the circuit's start line, all by one shift of the log's own."""
    ours_m = -shift_m * own.lap_length_m / circuit_m
    first, last = own.course_m[0], own.course_m[-1]
    laps = np.arange(np.ceil((first - ours_m) / own.lap_length_m), np.floor((last - ours_m) / own.lap_length_m) + 1)
    return own.log_s_at_course(ours_m + laps * own.lap_length_m)
