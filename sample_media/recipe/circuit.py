"""The invented circuit Ostrel Holm: centre line, corners, boards and its place on WGS-84.

The centre line is made of straights and bends; a bend is an arc between two clothoids. Local plane: x east,
y north, metres. Heading and curvature are positive to the left (ISO 8855 axes: x forward, y left, z up).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NAME = "Ostrel Holm"
LAT0_DEG, LON0_DEG = 45.0, -30.0
"""The plane's origin: round numbers in the open Atlantic, where there is no land."""
HALF_WIDTH_M = 5.3
STEP_M = 0.25
"""Target distance between samples of the centre line."""


@dataclass(frozen=True, slots=True)
class Bend:
    """One arc between two clothoids, preceded by a straight."""

    number: int
    name: str
    kind: str
    lead_m: float
    """Length of the straight before the bend; the closing lengths replace two of these."""
    angle_deg: float
    """Change of heading, positive to the left."""
    radius_m: float
    easing_m: float
    """Length of each clothoid."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A bend by its stations along the centre line, in metres from the start line."""

    number: int
    name: str
    side: str
    kind: str
    entry_m: float
    apex_m: float
    exit_m: float


@dataclass(frozen=True, slots=True)
class Board:
    """A distance board beside the track."""

    corner: int
    distance_m: int
    """The number painted on it: metres before the corner's entry station (common practice, no source)."""
    station_m: float
    offset_m: float
    """Lateral place of the board's middle, positive to the left of the centre line."""


BENDS: tuple[Bend, ...] = (
    Bend(1, "Lantern", "corner", 235.0, -97.0, 27.0, 16.0),
    Bend(2, "Net Loft", "corner", 0.0, 62.0, 44.0, 20.0),
    Bend(3, "Anchor", "hairpin", 128.0, -176.0, 16.5, 14.0),
    Bend(4, "The Swell", "kink", 150.0, 34.0, 170.0, 30.0),
    Bend(5, "Ropewalk in", "chicane", 150.0, 52.0, 24.0, 13.0),
    Bend(6, "Ropewalk out", "chicane", 14.0, -52.0, 27.0, 13.0),
    Bend(7, "Cormorant one", "double apex", 105.0, -68.0, 38.0, 18.0),
    Bend(8, "Cormorant two", "double apex", 22.0, -75.0, 30.0, 16.0),
    Bend(9, "Quay", "corner", 92.0, 54.0, 36.0, 18.0),
    Bend(10, "Lighthouse", "corner", 62.0, -94.0, 34.0, 20.0),
)
"""Leads of bend 2 and of the closing straight after bend 10 are solved so that the line closes."""
CLOSING_BEND = 2
BOARDED: tuple[tuple[int, tuple[int, ...]], ...] = (
    (1, (150, 100, 50)),
    (3, (100, 50)),
    (5, (150, 100, 50)),
    (7, (100, 50)),
)


@dataclass(frozen=True, slots=True)
class Circuit:
    """The centre line sampled from the start line once around (the end is not repeated), with its furniture."""

    station_m: Floats
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    """Unwrapped: it falls by 2 pi over the lap."""
    curvature_1pm: Floats
    length_m: float
    corners: tuple[Corner, ...]
    boards: tuple[Board, ...]

    def place(self, station_m: Floats, offset_m: Floats | float = 0.0) -> tuple[Floats, Floats]:
        """Plane coordinates of stations (any number of laps, shape (n,)) at lateral offsets, positive left."""
        x, y, heading = self.pose(station_m)
        return x - offset_m * np.sin(heading), y + offset_m * np.cos(heading)

    def pose(self, station_m: Floats) -> tuple[Floats, Floats, Floats]:
        """x, y and heading of the centre line at stations of any lap; the heading keeps turning lap after lap."""
        lap, local = np.divmod(np.asarray(station_m, dtype=np.float64), self.length_m)
        ends = np.append(self.station_m, self.length_m)
        turn = 2.0 * np.pi * np.sign(self.heading_rad[-1])
        heading = np.interp(local, ends, np.append(self.heading_rad, turn)) + lap * turn
        x = np.interp(local, ends, np.append(self.x_m, self.x_m[0]))
        y = np.interp(local, ends, np.append(self.y_m, self.y_m[0]))
        return x, y, heading


