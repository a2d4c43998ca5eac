"""Everything flat: mown grass, gravel, asphalt, the rubbered line, paint, kerbs and shadows, in drawing order."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

from . import kerbs
from .circuit import HALF_WIDTH_M, Circuit, Corner, Floats
from .faces import Colour, Faces, mix, shade

GRASS: Colour = (104.0, 148.0, 74.0)
GRASS_LIGHT: Colour = (121.0, 165.0, 86.0)
ASPHALT: Colour = (104.0, 106.0, 110.0)
NEW_ASPHALT: Colour = (86.0, 88.0, 93.0)
PAINT: Colour = (236.0, 236.0, 230.0)
GRAVEL: Colour = (203.0, 186.0, 148.0)
KERB_RED: Colour = (196.0, 58.0, 44.0)
KERB_WHITE: Colour = (238.0, 234.0, 222.0)
NEW_STRETCHES: tuple[tuple[float, float], ...] = ((985.0, 1146.0), (372.0, 420.0), (1480.0, 1540.0))
"""Resurfaced lengths, darker: things a driver can see and name."""
PATCHES: tuple[tuple[float, float, float, float], ...] = (
    *((58.0, 2.2, -0.8, 4.0), (118.0, -1.0, -3.8, 6.0), (340.0, 3.4, 1.2, 3.0), (600.0, 1.4, -1.8, 5.0)),
    *(
        (770.0, 4.2, 1.6, 4.0),
        (880.0, -0.6, -4.0, 7.0),
        (1280.0, 2.6, 0.2, 4.0),
        (1660.0, -1.2, -4.4, 5.0),
        (1840.0, 3.0, 0.6, 6.0),
    ),
)
"""Repairs in the asphalt: station, left and right offset, length."""


def rings(track: Circuit) -> Floats:
    """Stations, shape (n,), dense in bends so that chords stay within 3 cm; ends with the lap length."""
    kappa = np.interp(np.arange(0.0, track.length_m, 1.0), track.station_m, np.abs(track.curvature_1pm))
    step = np.clip(np.sqrt(8.0 * 0.03 / np.maximum(gaussian_filter1d(kappa, 6.0, mode="wrap"), 1e-4)), 1.6, 6.0)
    stations = [0.0]
    while stations[-1] < track.length_m:
        stations.append(stations[-1] + float(step[min(int(stations[-1]), len(step) - 1)]))
    return np.array(stations) * (track.length_m / stations[-1])


class Ground:
    """Builds the flat faces of a circuit, layer upon layer."""

    def __init__(self, track: Circuit, line_offset: Floats) -> None:
        self._track = track
        self._rings = rings(track)
        self._line = np.interp(self._rings, track.station_m, line_offset)
        self.faces = Faces()

    def _strip(
        self, stations: Floats, inner: Floats | float, outer: Floats | float, colour: Colour, far: Colour | None = None
    ) -> None:
        """Faces between two offset lines along given stations."""
        a, b = (np.broadcast_to(np.asarray(o, dtype=np.float64), stations.shape) for o in (inner, outer))
        left, right = self._track.place(stations, a), self._track.place(stations, b)
        for i in range(len(stations) - 1):
            quad = [
                (left[0][i], left[1][i]),
                (left[0][i + 1], left[1][i + 1]),
                (right[0][i + 1], right[1][i + 1]),
                (right[0][i], right[1][i]),
            ]
            self.faces.add(np.array([(x, y, 0.0) for x, y in quad]), colour, far=far)

    def _between(self, first_m: float, last_m: float, step_m: float) -> Floats:
        return np.linspace(first_m, last_m, max(round((last_m - first_m) / step_m), 1) + 1)

    def _safe_offset(self, stations: Floats, side: float, wanted_m: float) -> Floats:
        """Offsets kept inside the bend's centre, so that strips do not fold over."""
        kappa = np.interp(np.mod(stations, self._track.length_m), self._track.station_m, self._track.curvature_1pm)
        return np.asarray(side * np.minimum(wanted_m, 0.8 / np.maximum(side * kappa, 1e-6)), dtype=np.float64)

    def grass(self) -> None:
        """Mown bands across the direction of travel, 12 m long."""
        edges = self._between(0.0, self._track.length_m, 12.0)
        for number, (a, b) in enumerate(pairwise(edges)):
            piece = self._between(float(a), float(b), 3.0)
            for side in (1.0, -1.0):
                tone = GRASS if (number + (side > 0)) % 2 else GRASS_LIGHT
                self._strip(
                    piece, side * HALF_WIDTH_M, self._safe_offset(piece, side, 13.0), tone, mix(GRASS, GRASS_LIGHT, 0.5)
                )

    def gravel(self) -> None:
        """Traps outside the slow corners, widening to the middle."""
        for corner in self._track.corners:
            if corner.number in (1, 3, 5, 7, 10):
                side = -1.0 if corner.side == "left" else 1.0
                piece = self._between(corner.entry_m - 8.0, corner.exit_m + 8.0, 3.0)
                swell = np.sin(np.linspace(0.0, np.pi, len(piece))) ** 0.5
                self._strip(piece, side * (HALF_WIDTH_M + 3.2), side * (HALF_WIDTH_M + 3.2 + 9.0 * swell), GRAVEL)

    def road(self) -> None:
        """Asphalt with a rubbered line in three soft steps, and the edge paint."""
        self._strip(self._rings, HALF_WIDTH_M, -HALF_WIDTH_M, ASPHALT)
        for first, last in NEW_STRETCHES:
            self._strip(self._between(first, last, 3.0), HALF_WIDTH_M, -HALF_WIDTH_M, NEW_ASPHALT)
        self._rubber(self._rings, ASPHALT)
        for first, last in NEW_STRETCHES:
            self._rubber(self._between(first, last, 3.0), NEW_ASPHALT)
        for side in (1.0, -1.0):
            self._strip(
                self._rings, side * HALF_WIDTH_M, side * (HALF_WIDTH_M - 0.18), PAINT, mix(ASPHALT, PAINT, 0.35)
            )

    def _rubber(self, stations: Floats, base: Colour) -> None:
        line = np.interp(stations, self._rings, self._line)
        for half, dark in ((2.1, 0.945), (1.5, 0.89), (0.9, 0.835)):
            limit = HALF_WIDTH_M - 0.2
            self._strip(
                stations,
                np.clip(line + half, -limit, limit),
                np.clip(line - half, -limit, limit),
                shade(base, dark),
                shade(base, 0.92),
            )

    def kerbs(self) -> None:
        """Red and white blocks."""
        for first_m, last_m, side in kerbs.spans(self._track):
            self._kerb(first_m, last_m, side)

    def patches(self) -> None:
        """Repairs and a paving joint: small things that make speed visible."""
        for station, left, right, length in PATCHES:
            self._strip(
                self._between(station, station + length, 3.0), left, right, shade(ASPHALT, 0.80), shade(ASPHALT, 0.9)
            )
        self._strip(self._rings, 0.06, -0.04, shade(ASPHALT, 0.78), shade(ASPHALT, 0.92))

    def _kerb(self, first_m: float, last_m: float, side: float) -> None:
        edges = self._between(first_m, last_m, 1.6)
        for number, (a, b) in enumerate(pairwise(edges)):
            tone = KERB_RED if number % 2 else KERB_WHITE
            self._strip(
                np.array([a, b]),
                side * (HALF_WIDTH_M - 0.18),
                side * (HALF_WIDTH_M + kerbs.WIDTH_M),
                tone,
                mix(KERB_RED, KERB_WHITE, 0.5),
            )

    def start(self) -> None:
        """The chequered line at station 0 and the boxes of a grid beyond it."""
        squares = np.linspace(-HALF_WIDTH_M, HALF_WIDTH_M, 17)
        for row in range(2):
            for n, (a, b) in enumerate(pairwise(squares)):
                tone = PAINT if (n + row) % 2 else (24.0, 24.0, 26.0)
                self._strip(np.array([0.66 * row - 0.66, 0.66 * row]), a, b, tone, (140.0, 140.0, 140.0))
        for n in range(6):
            side = 2.6 if n % 2 else -2.6
            front = -8.0 - 8.0 * n
            self._strip(np.array([front - 0.15, front]), side - 1.1, side + 1.1, PAINT, ASPHALT)
            for edge in (-1.1, 0.98):
                self._strip(np.array([front - 1.6, front]), side + edge, side + edge + 0.12, PAINT, ASPHALT)

    def marks(self, corner: Corner) -> None:
        """Two dark stripes of locked tyres before a corner."""
        stations = self._between(corner.entry_m - 62.0, corner.entry_m - 12.0, 4.0)
        line = np.interp(stations, self._rings, self._line)
        for wheel in (-0.75, 0.62):
            self._strip(
                stations, line + wheel + 0.4, line + wheel + 0.17 + 0.4, shade(ASPHALT, 0.66), shade(ASPHALT, 0.9)
            )

    def shadow(self, first_m: float, last_m: float) -> None:
        """The shade of something that spans the track."""
        piece = self._between(first_m, last_m, 2.0)
        self._strip(piece, 11.0, HALF_WIDTH_M, shade(GRASS, 0.72))
        self._strip(piece, -11.0, -HALF_WIDTH_M, shade(GRASS, 0.72))
        self._strip(piece, HALF_WIDTH_M, -HALF_WIDTH_M, shade(ASPHALT, 0.72))


def build(track: Circuit, line_offset: Floats, shadows: tuple[tuple[float, float], ...]) -> Faces:
    """All flat faces, bottom layer first; line_offset is the racing line at the track's own stations."""
    ground = Ground(track, line_offset)
    ground.grass()
    ground.gravel()
    ground.road()
    ground.patches()
    for corner in track.corners:
        if corner.number in (1, 3, 5):
            ground.marks(corner)
    for first, last in shadows:
        ground.shadow(first, last)
    ground.kerbs()
    ground.start()
    return ground.faces
