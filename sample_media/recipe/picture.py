"""Draws one frame: backdrop, flat faces by layer, upright faces and trees from far to near, the car on top."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from . import ground, things, trees
from .camera import FOCAL_PX, HEIGHT, NEAR_M, SUPER, WIDTH, Poses, View, clip_near, to_screen
from .circuit import Circuit, Floats, circuit
from .cockpit import Cockpit
from .driver import Drive
from .faces import HAZE
from .sky import Backdrop

SHIFT = 3
HAZE_M = 620.0
FAR_COLOUR_M = (45.0, 130.0)
"""Between these distances small patterns give way to their mean colour, so that they do not flicker."""
FLAT_SIGHT_M, SIGHT_M = 330.0, 800.0
TREE_DETAIL_M = 130.0
Pixels = NDArray[np.uint8]


def racing_line(track: Circuit, drive: Drive) -> Floats:
    """The middle lap's offsets at the track's stations, shape (n,)."""
    return np.asarray(np.interp(track.station_m + track.length_m, drive.station_m, drive.offset_m), dtype=np.float64)


def _hazed(colours: Floats, distance_m: Floats) -> Floats:
    share = 1.0 - np.exp(-distance_m / HAZE_M)
    return np.asarray(colours + (np.array(HAZE) - colours) * share[:, None], dtype=np.float64)


class Artist:
    """Holds the world and draws frames of it."""

    def __init__(self, drive: Drive) -> None:
        track = circuit()
        shadows = ((1.0, 3.2), (things.BRIDGE_M + 0.5, things.BRIDGE_M + 4.5))
        self._flat = ground.build(track, racing_line(track, drive), shadows).arrays()
        self._upright = things.build(track).arrays()
        self._wood = trees.plant(track)
        self._backdrop, self._cockpit = Backdrop(), Cockpit()

    def frame(self, poses: Poses, index: int) -> Pixels:
        """One picture, shape (HEIGHT, WIDTH, 3), red green blue."""
        view = View.of(poses, index)
        canvas = self._backdrop.draw(view)
        self._draw_flat(canvas, view)
        self._draw_upright(canvas, view)
        picture = np.asarray(cv2.resize(canvas, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA), dtype=np.uint8)
        self._cockpit.lay(picture, float(poses.steering_deg[index]))
        return picture

    @staticmethod
    def _seen(camera: Floats, sight_m: float) -> NDArray[np.bool_]:
        """Faces with some part before the near plane, near enough, and within the picture's sides."""
        forward, side = camera[..., 0], camera[..., 1]
        ahead = forward.max(axis=1) > NEAR_M
        wide = 0.9 * np.maximum(forward, NEAR_M) + 1.0
        return np.asarray(
            ahead & (forward.min(axis=1) < sight_m) & (side < wide).any(axis=1) & (side > -wide).any(axis=1)
        )

    def _prepare(
        self, parts: tuple[Floats, Floats, Floats, Floats], view: View, sight_m: float
    ) -> tuple[Floats, Floats, Floats]:
        """Camera corners, colours and depths of the faces that can be seen."""
        corners, colours, far, middles = parts
        reach = np.hypot(middles[:, 0] - view.eye[0], middles[:, 1] - view.eye[1])
        near = np.flatnonzero(reach < sight_m)
        camera = view.to_camera(corners[near])
        seen = self._seen(camera, sight_m)
        chosen, camera = near[seen], camera[seen]
        away = np.clip((reach[chosen] - FAR_COLOUR_M[0]) / (FAR_COLOUR_M[1] - FAR_COLOUR_M[0]), 0.0, 1.0)[:, None]
        mixed = colours[chosen] * (1.0 - away) + far[chosen] * away
        return camera, _hazed(mixed, reach[chosen]), reach[chosen]

    @staticmethod
    def _fill(canvas: Pixels, face: Floats, colour: list[float]) -> None:
        if face[:, 0].min() < NEAR_M:
            face = clip_near(face)
            if len(face) < 3:
                return
        points = (to_screen(face) * (1 << SHIFT)).astype(np.int32)
        cv2.fillConvexPoly(canvas, points, colour, cv2.LINE_8, SHIFT)

    def _draw_flat(self, canvas: Pixels, view: View) -> None:
        camera, colours, _ = self._prepare(self._flat, view, FLAT_SIGHT_M)
        whole = camera[..., 0].min(axis=1) >= NEAR_M
        safe = np.where(whole[:, None, None], camera, 1.0)
        points = (to_screen(safe) * (1 << SHIFT)).astype(np.int32)
        for face, ready, shape, colour in zip(camera, whole.tolist(), points, colours.tolist(), strict=True):
            if ready:
                cv2.fillConvexPoly(canvas, shape, colour, cv2.LINE_8, SHIFT)
            else:
                self._fill(canvas, face, colour)

    def _draw_upright(self, canvas: Pixels, view: View) -> None:
        camera, colours, depth = self._prepare(self._upright, view, SIGHT_M)
        feet = view.to_camera(self._wood.place)
        reach = np.hypot(feet[:, 0], feet[:, 1])
        wide = feet[:, 0] * 0.9 + 6.0
        trees_seen = np.flatnonzero((feet[:, 0] > 2.0) & (np.abs(feet[:, 1]) < wide))
        tree_colours = _hazed(self._wood.colours[trees_seen], reach[trees_seen])
        order = np.argsort(-np.concatenate([depth, reach[trees_seen]]), kind="stable")
        faces, rgb = len(depth), colours.tolist()
        for item in order.tolist():
            if item < faces:
                self._fill(canvas, camera[item], rgb[item])
            else:
                tree = trees_seen[item - faces]
                self._tree(canvas, feet[tree], float(reach[tree]), int(tree), tree_colours[item - faces], view)

    def _tree(self, canvas: Pixels, foot: Floats, reach_m: float, tree: int, colour: Floats, view: View) -> None:
        kind = trees.KINDS[int(self._wood.kind[tree])]
        x, y = to_screen(foot)
        scale = self._wood.height_m[tree] * FOCAL_PX * SUPER / foot[0]
        lean = np.array([[1.0, view.roll_rad], [view.roll_rad, -1.0]]) * scale
        if kind.trunk > 0.0:
            trunk = np.array([(-0.025, 0.0), (0.025, 0.0), (0.02, kind.trunk + 0.1), (-0.02, kind.trunk + 0.1)])
            bark = _hazed(np.array([[92.0, 74.0, 58.0]]), np.array([reach_m]))[0]
            self._shape(canvas, trunk, lean, x, y, bark)
        for outline, light in kind.parts if reach_m < TREE_DETAIL_M else kind.far_parts:
            tone = np.clip(colour * light, 0.0, 255.0)
            self._shape(canvas, outline, lean, x, y, tone)

    @staticmethod
    def _shape(canvas: Pixels, outline: Floats, lean: Floats, x: float, y: float, colour: Floats) -> None:
        points = ((outline @ lean.T + (x, y)) * (1 << SHIFT)).astype(np.int32)
        cv2.fillConvexPoly(canvas, points, colour.tolist(), cv2.LINE_8, SHIFT)
