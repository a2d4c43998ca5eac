"""How the camera turned between two small pictures, kept apart from how it travelled.

What is near moves by travelling, too, and in a bend more on one side than on the other: an average over the picture
turns some 10 to 30 ms before or after the car does. Here each block of the picture has a nearness of its own, that
moves it away from the point the car drives to, and the turning is what all blocks have in common. Turning by angles
w = (pan, tilt, roll) moves the point (x, y), from the picture's middle, of a camera with focal length f by

    u = w0 f (1 + x²/f²) + w1 xy/f + w2 y,    v = w0 xy/f + w1 f (1 + y²/f²) - w2 x

and driving on moves it by nearness * (x - e, y), where e is the column driven to (Longuet-Higgins and Prazdny, The
interpretation of a moving retinal image, 1980). The brightness itself is fitted by least squares (Lucas and Kanade,
1981), all blocks at once, so that what has no structure has no say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Float32Array = NDArray[np.float32]
GreyPicture = NDArray[np.uint8]

UPPER_SHARE, MIDDLE_SHARE = 0.40, 0.80
"""The part of the picture that is looked at: above the horizon of a camera that looks straight ahead, where things
are far, without the sides, where they are near and pillars are. No source."""
FLOW_SHARE = 0.55
"""The upper part whose median flow is where the fit starts."""
BLOCK_ROWS, BLOCK_COLUMNS = 9, 10
FOCAL_WIDTHS = 0.575
"""Focal length in picture widths, of a view of 82 degrees. Another lens changes the scale of the answer only."""
HEADING_ROW = -0.06
"""Row driven to, in picture heights below the middle."""
COLUMN_SIGMA_PX = 3.0
"""How far the column driven to strays from the middle: a car slips by about two degrees."""
NEARNESS_SIGMA = 0.1
"""Things this near grow by a tenth from picture to picture."""
NEAREST = 0.5
BRIGHTNESS = 60.0
"""Brightness is compared by its logarithm times this, so that exposure does not matter."""
NOISE = (16.0, 8.0, 4.0)
"""Differences of brightness that still count fully, step by step; the last one is kept."""
MOST_STEPS, LEAST_MOVE_PX = 8, 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A picture made ready: structure without exposure, and its slopes in blocks, shape (blocks, pixels)."""

    whole: Float32Array
    here: Float32Array
    across: Float32Array
    down: Float32Array
    upper: GreyPicture