def _corner_points(lead_2_m: float, closing_m: float) -> tuple[Floats, Floats, list[tuple[float, float]]]:
    """Curvature as a polyline over station, and each bend's (entry, exit)."""
    station, curvature, spans = [0.0], [0.0], []
    for bend in BENDS:
        kappa = np.sign(bend.angle_deg) / bend.radius_m
        arc_m = np.radians(abs(bend.angle_deg)) * bend.radius_m - bend.easing_m
        entry_m = station[-1] + (lead_2_m if bend.number == CLOSING_BEND else bend.lead_m)
        nodes = np.cumsum([entry_m, bend.easing_m, arc_m, bend.easing_m])
        station += [float(node) for node in nodes]
        curvature += [0.0, kappa, kappa, 0.0]
        spans.append((float(nodes[0]), float(nodes[-1])))
    return np.array([*station, station[-1] + closing_m]), np.array([*curvature, 0.0]), spans


def _trace(nodes_m: Floats, kappas: Floats, station_m: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Integrate curvature to heading (exactly) and heading to position (fine midpoint rule)."""
    fine = np.linspace(0.0, nodes_m[-1], int(nodes_m[-1] / 0.02) + 1)
    kappa = np.interp(fine, nodes_m, kappas)
    step = fine[1] - fine[0]
    heading = np.concatenate([[0.0], np.cumsum(0.5 * (kappa[1:] + kappa[:-1]) * step)])
    middle = 0.5 * (heading[1:] + heading[:-1])
    x = np.concatenate([[0.0], np.cumsum(np.cos(middle) * step)])
    y = np.concatenate([[0.0], np.cumsum(np.sin(middle) * step)])
    return tuple(np.interp(station_m, fine, a) for a in (x, y, heading, kappa))


def _closing_lengths() -> tuple[float, float]:
    """The two straights' lengths for which the line ends where it began (position is linear in them)."""
    nodes, kappas, spans = _corner_points(0.0, 0.0)
    x, y, heading, _ = _trace(nodes, kappas, np.array([spans[0][1], nodes[-1]]))
    directions = np.array([[np.cos(heading[0]), np.cos(heading[1])], [np.sin(heading[0]), np.sin(heading[1])]])
    lead_2_m, closing_m = np.linalg.solve(directions, [-x[1], -y[1]])
    return float(lead_2_m), float(closing_m)


def _boards(corners: tuple[Corner, ...]) -> tuple[Board, ...]:
    by_number = {corner.number: corner for corner in corners}
    boards: list[Board] = []
    for number, distances in BOARDED:
        corner = by_number[number]
        outside = -1.0 if corner.side == "left" else 1.0
        boards += [Board(number, d, corner.entry_m - d, outside * (HALF_WIDTH_M + 3.0)) for d in distances]
    return tuple(boards)


@lru_cache(maxsize=1)
def circuit() -> Circuit:
    """Build the circuit; always the same one."""
    lead_2_m, closing_m = _closing_lengths()
    if min(lead_2_m, closing_m) < 5.0:
        raise ValueError(f"the bends do not close: straights of {lead_2_m:.1f} and {closing_m:.1f} m would be needed")
    nodes, kappas, spans = _corner_points(lead_2_m, closing_m)
    length_m = float(nodes[-1])
    station = np.arange(int(length_m / STEP_M), dtype=np.float64) * (length_m / int(length_m / STEP_M))
    x, y, heading, kappa = _trace(nodes, kappas, station)
    corners = tuple(
        Corner(b.number, b.name, "left" if b.angle_deg > 0 else "right", b.kind, entry, 0.5 * (entry + leave), leave)
        for b, (entry, leave) in zip(BENDS, spans, strict=True)
    )
    return Circuit(station, x, y, heading, kappa, length_m, corners, _boards(corners))


def to_geodetic(x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
    """Latitude and longitude in degrees of plane points, by an azimuthal equidistant projection on WGS-84."""
    from pyproj import Proj

    plane = Proj(proj="aeqd", lat_0=LAT0_DEG, lon_0=LON0_DEG, ellps="WGS84")
    lon_deg, lat_deg = plane(x_m, y_m, inverse=True)
    return np.asarray(lat_deg, dtype=np.float64), np.asarray(lon_deg, dtype=np.float64)
