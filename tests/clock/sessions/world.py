"""What stands and lies about a circuit: ground as a picture from above, things as upright rectangles, hills far off."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from tests.clock.sessions.circuit import Circuit, FloatArray, make_circuit

Grey = NDArray[np.uint8]

NEAR_M_PER_PX, FAR_M_PER_PX = 0.25, 1.0
BORDER_M = 60.0
ROAD_M = 10.0
TURN_PX = 1024
"""Width of the view of the hills, which goes all round."""


@dataclass(frozen=True, slots=True, eq=False)
class Things:
    """Upright rectangles and ellipses that face the camera; arrays of shape (n,)."""

    x_m: FloatArray
    y_m: FloatArray
    left_m: FloatArray
    """From the anchor, as seen, negative to the left."""
    right_m: FloatArray
    low_m: FloatArray
    high_m: FloatArray
    grey: FloatArray
    round: NDArray[np.bool_]
    lamp: NDArray[np.bool_]
    """Gives light by night."""


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """One circuit's surroundings."""

    near: Grey
    """The ground from above, `NEAR_M_PER_PX`; row and column of world point (x, y) are (y, x - origin) / scale."""
    far: Grey
    """The same, blurred, at `FAR_M_PER_PX`."""
    origin_m: tuple[float, float]
    things: Things
    hills: Grey
    """Shape (rows, TURN_PX): sky and hills all round, column by compass angle; the horizon is 3/4 down."""


@lru_cache(maxsize=3)
def make_world(circuit_seed: int, length_m: float | None = None) -> World:
    """The surroundings of a circuit, always the same for its seed."""
    circuit = make_circuit(circuit_seed, length_m)
    rng = np.random.default_rng([circuit_seed, 4])
    origin = float(circuit.x_m.min() - BORDER_M), float(circuit.y_m.min() - BORDER_M)
    near = _ground(circuit, origin, rng)
    shape = (round(near.shape[1] / 4), round(near.shape[0] / 4))
    far = cv2.resize(near, shape, interpolation=cv2.INTER_AREA)
    return World(near, np.asarray(far, np.uint8), origin, _things(circuit, rng), _hills(rng))


def _noise(rng: np.random.Generator, shape: tuple[int, int], cell_px: float) -> NDArray[np.float32]:
    """Smooth noise of unit spread with spots of about `cell_px`."""
    small = rng.normal(size=(int(shape[0] / cell_px) + 2, int(shape[1] / cell_px) + 2)).astype(np.float32)
    grown = cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_LINEAR)
    return np.asarray(grown, np.float32)


def _ground(circuit: Circuit, origin: tuple[float, float], rng: np.random.Generator) -> Grey:
    wide = float(np.ptp(circuit.x_m) + 2 * BORDER_M), float(np.ptp(circuit.y_m) + 2 * BORDER_M)
    shape = (round(wide[1] / NEAR_M_PER_PX), round(wide[0] / NEAR_M_PER_PX))
    grass = 95 + 16 * _noise(rng, shape, 160) + 12 * _noise(rng, shape, 24) + 9 * _noise(rng, shape, 5)
    tar = 70 + 5 * _noise(rng, shape, 200) + 5 * _noise(rng, shape, 12) + 5 * _noise(rng, shape, 2)
    fine = _noise(rng, shape, 1.5)
    middle = np.stack([circuit.x_m - origin[0], circuit.y_m - origin[1]], axis=1) / NEAR_M_PER_PX
    _fields(grass, middle, rng)
    road = np.zeros(shape, np.uint8)
    _stroke(road, middle, ROAD_M, 255)
    _patches(tar, middle, rng)
    ground = np.where(road > 0, tar, grass)
    _markings(ground, circuit, middle)
    ground += 4 * fine
    return np.asarray(np.clip(ground, 0, 255), np.uint8)


