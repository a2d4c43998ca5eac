"""Upright things beside and over the track: barriers, boards, gantry, bridge, buildings, the lighthouse."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from .circuit import HALF_WIDTH_M, Board, Circuit, Floats
from .faces import Colour, Faces, Frame, add_box, mix, shade, wall_light
from .ground import rings

WALL: Colour = (196.0, 199.0, 200.0)
WALL_TOP: Colour = (226.0, 229.0, 230.0)
TEAL: Colour = (28.0, 122.0, 128.0)
WHITE: Colour = (240.0, 240.0, 236.0)
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


def frame_at(track: Circuit, station_m: float, offset_m: float = 0.0, turn_rad: float = 0.0) -> Frame:
    """A frame beside the track, u along the direction of travel."""
    x, y = track.place(np.array([station_m]), offset_m)
    heading = track.pose(np.array([station_m]))[2]
    return Frame(float(x[0]), float(y[0]), float(heading[0]) + turn_rad)


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


def tents(faces: Faces, track: Circuit) -> None:
    """Marquees of the paddock in the infield, plain roofs in a few colours."""
    tones: tuple[Colour, ...] = (
        (236.0, 234.0, 226.0),
        (64.0, 128.0, 150.0),
        (222.0, 150.0, 70.0),
        (236.0, 234.0, 226.0),
    )
    for number in range(9):
        frame = frame_at(track, -62.0 + 15.0 * number, -54.0 - 9.0 * (number % 2))
        tone = tones[number % len(tones)]
        add_box(faces, frame, (-4.0, 4.0), (-3.0, 3.0), (0.0, 2.4), (226.0, 224.0, 216.0))
        peak, middle = (0.0, 0.0, 5.0), frame.point(0.0, 0.0, 3.0)
        rim = [(-4.4, -3.4, 2.4), (4.4, -3.4, 2.4), (4.4, 3.4, 2.4), (-4.4, 3.4, 2.4)]
        for k in range(4):
            faces.add(
                frame.quad([rim[k], rim[(k + 1) % 4], peak, peak]), shade(tone, (0.84, 1.0, 0.92, 0.78)[k]), middle
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


def buildings(faces: Faces, track: Circuit) -> None:
    """Pit building, grandstand, marshals' huts, a water tower and a boathouse."""
    pits = frame_at(track, -10.0, -27.0)
    add_box(faces, pits, (-60.0, 60.0), (-6.0, 6.0), (0.0, 4.0), (226.0, 222.0, 212.0), split=12)
    add_box(faces, pits, (-60.0, 60.0), (-5.0, 6.05), (4.0, 5.6), (74.0, 92.0, 108.0), split=12)
    add_box(faces, pits, (-62.0, 62.0), (-6.5, 8.5), (5.6, 6.1), (240.0, 240.0, 238.0), split=12)
    for n in range(12):
        u = -57.5 + 10.0 * n
        quad = pits.quad([(u, 6.06, 0.0), (u + 5.0, 6.06, 0.0), (u + 5.0, 6.06, 3.0), (u, 6.06, 3.0)])
        faces.add(quad, (92.0, 100.0, 110.0), pits.point(u + 2.5, 6.6, 1.0))
    _grandstand(faces, frame_at(track, 70.0, 19.0))
    for number, extra in ((1, 20.0), (3, -6.0), (5, 14.0), (7, 4.0), (9, 0.0)):
        corner = track.corners[number - 1]
        side = -1.0 if corner.side == "left" else 1.0
        hut = frame_at(track, corner.exit_m + extra, side * 24.0)
        add_box(faces, hut, (-1.4, 1.4), (-1.4, 1.4), (0.0, 2.6), (236.0, 232.0, 220.0))
        add_box(faces, hut, (-1.8, 1.8), (-1.8, 1.8), (2.6, 2.95), (214.0, 108.0, 38.0))
    tower = frame_at(track, 1150.0, -46.0)
    for leg in ((-2.5, -2.5), (2.0, -2.5), (-2.5, 2.0), (2.0, 2.0)):
        add_box(faces, tower, (leg[0], leg[0] + 0.5), (leg[1], leg[1] + 0.5), (0.0, 12.0), (120.0, 124.0, 128.0))
    add_box(faces, tower, (-3.6, 3.6), (-3.6, 3.6), (12.0, 17.0), (92.0, 140.0, 168.0))


