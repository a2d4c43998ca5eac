"""The onboard camera: its pose in the car at an instant, and the projection of the world onto the picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from . import kerbs
from .car import GRAVITY_MPS2
from .circuit import Floats, circuit
from .driver import Drive

WIDTH, HEIGHT = 640, 360
SUPER = 2
"""Drawn at this multiple and averaged down: adjoining faces then meet without cracks."""
FOCAL_PX = 385.0
CENTRE_X, CENTRE_Y = 320.0, 158.0
EYE_M = 1.12
NEAR_M = 0.9
DIVE_RAD_PER_G, ROLL_RAD_PER_G = 0.011, 0.022


@dataclass(frozen=True, slots=True)
class Poses:
    """The camera at every frame; arrays have shape (frames,)."""

    x_m: Floats
    y_m: Floats
    height_m: Floats
    yaw_rad: Floats
    pitch_rad: Floats
    """Positive looks up."""
    roll_rad: Floats
    """Positive tips the car's left side up."""
    steering_deg: Floats
    speed_mps: Floats


def poses(drive: Drive, log_s: Floats) -> Poses:
    """Camera poses at log times: it sits at the car's reference point and moves with the body."""
    random = np.random.default_rng(5)
    speed = drive.at("speed_mps", log_s)
    share = speed / 50.0
    shake = [gaussian_filter1d(random.normal(0.0, 1.0, len(log_s)), width) * width**0.5 for width in (3.0, 4.0, 5.0)]
    body = gaussian_filter1d(drive.at("longitudinal_mps2", log_s), 5.0) / GRAVITY_MPS2
    lean = gaussian_filter1d(drive.at("lateral_mps2", log_s), 5.0) / GRAVITY_MPS2
    kerb = gaussian_filter1d(
        kerbs.ridden(circuit(), drive.at("station_m", log_s), drive.at("offset_m", log_s)).astype(float), 3.0
    )
    return Poses(
        drive.at("x_m", log_s),
        drive.at("y_m", log_s),
        EYE_M + 0.006 * share * shake[0] + 0.006 * kerb * shake[1] - 0.01 * np.abs(lean),
        drive.at("heading_rad", log_s),
        DIVE_RAD_PER_G * body + 0.0007 * share * shake[1] + 0.0012 * kerb * shake[0],
        ROLL_RAD_PER_G * lean + 0.0009 * share * shake[2],
        drive.at("steering_deg", log_s),
        speed,
    )


@dataclass(frozen=True, slots=True)
class View:
    """One frame's projection."""

    eye: Floats
    turn: Floats
    """Shape (3, 3): world to (forward, left, up)."""
    yaw_rad: float
    pitch_rad: float
    roll_rad: float

    @classmethod
    def of(cls, all_poses: Poses, frame: int) -> View:
        """The view of one frame."""
        yaw, pitch, roll = (float(a[frame]) for a in (all_poses.yaw_rad, all_poses.pitch_rad, all_poses.roll_rad))
        cy, sy, cp, sp, cr, sr = np.cos(yaw), np.sin(yaw), np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
        level = np.array([[cy, sy, 0.0], [-sy, cy, 0.0], [0.0, 0.0, 1.0]])
        nod = np.array([[cp, 0.0, sp], [0.0, 1.0, 0.0], [-sp, 0.0, cp]])
        tip = np.array([[1.0, 0.0, 0.0], [0.0, cr, sr], [0.0, -sr, cr]])
        eye = np.array([all_poses.x_m[frame], all_poses.y_m[frame], all_poses.height_m[frame]])
        return cls(eye, tip @ nod @ level, yaw, pitch, roll)

    def to_camera(self, points: Floats) -> Floats:
        """World points, shape (..., 3), as forward, left, up of the camera."""
        return np.asarray((points - self.eye) @ self.turn.T, dtype=np.float64)


def to_screen(camera: Floats) -> Floats:
    """Drawn pixels (x right, y down), shape (..., 2), of camera points in front of the near plane."""
    scale = FOCAL_PX / camera[..., 0]
    x, y = CENTRE_X - camera[..., 1] * scale, CENTRE_Y - camera[..., 2] * scale
    return np.asarray(np.stack([x, y], axis=-1) * SUPER, dtype=np.float64)


def clip_near(face: Floats) -> Floats:
    """A convex face in camera axes, shape (k, 3), cut at the near plane; shape (m, 3), m may be 0."""
    kept: list[NDArray[np.float64]] = []
    for a, b in zip(face, np.roll(face, -1, axis=0), strict=True):
        if a[0] >= NEAR_M:
            kept.append(a)
        if (a[0] >= NEAR_M) != (b[0] >= NEAR_M):
            kept.append(a + (b - a) * ((NEAR_M - a[0]) / (b[0] - a[0])))
    return np.array(kept).reshape(-1, 3)