def _stroke(
    picture: Grey | NDArray[np.float32], line_px: FloatArray, wide_m: float, value: float, *, closed: bool = True
) -> None:
    points = np.round(line_px * 16).astype(np.int32).reshape(-1, 1, 2)
    thick = max(1, round(wide_m / NEAR_M_PER_PX))
    cv2.polylines(picture, [points], closed, value, thick, cv2.LINE_8, 4)


def _fields(grass: NDArray[np.float32], middle: FloatArray, rng: np.random.Generator) -> None:
    """Gravel, mown strips and bare spots beside the road."""
    for _ in range(140):
        at = middle[rng.integers(len(middle))] + rng.normal(0, 25 / NEAR_M_PER_PX, 2)
        axes = rng.uniform(3, 16, 2) / NEAR_M_PER_PX
        shade = float(np.clip(rng.normal(105, 35), 40, 200))
        cv2.ellipse(grass, (int(at[0]), int(at[1])), (int(axes[0]), int(axes[1])), float(rng.uniform(0, 180)), 0, 360,
                    shade, -1)  # fmt: skip


def _patches(tar: NDArray[np.float32], middle: FloatArray, rng: np.random.Generator) -> None:
    """Mended road, skid marks, manhole covers."""
    for _ in range(round(len(middle) / 14)):
        begin = int(rng.integers(len(middle)))
        piece = middle[np.arange(begin, begin + int(rng.integers(2, 30))) % len(middle)]
        shift = rng.normal(0, 2.5 / NEAR_M_PER_PX, 2)
        _stroke(tar, piece + shift, float(rng.uniform(0.25, 3)), float(rng.normal(68, 18)), closed=False)


def _markings(ground: NDArray[np.float32], circuit: Circuit, middle: FloatArray) -> None:
    """Edge lines, kerbs in bends, the start line and the grid."""
    heading = circuit.heading_rad
    side = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    for sign in (-1, 1):
        edge = middle + sign * side * (ROAD_M / 2 - 0.3) / NEAR_M_PER_PX
        _stroke(ground, edge, 0.25, 190)
        kerb = middle + sign * side * (ROAD_M / 2 + 0.4) / NEAR_M_PER_PX
        for k in np.flatnonzero(np.abs(circuit.curvature_1pm) > 0.008).tolist():
            _stroke(ground, kerb[[k - 1, k]], 1.0, 215 if k % 3 else 80, closed=False)
    across = np.array([-0.5, 0.5])[:, None] * ROAD_M / NEAR_M_PER_PX * side[0]
    _stroke(ground, middle[0] + across, 0.75, 235, closed=False)
    for k in range(8):
        place = -8 * (k + 1)
        box = middle[place] + np.array([[0.4], [3.0]]) / NEAR_M_PER_PX * side[place] * (-1) ** k
        _stroke(ground, box, 0.25, 215, closed=False)


def _things(circuit: Circuit, rng: np.random.Generator) -> Things:
    """Boards, trees, posts, huts, stacks of tyres and two gantries."""
    heading = circuit.heading_rad
    rows: list[tuple[float, ...]] = []

    def put(at: int, off_m: float, parts: list[tuple[float, ...]]) -> None:
        x = circuit.x_m[at] - off_m * np.sin(heading[at])
        y = circuit.y_m[at] + off_m * np.cos(heading[at])
        if np.min(np.hypot(circuit.x_m - x, circuit.y_m - y)) > min(abs(off_m), 6.5) - 0.5:
            rows.extend((x, y, *part) for part in parts)

    for _ in range(round(circuit.length_m / 9)):
        at, sign = int(rng.integers(circuit.x_m.size)), 1 if rng.random() < 0.5 else -1
        kind = rng.random()
        if kind < 0.45:
            put(at, sign * rng.uniform(12, 45), _tree(rng))
        elif kind < 0.8:
            put(at, sign * rng.uniform(7, 14), _board(rng))
        elif kind < 0.92:
            put(at, sign * rng.uniform(7, 10), _post(rng))
        else:
            put(at, sign * rng.uniform(20, 45), _hut(rng))
    for at in (3, int(rng.integers(circuit.x_m.size))):
        put(at, 0.0, [(-7, 7, 5.0, 6.2, 60, 0, 0), (-7, -6.6, 0, 6, 50, 0, 0), (6.6, 7, 0, 6, 50, 0, 0),
                      (-3, 3, 5.2, 6.0, 210, 0, 1)])  # fmt: skip
    table = np.array(rows, dtype=np.float64)
    x, y, left, right, low, high, grey, is_round, lamp = (table[:, k] for k in range(9))
    return Things(x, y, left, right, low, high, grey, is_round > 0, lamp > 0)