class TurnMeter:
    """Measures turning between pictures of one size."""

    def __init__(self, rows: int, columns: int) -> None:
        import cv2

        self.columns, self.focal_px = columns, FOCAL_WIDTHS * columns
        self._flow_rows = max(8, round(rows * FLOW_SHARE))
        self._high = min(BLOCK_ROWS, rows)
        self._down = max(1, round(UPPER_SHARE * rows / BLOCK_ROWS))
        self._along = max(1, int(MIDDLE_SHARE * columns / BLOCK_COLUMNS))
        left = max(0, (columns - self._along * BLOCK_COLUMNS) // 2)
        self._part = slice(0, self._down * self._high), slice(left, left + self._along * BLOCK_COLUMNS)
        grid = np.mgrid[self._part].astype(np.float32)
        self._row, self._column = self._blocks(grid[0]), self._blocks(grid[1])
        x, y, f = self._column - (columns - 1) / 2, self._row - (rows - 1) / 2, self.focal_px
        self._u = np.stack([f + x * x / f, x * y / f, y, x]).astype(np.float32)
        self._v = np.stack([x * y / f, f + y * y / f, -x, y - HEADING_ROW * rows]).astype(np.float32)
        self._prior = np.diag([1e-3 * f**2] * 3 + [COLUMN_SIGMA_PX**-2])
        self._flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_ULTRAFAST)
        self.widths_per_rad = float(self._u[0].mean()) / columns
        """Turning by a small angle moves the looked-at part by this many picture widths."""

    def _blocks(self, values: Float32Array) -> Float32Array:
        shaped = values.reshape(self._down, self._high, self._along, BLOCK_COLUMNS).swapaxes(1, 2)
        return np.ascontiguousarray(shaped).reshape(self._down * self._along, -1)

    def prepared(self, picture: GreyPicture) -> Prepared:
        """Make a picture ready, once, for the pairs that it is in."""
        import cv2

        light = np.asarray(cv2.log(picture.astype(np.float32) + 8.0)) * np.float32(BRIGHTNESS)
        whole = cv2.GaussianBlur(light, (0, 0), 0.8) - cv2.boxFilter(light, -1, (25, 25))
        across, down = (cv2.Sobel(whole, cv2.CV_32F, *way, ksize=3, scale=1 / 8) for way in ((1, 0), (0, 1)))
        here, across, down = (self._blocks(np.asarray(a, np.float32)[self._part]) for a in (whole, across, down))
        return Prepared(np.asarray(whole, np.float32), here, across, down,
                        np.ascontiguousarray(picture[: self._flow_rows]))  # fmt: skip

    def between(self, first: Prepared, second: Prepared) -> FloatArray:
        """Angles (pan, tilt, roll) in radians by which things moved right, down and counter-clockwise."""
        flow = self._flow.calc(first.upper, second.upper, None)  # type: ignore[call-overload]
        start = np.median(np.asarray(flow).reshape(-1, 2), axis=0) / self.focal_px
        if not np.isfinite(start).all():  # the flow needs more rows than a very flat picture has
            start = np.zeros(2)
        state = _State(np.array([start[0], start[1], 0.0]), 0.0, np.zeros((first.here.shape[0], 1), np.float32))
        slopes = np.concatenate([first.across * self._u + first.down * self._v, first.across[None]])
        slopes = slopes.transpose(1, 0, 2)
        for step in range(MOST_STEPS):
            before = state.turn[0]
            state = self._better(state, first.here, second.whole, slopes, NOISE[min(step, len(NOISE) - 1)])
            if step + 1 >= len(NOISE) and abs(state.turn[0] - before) * self.focal_px < LEAST_MOVE_PX:
                break
        return state.turn

    def _better(self, state: _State, here: Float32Array, second: Float32Array, slopes: Float32Array,
                noise: float) -> _State:  # fmt: skip
        """One step of least squares, each block's nearness eliminated (Schur complement)."""
        off, weight = self._difference(state, here, second, noise)
        weighted = slopes * weight[:, None]
        normal = weighted @ slopes.transpose(0, 2, 1)
        right = (weighted @ off[:, :, None])[:, :, 0]
        near = state.nearness[:, 0]
        # Moving the column driven to by one pixel moves a block by its nearness.
        scale = np.stack([*[np.ones_like(near)] * 3, -near], axis=1)
        common = [0, 1, 2, 4]
        mixed, own = normal[:, 3][:, common] * scale, normal[:, 3, 3] + NEARNESS_SIGMA**-2
        left_over = right[:, 3] - near * NEARNESS_SIGMA**-2
        whole = normal[:, common][:, :, common] * scale[:, :, None] * scale[:, None]
        whole = (whole - mixed[:, :, None] * mixed[:, None] / own[:, None, None]).sum(0).astype(np.float64)
        wish = (right[:, common] * scale - mixed * (left_over / own)[:, None]).sum(0).astype(np.float64)
        wish[3] -= state.column_px * COLUMN_SIGMA_PX**-2
        change = np.linalg.solve(whole + self._prior, wish)
        nearer = np.clip(near + (left_over - mixed @ change) / own, -0.1 * NEAREST, NEAREST)
        return _State(state.turn + change[:3], state.column_px + float(change[3]), nearer[:, None].astype(np.float32))

    def _difference(self, state: _State, here: Float32Array, second: Float32Array,
                    noise: float) -> tuple[Float32Array, Float32Array]:  # fmt: skip
        """What is left of the difference when the second picture is moved back, and how much each pixel counts."""
        import cv2

        turn = state.turn.astype(np.float32)
        u = np.tensordot(turn, self._u[:3], 1) + state.nearness * (self._u[3] - np.float32(state.column_px))
        v = np.tensordot(turn, self._v[:3], 1) + state.nearness * self._v[3]
        at: Any = self._column + u
        moved = cv2.remap(second, at, self._row + v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        off = here - np.asarray(moved, np.float32)
        inside = (at >= 1) & (at <= self.columns - 2)
        return off, (inside / (noise**2 + off * off)).astype(np.float32)


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """Where the fit stands."""

    turn: FloatArray
    column_px: float
    nearness: Float32Array
    """Shape (blocks, 1)."""
