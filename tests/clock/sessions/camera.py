"""Draws what a camera in the car sees: ground by perspective, things as projected rectangles, hills by compass angle.

Cheap on purpose (a third of a millisecond a picture): what matters is that near ground streams, landmarks come at
their place in every lap and the far view turns with the car.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.clock.sessions.circuit import FloatArray
from tests.clock.sessions.world import FAR_M_PER_PX, NEAR_M_PER_PX, TURN_PX, Grey, World

CAMERA_M = 1.15
"""Height above the road."""
SPLIT_M = 14.0
"""Beyond this the coarse picture of the ground is used."""
CLOSEST_M, FARTHEST_M = 3.0, 260.0
HEADLIGHT_M = 45.0
CAR_AHEAD = ((-0.9, 0.2, 0.9, 1.0, 45), (-0.7, 0.9, 0.7, 1.4, 85), (-0.8, 0.6, -0.5, 0.8, 190),
             (0.5, 0.6, 0.8, 0.8, 190))  # fmt: skip
"""Left, low, right, high in metres and grey of the parts that are seen from behind."""


@dataclass(frozen=True, slots=True, eq=False)
class Poses:
    """Where the camera is and looks for each frame; arrays of shape (n,), angles in radians."""

    x_m: FloatArray
    y_m: FloatArray
    yaw: FloatArray
    pitch: FloatArray
    """Positive when the camera looks down."""
    roll: FloatArray
    gain: FloatArray
    """Exposure, 1 is usual."""
    wheel: FloatArray
    """Angle of the steering wheel."""
    ahead_m: FloatArray
    """Distance of the car in front; NaN where there is none."""


@dataclass(frozen=True, slots=True)
class Look:
    """How the camera is and what is in its way."""

    size: tuple[int, int]
    seed: int
    night: bool = False
    cockpit: bool = False
    view_deg: float = 82.0
    """Horizontal angle of view."""


class Camera:
    """Draws grey pictures of shape (rows, columns)."""

    def __init__(self, world: World, look: Look) -> None:
        self.world, self.look = world, look
        self.margin = round(0.05 * look.size[0])
        self.width, self.height = look.size[0] + 2 * self.margin, look.size[1] + 2 * self.margin
        self.focal_px = look.size[0] / 2 / math.tan(math.radians(look.view_deg) / 2)
        self.middle_px = self.width / 2
        self.horizon_px = self.height * 0.44
        self._canvas = np.zeros((self.height, self.width), np.uint8)
        self._angle = np.arctan((np.arange(self.width) + 0.5 - self.middle_px) / self.focal_px).astype(np.float32)
        self._rng = np.random.default_rng([look.seed, 5])
        spread = 7.0 if look.night else 2.5
        grains = self._rng.normal(0, spread, (16, look.size[1], look.size[0]))
        self._more = np.clip(grains, 0, 255).astype(np.uint8)
        self._less = np.clip(-grains, 0, 255).astype(np.uint8)
        self._cone = self._headlights() if look.night else None
        self._cockpit = self._inside() if look.cockpit else None

    def pictures(self, poses: Poses) -> Iterator[Grey]:
        """One picture per pose."""
        block = 256
        for begin in range(0, poses.x_m.size, block):
            rows = np.arange(begin, min(begin + block, poses.x_m.size))
            for row, seen in zip(rows, self._project(poses, rows), strict=True):
                yield self._picture(poses, int(row), seen)

    def _picture(self, poses: Poses, row: int, seen: NDArray[np.int32]) -> Grey:
        canvas = self._canvas
        horizon = self.horizon_px - self.focal_px * math.tan(poses.pitch[row])
        edge = max(1, min(self.height - 2, math.ceil(horizon)))
        self._draw_hills(canvas, float(poses.yaw[row]), horizon, edge)
        self._draw_ground(canvas, poses, row, horizon, edge)
        self._draw_things(canvas, seen)
        if math.isfinite(poses.ahead_m[row]):
            self._draw_car(canvas, float(poses.ahead_m[row]), horizon)
        if self._cockpit is not None:
            self._draw_cockpit(canvas, self._cockpit, float(poses.wheel[row]))
        return self._developed(canvas, float(poses.roll[row]), float(poses.gain[row]))

    def _draw_hills(self, canvas: Grey, yaw: float, horizon: float, edge: int) -> None:
        if self.look.night:
            canvas[:edge] = 6
            return
        hills = self.world.hills
        per_px = TURN_PX / (2 * math.pi) / self.focal_px
        columns = (self._angle - yaw) * (TURN_PX / (2 * math.pi)) % TURN_PX
        rows = (np.arange(edge, dtype=np.float32) - horizon) * per_px + hills.shape[0] * 0.75
        map_x = np.broadcast_to(columns.astype(np.float32), (edge, self.width))
        map_y = np.broadcast_to(rows.astype(np.float32)[:, None], (edge, self.width))
        cv2.remap(hills, map_x, map_y, cv2.INTER_LINEAR, dst=canvas[:edge], borderMode=cv2.BORDER_WRAP)

    def _draw_ground(self, canvas: Grey, poses: Poses, row: int, horizon: float, edge: int) -> None:
        split = min(self.height - 1, max(edge + 1, round(horizon + self.focal_px * CAMERA_M / SPLIT_M)))
        for top, end, texture, scale in ((edge, split, self.world.far, FAR_M_PER_PX),
                                         (split, self.height, self.world.near, NEAR_M_PER_PX)):  # fmt: skip
            matrix = self._ground_matrix(poses, row, horizon - top, scale)
            cv2.warpPerspective(texture, matrix, (self.width, end - top), dst=canvas[top:end],
                                flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                                borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
        if self._cone is not None:
            lit = self._cone[: self.height - edge]
            np.right_shift(canvas[edge:] * lit, 8, out=canvas[edge:], casting="unsafe")

    def _ground_matrix(self, poses: Poses, row: int, horizon: float, scale: float) -> FloatArray:
        """From (column, row, 1) of the picture to the ground's texture; all in homogeneous coordinates."""
        cos, sin = math.cos(poses.yaw[row]), math.sin(poses.yaw[row])
        high = CAMERA_M
        x0, y0 = poses.x_m[row] - self.world.origin_m[0], poses.y_m[row] - self.world.origin_m[1]
        middle = self.middle_px
        over_x = [high * sin, x0, -middle * high * sin - x0 * horizon + self.focal_px * high * cos]
        over_y = [-high * cos, y0, middle * high * cos - y0 * horizon + self.focal_px * high * sin]
        return np.array([[v / scale for v in over_x], [v / scale for v in over_y], [0.0, 1.0, -horizon]])

    def _project(self, poses: Poses, rows: NDArray[np.int64]) -> list[NDArray[np.int32]]:
        """For each frame the things in view, far ones first: columns left, top, right, bottom (1/8 px), grey, round."""
        t = self.world.things
        cos, sin = np.cos(poses.yaw[rows])[:, None], np.sin(poses.yaw[rows])[:, None]
        dx, dy = t.x_m - poses.x_m[rows][:, None], t.y_m - poses.y_m[rows][:, None]
        depth, side = dx * cos + dy * sin, dx * sin - dy * cos
        seen = (depth > CLOSEST_M) & (depth < FARTHEST_M) & (np.abs(side) < depth * 1.1 + 3)
        horizon = self.horizon_px - self.focal_px * np.tan(poses.pitch[rows])
        result = []
        for k in range(rows.size):
            pick = np.flatnonzero(seen[k])
            pick = pick[np.argsort(-depth[k, pick], kind="stable")]
            scale = self.focal_px / depth[k, pick]
            result.append(np.stack([
                8 * (self.middle_px + (side[k, pick] + t.left_m[pick]) * scale),
                8 * (horizon[k] + (CAMERA_M - t.high_m[pick]) * scale),
                8 * (self.middle_px + (side[k, pick] + t.right_m[pick]) * scale),
                8 * (horizon[k] + (CAMERA_M - t.low_m[pick]) * scale),
                self._shade(pick, depth[k, pick]), t.round[pick],
            ], axis=1).astype(np.int32))  # fmt: skip
        return result

    def _shade(self, pick: NDArray[np.int64], depth: FloatArray) -> FloatArray:
        t = self.world.things
        if not self.look.night:
            mist = np.minimum(depth / 500, 0.5)
            return np.asarray(t.grey[pick] * (1 - mist) + 165 * mist, np.float64)
        return np.where(t.lamp[pick], 235, t.grey[pick] * np.exp(-((depth / HEADLIGHT_M) ** 2)) + 4)

    def _draw_things(self, canvas: Grey, seen: NDArray[np.int32]) -> None:
        for left, top, right, low, grey, is_round in seen.tolist():
            if is_round:
                centre, axes = ((left + right) // 2, (top + low) // 2), ((right - left) // 2, (low - top) // 2)
                cv2.ellipse(canvas, centre, axes, 0, 0, 360, grey, -1, cv2.LINE_8, 3)
            else:
                cv2.rectangle(canvas, (left, top), (right, low), grey, -1, cv2.LINE_AA, 3)

    def _draw_car(self, canvas: Grey, ahead_m: float, horizon: float) -> None:
        scale = self.focal_px / ahead_m
        for left, low, right, high, grey in CAR_AHEAD:
            corner = round(8 * (self.middle_px + left * scale)), round(8 * (horizon + (CAMERA_M - high) * scale))
            other = round(8 * (self.middle_px + right * scale)), round(8 * (horizon + (CAMERA_M - low) * scale))
            cv2.rectangle(canvas, corner, other, grey, -1, cv2.LINE_AA, 3)

    def _inside(self) -> tuple[Grey, Grey]:
        """Bonnet and pillar, and where they are."""
        width, height = self.width, self.height
        picture, mask = np.full((height, width), 52, np.uint8), np.zeros((height, width), np.uint8)
        bonnet = np.array([[0, 1], [0, 0.84], [0.3, 0.76], [0.75, 0.77], [1, 0.86], [1, 1]]) * (width, height)
        pillar = np.array([[0.02, 0], [0.09, 0], [0.05, 0.9], [0, 0.9]]) * (width, height)
        cv2.fillPoly(picture, [pillar.astype(np.int32)], 30)
        cv2.fillPoly(mask, [bonnet.astype(np.int32), pillar.astype(np.int32)], 255)
        return picture, mask

    def _draw_cockpit(self, canvas: Grey, inside: tuple[Grey, Grey], wheel: float) -> None:
        cv2.copyTo(inside[0], inside[1], canvas)
        centre = (round(0.36 * self.width), round(1.02 * self.height))
        radius, thick = round(0.2 * self.width), max(2, round(0.02 * self.width))
        cv2.circle(canvas, centre, radius, 25, thick, cv2.LINE_8)
        for spoke in (-0.3, math.pi + 0.3):
            along = spoke - wheel
            tip = round(centre[0] + radius * math.cos(along)), round(centre[1] + radius * math.sin(along))
            cv2.line(canvas, centre, tip, 95, thick, cv2.LINE_8)

    def _developed(self, canvas: Grey, roll: float, gain: float) -> Grey:
        """Roll, exposure, grain; cut to size."""
        width, height = self.look.size
        cos, sin = math.cos(roll), math.sin(roll)
        cx, cy = width / 2, height / 2
        matrix = np.array([[cos, -sin, self.middle_px - cos * cx + sin * cy],
                           [sin, cos, self.height / 2 - sin * cx - cos * cy]])  # fmt: skip
        picture = cv2.warpAffine(canvas, matrix, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        picture = cv2.convertScaleAbs(picture, alpha=gain)
        grain = int(self._rng.integers(16)), int(self._rng.integers(16))
        picture = cv2.add(picture, self._more[grain[0]])
        return np.asarray(cv2.subtract(picture, self._less[grain[1]]), np.uint8)

    def _headlights(self) -> NDArray[np.uint16]:
        """How much of the ground's light comes back, by row below the horizon and column; 256 is all of it."""
        rows = np.arange(self.height, dtype=np.float64)[:, None] + 0.5
        depth = self.focal_px * CAMERA_M / rows
        angle = (np.arange(self.width) + 0.5 - self.middle_px) / self.focal_px
        light = (
            np.exp(-((depth / HEADLIGHT_M) ** 2)) * np.exp(-((angle / 0.42) ** 2)) * np.minimum(1, 0.25 + depth / 12)
        )
        return np.asarray(np.clip(18 + 260 * light, 0, 256), np.uint16)
