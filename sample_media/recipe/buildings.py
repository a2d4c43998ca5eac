"""Buildings: pits, grandstand, huts, a water tower, the paddock's marquees, the lighthouse."""

from __future__ import annotations

import numpy as np

from .circuit import Circuit
from .faces import Colour, Faces, Frame, add_box, frame_at, shade


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
