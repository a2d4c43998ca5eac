"""Four-cornered faces in the world, the one shape everything but trees is made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from .circuit import Circuit, Floats

Colour = tuple[float, float, float]
SUN = np.array([-0.55, -0.62, 0.56])
"""Direction towards the sun (it stands in the south-west)."""
WHITE: Colour = (240.0, 240.0, 236.0)
HAZE: Colour = (199.0, 214.0, 224.0)


def shade(colour: Colour, factor: float) -> Colour:
    """A colour made lighter or darker."""
    return tuple(min(255.0, c * factor) for c in colour)  # type: ignore[return-value]


def mix(a: Colour, b: Colour, share_b: float) -> Colour:
    """A colour between two."""
    return tuple((1.0 - share_b) * p + share_b * q for p, q in zip(a, b, strict=True))  # type: ignore[return-value]


@dataclass(slots=True)
class Faces:
    """Collected faces; those of one group are drawn in their order, at the depth of the group's middle."""

    corners: list[Floats] = field(default_factory=list)
    colours: list[Colour] = field(default_factory=list)
    far_colours: list[Colour] = field(default_factory=list)
    middles: list[Floats] = field(default_factory=list)

    def add(self, corners: Floats, colour: Colour, middle: Floats | None = None, far: Colour | None = None) -> None:
        """Add one face, shape (4, 3)."""
        self.corners.append(np.asarray(corners, dtype=np.float64))
        self.colours.append(colour)
        self.far_colours.append(far or colour)
        self.middles.append(corners.mean(axis=0) if middle is None else middle)

    def arrays(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Corners (n, 4, 3), colours (n, 3), colours seen from afar (n, 3), group middles (n, 3)."""
        return np.array(self.corners), np.array(self.colours), np.array(self.far_colours), np.array(self.middles)


@dataclass(frozen=True, slots=True)
class Frame:
    """A local frame on the ground: u along, v to the left, z up."""

    x_m: float
    y_m: float
    heading_rad: float

    def point(self, u: float, v: float, z: float) -> Floats:
        """World coordinates of a local point."""
        c, s = np.cos(self.heading_rad), np.sin(self.heading_rad)
        return np.array([self.x_m + u * c - v * s, self.y_m + u * s + v * c, z])

    def quad(self, points: list[tuple[float, float, float]]) -> Floats:
        """Four local points as a face."""
        return np.array([self.point(*p) for p in points])


def frame_at(track: Circuit, station_m: float, offset_m: float = 0.0, turn_rad: float = 0.0) -> Frame:
    """A frame beside the track, u along the direction of travel."""
    x, y = track.place(np.array([station_m]), offset_m)
    heading = track.pose(np.array([station_m]))[2]
    return Frame(float(x[0]), float(y[0]), float(heading[0]) + turn_rad)


def wall_light(a: Floats, b: Floats) -> float:
    """How bright an upright face from a to b looks: both sides alike, more when the sun falls square on it."""
    along = (b - a)[:2]
    normal = np.array([-along[1], along[0]]) / max(float(np.hypot(*along)), 1e-9)
    return 0.80 + 0.22 * abs(float(normal @ SUN[:2]))


def add_box(
    faces: Faces,
    frame: Frame,
    u: tuple[float, float],
    v: tuple[float, float],
    z: tuple[float, float],
    colour: Colour,
    *,
    split: int = 1,
) -> None:
    """Five faces of a box; long sides may be split so that depth order holds."""
    edges = np.linspace(u[0], u[1], split + 1)
    for a, b in pairwise(edges):
        for side in v:
            quad = frame.quad([(a, side, z[0]), (b, side, z[0]), (b, side, z[1]), (a, side, z[1])])
            faces.add(quad, shade(colour, wall_light(quad[0], quad[1])))
        faces.add(frame.quad([(a, v[0], z[1]), (b, v[0], z[1]), (b, v[1], z[1]), (a, v[1], z[1])]), shade(colour, 1.06))
    for end in u:
        quad = frame.quad([(end, v[0], z[0]), (end, v[1], z[0]), (end, v[1], z[1]), (end, v[0], z[1])])
        faces.add(quad, shade(colour, wall_light(quad[0], quad[1])))
