"""Upright things beside and over the track: barriers, boards, posts, flags, gantry, bridge; then the buildings."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from . import buildings
from .circuit import HALF_WIDTH_M, Board, Circuit, Floats
from .faces import WHITE, Colour, Faces, add_box, frame_at, mix, shade, wall_light
from .ground import rings

WALL: Colour = (196.0, 199.0, 200.0)
WALL_TOP: Colour = (226.0, 229.0, 230.0)
TEAL: Colour = (28.0, 122.0, 128.0)
BLACK: Colour = (22.0, 23.0, 26.0)
PANELS: tuple[Colour, ...] = (
    WALL,
    WALL,
    (178.0, 190.0, 196.0),
    WALL,
    (206.0, 196.0, 176.0),
    WALL,
    WALL,
    (120.0, 160.0, 166.0),
)
BRIDGE_M = 812.0
DIGITS: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "0": ((0.0, 1.0, 0.0, 0.18), (0.0, 1.0, 0.82, 1.0), (0.0, 0.24, 0.0, 1.0), (0.76, 1.0, 0.0, 1.0)),
    "1": ((0.42, 0.68, 0.0, 1.0), (0.16, 0.5, 0.74, 0.92), (0.16, 0.94, 0.0, 0.14)),
    "5": (
        (0.0, 1.0, 0.82, 1.0),
        (0.0, 0.24, 0.5, 1.0),
        (0.0, 1.0, 0.44, 0.61),
        (0.76, 1.0, 0.0, 0.6),
        (0.0, 1.0, 0.0, 0.18),
    ),
}
"""Bars (left, right, bottom, top) in a unit box."""


def clearance_m(track: Circuit, x_m: Floats, y_m: Floats) -> Floats:
    """Distance of points, shape (n,), to the centre line."""
    from scipy.spatial import cKDTree

    tree = cKDTree(np.column_stack([track.x_m, track.y_m]))
    return np.asarray(tree.query(np.column_stack([x_m, y_m]))[0], dtype=np.float64)


def barriers(faces: Faces, track: Circuit) -> None:
    """A low wall on both sides wherever there is room, with tyre stacks before it outside the slow corners."""
    stations = rings(track)
    kappa = np.interp(stations, track.station_m, track.curvature_1pm, period=track.length_m)
    for side in (1.0, -1.0):
        out = 12.5 + 7.0 * np.clip(-side * kappa / 0.03, 0.0, 1.0)
        out = np.convolve(np.pad(out, 8, mode="wrap"), np.ones(17) / 17, mode="valid")
        x, y = track.place(stations, side * out)
        fits = clearance_m(track, x, y) > out - 0.4
        tyres = -side * kappa > 0.022
        for i in range(len(stations) - 1):
            if fits[i] and fits[i + 1]:
                _wall(faces, np.array([x[i], y[i], 0.0]), np.array([x[i + 1], y[i + 1], 0.0]), i, tyres=bool(tyres[i]))


def _wall(faces: Faces, a: Floats, b: Floats, number: int, *, tyres: bool) -> None:
    light = wall_light(a, b)
    middle = 0.5 * (a + b)
    panel = PANELS[(number // 5) % len(PANELS)]
    bands: tuple[tuple[float, float, Colour], ...] = (
        (0.0, 0.70, shade(panel, light)),
        (0.70, 0.92, shade(WALL_TOP, light)),
    )
    if tyres:
        tone = WHITE if number % 4 < 2 else TEAL
        far = mix(WHITE, TEAL, 0.5)
        bands = ((0.0, 0.45, (52.0, 54.0, 60.0)), (0.45, 1.15, shade(tone, light)))
    for low, high, colour in bands:
        quad = np.array([(*a[:2], low), (*b[:2], low), (*b[:2], high), (*a[:2], high)])
        faces.add(quad, colour, middle, shade(far, light) if tyres and low > 0.0 else None)


def board(faces: Faces, track: Circuit, sign: Board) -> None:
    """A white panel on two posts, its number facing the traffic."""
    frame = frame_at(track, sign.station_m, sign.offset_m)
    half, low, high = 1.05, 0.75, 2.0
    middle = frame.point(0.0, 0.0, 1.0)

    def panel(v: tuple[float, float], z: tuple[float, float], colour: Colour) -> None:
        faces.add(frame.quad([(0, v[0], z[0]), (0, v[1], z[0]), (0, v[1], z[1]), (0, v[0], z[1])]), colour, middle)

    for post in (-0.7, 0.6):
        panel((post, post + 0.1), (0.0, high), (70.0, 72.0, 76.0))
    panel((-half, half), (low, high), (30.0, 60.0, 120.0))
    panel((-half + 0.07, half - 0.07), (low + 0.07, high - 0.07), WHITE)
    text = str(sign.distance_m)
    wide, gap, tall = 0.48, 0.13, 0.86
    left = 0.5 * (len(text) * wide + (len(text) - 1) * gap)
    for digit in text:
        for a, b, c, d in DIGITS[digit]:
            panel((left - a * wide, left - b * wide), (low + 0.2 + c * tall, low + 0.2 + d * tall), BLACK)
        left -= wide + gap


def markers(faces: Faces, track: Circuit) -> None:
    """Slim white posts with an orange cap along the verges, every 24 m: they show speed and bend."""
    for station in np.arange(12.0, track.length_m - 6.0, 24.0):
        for offset in (HALF_WIDTH_M + 4.2, -HALF_WIDTH_M - 4.2):
            frame = frame_at(track, float(station), offset)
            middle = frame.point(0.0, 0.0, 0.5)
            for low, high, colour in ((0.0, 0.62, WHITE), (0.62, 0.85, (230.0, 128.0, 40.0))):
                quad = frame.quad([(0, 0.09, low), (0, -0.09, low), (0, -0.09, high), (0, 0.09, high)])
                faces.add(quad, colour, middle, mix(colour, (150.0, 170.0, 130.0), 0.6))


def flags(faces: Faces, track: Circuit) -> None:
    """Poles with plain flags by the pits and the grandstand."""
    tones: tuple[Colour, ...] = ((222.0, 84.0, 52.0), (236.0, 190.0, 62.0), (40.0, 130.0, 150.0), (240.0, 240.0, 236.0))
    for number, station in enumerate((-66.0, -50.0, -34.0, -18.0, 12.0, 118.0, 130.0, 142.0)):
        frame = frame_at(track, station, 16.5)
        middle = frame.point(0.0, 0.0, 3.0)
        tone = tones[number % len(tones)]
        faces.add(
            frame.quad([(0, 0.07, 0.0), (0, -0.07, 0.0), (0, -0.05, 7.6), (0, 0.05, 7.6)]),
            (205.0, 208.0, 210.0),
            middle,
        )
        faces.add(frame.quad([(0, -0.07, 7.5), (0.5, -1.3, 7.3), (0.5, -1.3, 6.1), (0, -0.07, 6.2)]), tone, middle)
        faces.add(
            frame.quad([(0.5, -1.3, 7.3), (0.2, -2.4, 7.45), (0.2, -2.4, 6.25), (0.5, -1.3, 6.1)]),
            shade(tone, 0.86),
            middle,
        )


def gantry(faces: Faces, track: Circuit) -> None:
    """Two posts and a beam over the start line, chequered towards the traffic."""
    frame = frame_at(track, 0.0)
    for side in (7.6, -8.2):
        add_box(faces, frame, (-0.3, 0.3), (side, side + 0.6), (0.0, 6.6), (74.0, 78.0, 86.0))
    add_box(faces, frame, (-0.4, 0.4), (-8.2, 8.2), (5.0, 6.6), TEAL)
    middle = frame.point(-0.5, 0.0, 5.8)
    edges = np.linspace(-7.2, 7.2, 25)
    for row in range(2):
        for n, (a, b) in enumerate(pairwise(edges)):
            z = 5.2 + 0.6 * row
            quad = frame.quad([(-0.42, a, z), (-0.42, b, z), (-0.42, b, z + 0.6), (-0.42, a, z + 0.6)])
            faces.add(quad, WHITE if (n + row) % 2 else BLACK, middle, (130.0, 131.0, 132.0))


def bridge(faces: Faces, track: Circuit) -> None:
    """A footbridge with stairs on both sides."""
    frame = frame_at(track, BRIDGE_M)
    for side in (8.0, -10.0):
        add_box(faces, frame, (-1.6, 1.6), (side, side + 2.0), (0.0, 5.2), (150.0, 120.0, 96.0))
    add_box(faces, frame, (-1.6, 1.6), (-13.0, 13.0), (5.0, 5.7), (122.0, 128.0, 134.0))
    for rail in (-1.6, 1.5):
        add_box(faces, frame, (rail, rail + 0.1), (-13.0, 13.0), (5.7, 6.7), (224.0, 150.0, 46.0))


def build(track: Circuit) -> Faces:
    """All upright faces."""
    faces = Faces()
    barriers(faces, track)
    for sign in track.boards:
        board(faces, track, sign)
    gantry(faces, track)
    bridge(faces, track)
    markers(faces, track)
    flags(faces, track)
    buildings.tents(faces, track)
    buildings.buildings(faces, track)
    buildings.lighthouse(faces, track)
    return faces


KEEP_CLEAR: tuple[tuple[float, float, float], ...] = ((-10.0, -27.0, 70.0), (70.0, 26.0, 55.0), (1150.0, -46.0, 9.0))
"""Station, offset and radius of places where no tree grows (the lighthouse's is added by the planter)."""
CLEAR_WIDTH_M = HALF_WIDTH_M + 16.0