def _grandstand(faces: Faces, stand: Frame) -> None:
    seats: tuple[Colour, ...] = (
        (64.0, 104.0, 150.0),
        (208.0, 212.0, 214.0),
        (64.0, 104.0, 150.0),
        (212.0, 160.0, 70.0),
        (64.0, 104.0, 150.0),
    )
    for row, colour in enumerate(seats):
        near, low = 2.4 * row, 1.2 + 1.1 * row
        add_box(faces, stand, (-42.0, 42.0), (near, near + 2.4), (0.0, low), shade(colour, 0.97), split=7)
    add_box(faces, stand, (-44.0, 44.0), (12.0, 12.6), (0.0, 9.4), (186.0, 188.0, 190.0), split=7)
    for n in range(8):
        add_box(
            faces,
            stand,
            (-42.0 + 12.0 * n - 0.2, -42.0 + 12.0 * n + 0.2),
            (0.2, 0.6),
            (1.2, 9.0),
            (112.0, 116.0, 122.0),
        )
    add_box(faces, stand, (-45.0, 45.0), (-1.5, 12.8), (9.0, 9.6), (232.0, 234.0, 234.0), split=7)


def lighthouse(faces: Faces, track: Circuit) -> None:
    """A banded tower on the outside of the last corner."""
    base = frame_at(track, track.corners[9].apex_m, 62.0)
    for n in range(7):
        wide = 3.4 - 0.26 * n
        tone: Colour = (206.0, 70.0, 54.0) if n % 2 else (244.0, 242.0, 236.0)
        for k in range(8):
            a, b = np.radians(45.0 * k), np.radians(45.0 * (k + 1))
            ring = [(wide * np.cos(t), wide * np.sin(t)) for t in (a, b)]
            top = [(0.925 * u, 0.925 * v) for u, v in ring]
            quad = base.quad(
                [(*ring[0], 4.2 * n), (*ring[1], 4.2 * n), (*top[1], 4.2 * n + 4.2), (*top[0], 4.2 * n + 4.2)]
            )
            light = 0.84 + 0.16 * np.cos(a + base.heading_rad - np.arctan2(-0.62, -0.55) + 0.4)
            faces.add(quad, shade(tone, float(light)))
    add_box(faces, base, (-2.0, 2.0), (-2.0, 2.0), (29.4, 29.9), (60.0, 64.0, 70.0))
    add_box(faces, base, (-1.1, 1.1), (-1.1, 1.1), (29.9, 32.2), (250.0, 236.0, 170.0))
    add_box(faces, base, (-1.4, 1.4), (-1.4, 1.4), (32.2, 33.4), (206.0, 70.0, 54.0))
    add_box(faces, base, (6.0, 16.0), (-3.0, 3.0), (0.0, 3.2), (238.0, 234.0, 224.0))
    add_box(faces, base, (5.6, 16.4), (-3.4, 3.4), (3.2, 3.9), (168.0, 84.0, 60.0))


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
    tents(faces, track)
    buildings(faces, track)
    lighthouse(faces, track)
    return faces


KEEP_CLEAR: tuple[tuple[float, float, float], ...] = ((-10.0, -27.0, 70.0), (70.0, 26.0, 55.0), (1150.0, -46.0, 9.0))
"""Station, offset and radius of places where no tree grows (the lighthouse's is added by the planter)."""
CLEAR_WIDTH_M = HALF_WIDTH_M + 16.0
