"""A circuit as it is shared between sessions: start line, line, corners, and what a driver can see and name.

All distances are metres along the lap from the start line, on the circuit's own line (or, where it was made without
position, on its lap length). `fault_in` is the one place that says what a sound circuit is.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from syncview.errors import SyncviewError
from syncview.local_plane import plane_around
from syncview.track.corners import Corner
from syncview.track.geometry import path_curvature_1pm
from syncview.track.markers import Marker
from syncview.track.reference_line import ReferenceLine, line_through_points

FloatArray = NDArray[np.float64]

SHORTEST_LAP_M = 100.0
WIDEST_SPACING_M = 15.0
"""Points of the line further apart than this do not describe a hairpin."""
LENGTH_AGREES = 0.01
"""The lap length may differ by this share from the length of the line."""
START_AGREES_M = 5.0
START_AGREES_DEG = 30.0
OVERLAP_M = 0.5
"""Neighbouring corners may meet, and overlap by rounding."""


class CircuitError(SyncviewError):
    """A circuit file cannot be read, contradicts itself, or does not belong to a session."""

    exit_code = 6


@dataclass(frozen=True, slots=True)
class StartLine:
    """Where the lap begins."""

    lat_deg: float
    lon_deg: float
    heading_deg: float
    """Direction of travel, clockwise from north."""


@dataclass(frozen=True, slots=True, eq=False)
class LinePoints:
    """The line as points from the start line on, closed (the first is not repeated); shape (n,), degrees."""

    lat_deg: FloatArray
    lon_deg: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """Everything that a circuit file holds. Either the line is known, or only how the lap bends."""

    name: str
    lap_length_m: float
    corners: tuple[Corner, ...]
    markers: tuple[Marker, ...] = ()
    start_line: StartLine | None = None
    line: LinePoints | None = None
    curvature_1pm: FloatArray | None = None
    """At the middles of equal steps of the lap, left positive, shape (n,); where there is no line."""

    def reference_line(self) -> ReferenceLine:
        """The line on its own plane; its length is the lap length. Raises `ValueError` without one."""
        if self.line is None:
            raise ValueError("this circuit has no line")
        lat, lon = np.radians(self.line.lat_deg), np.radians(self.line.lon_deg)
        plane = plane_around(lat, lon)
        line = line_through_points(plane, *plane.to_plane(lat, lon))
        return replace(line, length_m=self.lap_length_m)

    def bends_1pm(self, cells: int) -> FloatArray:
        """Curvature at the middles of so many equal steps of the lap, shape (cells,)."""
        wanted = (np.arange(cells) + 0.5) / cells
        if self.curvature_1pm is not None:
            known, at = self.curvature_1pm, (np.arange(self.curvature_1pm.size) + 0.5) / self.curvature_1pm.size
        else:
            line = self.reference_line()
            known = path_curvature_1pm(line.x_m, line.y_m, closed=True)
            at = np.arange(known.size) / known.size
        return np.interp(wanted, at, known, period=1.0)


MEND = "Mend the file, or make it anew with: syncview circuit make."


def check(circuit: Circuit, *, where: str = "", remedy: str = MEND) -> None:
    """Raise `CircuitError` naming the first thing that cannot be."""
    for fault in faults_in(circuit):
        raise CircuitError(fault, remedy, where=where)


def faults_in(circuit: Circuit) -> Iterator[str]:
    """Everything that contradicts itself, in words, by place."""
    if not circuit.lap_length_m >= SHORTEST_LAP_M or not math.isfinite(circuit.lap_length_m):
        yield f"lap_length_m is {circuit.lap_length_m:g}, but no lap is shorter than {SHORTEST_LAP_M:.0f} m"
        return
    yield from _line_faults(circuit)
    yield from _corner_faults(circuit)
    yield from _marker_faults(circuit)


def _line_faults(circuit: Circuit) -> Iterator[str]:
    if (circuit.line is None) == (circuit.curvature_1pm is None):
        yield "the file must have either the points of a [line] or a [curvature], so that it can be known again"
        return
    if circuit.curvature_1pm is not None:
        if circuit.curvature_1pm.size < circuit.lap_length_m / WIDEST_SPACING_M:
            yield f"[curvature] has {circuit.curvature_1pm.size} values, too few for {circuit.lap_length_m:.0f} m"
        return
    assert circuit.line is not None
    lat, lon = circuit.line.lat_deg, circuit.line.lon_deg
    if lat.size < 8 or (np.abs(lat) > 90).any() or (np.abs(lon) > 180).any():
        yield "[line] needs eight points or more, each [latitude, longitude] in degrees"
        return
    plane = plane_around(np.radians(lat), np.radians(lon))
    x_m, y_m = plane.to_plane(np.radians(lat), np.radians(lon))
    yield from _course_faults(circuit, x_m, y_m)


def _course_faults(circuit: Circuit, x_m: FloatArray, y_m: FloatArray) -> Iterator[str]:
    gaps_m = np.hypot(np.roll(x_m, -1) - x_m, np.roll(y_m, -1) - y_m)
    if gaps_m[-1] > WIDEST_SPACING_M:
        yield f"[line] does not close: its last point is {gaps_m[-1]:.0f} m from its first"
        return
    widest = int(np.argmax(gaps_m))
    if gaps_m[widest] > WIDEST_SPACING_M:
        yield f"[line] has a hole of {gaps_m[widest]:.0f} m behind point {widest + 1}"
        return
    if gaps_m.min() < 0.1:
        yield f"[line] has point {int(np.argmin(gaps_m)) + 1} twice"
        return
    length_m = float(gaps_m.sum())
    if abs(length_m / circuit.lap_length_m - 1) > LENGTH_AGREES:
        yield f"lap_length_m is {circuit.lap_length_m:.1f}, but [line] is {length_m:.1f} m long"
    start = circuit.start_line
    if start is None:
        yield "there is no [start_line]"
        return
    heading_deg = math.degrees(math.atan2(x_m[1] - x_m[-1], y_m[1] - y_m[-1]))
    off_deg = (start.heading_deg - heading_deg + 180) % 360 - 180
    plane = plane_around(np.radians([start.lat_deg]), np.radians([start.lon_deg]))
    assert circuit.line is not None
    east, north = plane.to_plane(np.radians(circuit.line.lat_deg[:1]), np.radians(circuit.line.lon_deg[:1]))
    away_m = math.hypot(float(east[0]), float(north[0]))
    if away_m > START_AGREES_M:
        yield f"[start_line] lies {away_m:.0f} m from the first point of [line]"
    elif abs(off_deg) > START_AGREES_DEG:
        yield f"[start_line] heads {start.heading_deg:.0f}°, but [line] begins towards {heading_deg % 360:.0f}°"


def _corner_faults(circuit: Circuit) -> Iterator[str]:
    length_m = circuit.lap_length_m
    for place, corner in enumerate(circuit.corners, 1):
        name = f"corner {corner.number}"
        if corner.number != place:
            yield f"the {_nth(place)} [[corner]] has number {corner.number}; they must count 1, 2, 3 … along the lap"
            return
        for word, at_m in (("entry_m", corner.entry_m), ("exit_m", corner.exit_m), *_apex_places(corner)):
            if not 0 <= at_m < length_m:
                yield f"{name}: {word} is {at_m:.1f}, outside the lap of {length_m:.1f} m"
                return
        spans = [(at_m - corner.entry_m) % length_m for at_m in (*corner.apexes, corner.exit_m)]
        if sorted(spans) != spans or spans[-1] > length_m / 2 or corner.entry_m == corner.exit_m:
            yield f"{name}: entry, apex and exit do not follow one another within half a lap"
            return
        if corner.apex_m not in corner.apexes:
            yield f"{name}: apex_m is not one of apexes_m"
            return
    yield from _order_faults(circuit)


def _apex_places(corner: Corner) -> list[tuple[str, float]]:
    return [("apex_m", corner.apex_m), *(("apexes_m", at_m) for at_m in corner.apexes)]


def _order_faults(circuit: Circuit) -> Iterator[str]:
    length_m = circuit.lap_length_m
    for before, after in itertools.pairwise(circuit.corners):
        if after.apex_m <= before.apex_m:
            yield f"corner {after.number} has its apex before that of corner {before.number}"
            return
    if len(circuit.corners) < 2:
        return
    ring = (*circuit.corners, circuit.corners[0])
    for before, after in itertools.pairwise(ring):
        gap_m = (after.apex_m - before.apex_m) % length_m
        over_m = (before.exit_m - before.apex_m) % length_m + (after.apex_m - after.entry_m) % length_m - gap_m
        if over_m > OVERLAP_M:
            yield f"corners {before.number} and {after.number} overlap by {over_m:.1f} m"


def _marker_faults(circuit: Circuit) -> Iterator[str]:
    seen: set[str] = set()
    numbers = {corner.number for corner in circuit.corners}
    for marker in circuit.markers:
        name = f"marker “{marker.key}”"
        if not marker.key.strip() or not marker.kind.strip() or not marker.words.strip():
            yield f"{name}: key, kind and words must not be empty"
        if marker.key in seen:
            yield f"there are two markers “{marker.key}”"
        if not 0 <= marker.at_m < circuit.lap_length_m:
            yield f"{name}: at_m is {marker.at_m:.1f}, outside the lap of {circuit.lap_length_m:.1f} m"
        if marker.corner is not None and marker.corner not in numbers:
            yield f"{name}: there is no corner {marker.corner}"
        seen.add(marker.key)


def _nth(place: int) -> str:
    ending = "th" if 10 <= place % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(place % 10, "th")
    return f"{place}{ending}"