def _tree(rng: np.random.Generator) -> list[tuple[float, ...]]:
    high, wide, shade = rng.uniform(4, 13), rng.uniform(1.2, 3.5), rng.uniform(35, 85)
    top = [(-wide * f + s, wide * f + s, high * b, high * t, shade + d, 1, 0)
           for f, s, b, t, d in ((1, 0, 0.25, 0.85, 0), (0.6, 0.4 * wide, 0.45, 1.0, 14))]  # fmt: skip
    return [(-0.2, 0.2, 0, 0.5 * high, 45, 0, 0), *top]


def _board(rng: np.random.Generator) -> list[tuple[float, ...]]:
    wide, low, shade = rng.uniform(0.8, 3.0), rng.uniform(0, 0.8), rng.choice([40, 90, 190, 225])
    high = low + rng.uniform(0.7, 1.6)
    other = 235 - shade
    cut = np.sort(rng.uniform(-wide, wide, 2))
    return [(-wide, wide, low, high, shade, 0, 0), (cut[0], cut[1], low + 0.2, high - 0.2, other, 0, 0)]


def _post(rng: np.random.Generator) -> list[tuple[float, ...]]:
    high = rng.uniform(1.2, 8)
    lit = 1 if high > 5 else 0
    return [(-0.15, 0.15, 0, high, rng.uniform(30, 200), 0, 0), (-0.5, 0.5, high - 0.7, high, 220, 0, lit)]


def _hut(rng: np.random.Generator) -> list[tuple[float, ...]]:
    wide, high, shade = rng.uniform(3, 9), rng.uniform(3, 8), rng.uniform(90, 200)
    window = rng.uniform(-wide, 0.4 * wide)
    return [(-wide, wide, 0, high, shade, 0, 0), (-wide - 0.5, wide + 0.5, high, high + 1, 70, 0, 0),
            (window, window + 0.4 * wide, 1, 2.4, 50, 0, int(rng.random() < 0.5))]  # fmt: skip


def _hills(rng: np.random.Generator) -> Grey:
    rows = 192
    horizon = rows * 3 // 4
    ridge = sum(a * gaussian_filter1d(rng.normal(size=TURN_PX), s, mode="wrap") * np.sqrt(3.5 * s)
                for a, s in ((9, 60), (4, 12), (1.5, 3)))  # fmt: skip
    top = horizon - 12 - np.clip(np.asarray(ridge), -9, 60)
    level = np.arange(rows)[:, None]
    haze = 205 - 0.25 * (rows - level) + 10 * _ring_noise(rng, rows, 40)
    land = 120 + 12 * _ring_noise(rng, rows, 18) + 8 * _ring_noise(rng, rows, 4)
    return np.asarray(np.clip(np.where(level > top, land, haze), 0, 255), np.uint8)


def _ring_noise(rng: np.random.Generator, rows: int, cell_px: float) -> NDArray[np.float32]:
    """Noise whose last column meets its first: the surplus at the end is faded into the beginning."""
    fade = 64
    wide = _noise(rng, (rows, TURN_PX + fade), cell_px)
    share = np.linspace(0, 1, fade, dtype=np.float32)
    wide[:, :fade] = wide[:, :fade] * share + wide[:, TURN_PX:] * (1 - share)
    return wide[:, :TURN_PX]
