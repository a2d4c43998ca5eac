"""What lies beyond the circuit, by direction: sky with sun and clouds, hills, the sea, and the far ground."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import CENTRE_X, CENTRE_Y, FOCAL_PX, HEIGHT, SUPER, WIDTH, View
from .circuit import Floats
from .faces import HAZE

PER_DEG = 8
LOW_DEG, HIGH_DEG = -62.0, 34.0
SUN_AZ_DEG, SUN_EL_DEG = 228.0, 30.0
"""Azimuth counts from east to the left, as headings do."""
EYE_M = 1.12


def _blend(image: Floats, colour: tuple[float, float, float], share: Floats) -> None:
    image += (np.array(colour) - image) * share[..., None]


def _hills(azimuth: Floats, seed: int, height_deg: float) -> Floats:
    """A skyline that closes on itself, degrees above the horizon."""
    random = np.random.default_rng(seed)
    total = np.zeros_like(azimuth)
    for waves in range(2, 26):
        total += np.cos(waves * np.radians(azimuth) + random.uniform(0, 6.28)) * random.normal() / waves**0.9
    return np.asarray(height_deg * np.clip(0.55 + 0.42 * total, 0.02, None), dtype=np.float64)


def _clouds(image: Floats, azimuth: Floats, elevation: Floats) -> None:
    """Soft flat-bottomed heaps, drawn as blurred discs."""
    random = np.random.default_rng(31)
    veil = np.zeros(image.shape[:2], dtype=np.float32)
    wide = len(azimuth)
    for _ in range(46):
        middle, floor = random.uniform(0, 360), random.uniform(6.0, 24.0)
        size = random.uniform(3.0, 8.0) * (0.6 + floor / 30.0)
        for _ in range(9):
            a, e = middle + random.normal(0, size), floor + abs(random.normal(0, 0.16 * size))
            radius = random.uniform(0.22, 0.5) * size
            for wrap in (-360.0, 0.0, 360.0):
                at = (int((a + wrap) * PER_DEG), int((HIGH_DEG - e) * PER_DEG))
                if -wide < at[0] < 2 * wide:
                    cv2.ellipse(
                        veil, at, (int(radius * PER_DEG * 1.5), int(radius * PER_DEG * 0.55)), 0, 0, 360, 1.0, -1
                    )
    doubled = cv2.GaussianBlur(np.hstack([veil, veil, veil]), (0, 0), 5.0)[:, wide : 2 * wide]
    soft = cv2.GaussianBlur(np.hstack([veil, veil, veil]), (0, 0), 12.0)[:, wide : 2 * wide]
    share = np.clip(0.62 * doubled + 0.3 * soft, 0.0, 0.9)
    top = np.clip((np.roll(soft, 14, axis=0) * 0.9), 0.0, 1.0)[..., None]
    white = np.array([252.0, 250.0, 246.0]) * top + np.array([214.0, 221.0, 230.0]) * (1.0 - top)
    image += (white - image) * (share * (elevation > 0.0)[:, None])[..., None]


def _sails(image: Floats) -> None:
    """Small boats on the horizon, out at sea."""
    for azimuth, tall in ((206.0, 1.7), (214.5, 1.2), (241.0, 2.1), (259.0, 1.4), (266.5, 1.1), (283.0, 1.9)):
        foot = ((HIGH_DEG - 0.05) * PER_DEG, azimuth * PER_DEG)
        for width, share, tone in ((0.42, 1.0, (250.0, 250.0, 246.0)), (-0.26, 0.8, (224.0, 228.0, 230.0))):
            sail = [
                (foot[1], foot[0] - tall * share * PER_DEG),
                (foot[1] + width * tall * PER_DEG, foot[0] - 0.16 * PER_DEG),
            ]
            shape = np.array([*sail, (foot[1], foot[0] - 0.16 * PER_DEG)]) * 8
            cv2.fillConvexPoly(image, shape.round().astype(np.int32), tone, cv2.LINE_AA, 3)
        hull = np.array([(-0.3, 0.16), (0.5, 0.16), (0.36, 0.0), (-0.2, 0.0)]) * (PER_DEG * tall / 1.4)
        shape = (np.array([foot[1], foot[0]]) + hull * (1.0, -1.0)) * 8
        cv2.fillConvexPoly(image, shape.round().astype(np.int32), (86.0, 92.0, 104.0), cv2.LINE_AA, 3)


def panorama() -> NDArray[np.uint8]:
    """Directions as a picture: columns azimuth 0..360 degrees (with 2 columns repeated), rows falling elevation."""
    azimuth = np.arange(360 * PER_DEG) / PER_DEG
    elevation = HIGH_DEG - np.arange(int((HIGH_DEG - LOW_DEG) * PER_DEG)) / PER_DEG
    e, a = np.meshgrid(elevation, azimuth, indexing="ij")
    rise = np.clip(e / 32.0, 0.0, 1.0) ** 0.72
    image = np.array(HAZE) * (1.0 - rise[..., None]) + np.array([78.0, 138.0, 202.0]) * rise[..., None]
    away = np.hypot((((a - SUN_AZ_DEG + 180.0) % 360.0) - 180.0) * np.cos(np.radians(e)), e - SUN_EL_DEG)
    _blend(image, (255.0, 244.0, 214.0), 0.75 * np.exp(-away / 9.0) + 0.18 * np.exp(-away / 40.0))
    _clouds(image, azimuth, elevation)
    _blend(image, (255.0, 252.0, 238.0), np.clip(2.3 - away, 0.0, 1.0))
    sea = 1.0 / (1.0 + np.exp((np.abs(((a - 250.0 + 180.0) % 360.0) - 180.0) - 62.0) / 2.5))
    for seed, height, colour in (
        (3, 5.2, (150.0, 172.0, 192.0)),
        (8, 3.4, (126.0, 154.0, 162.0)),
        (15, 1.9, (104.0, 138.0, 122.0)),
    ):
        skyline = _hills(azimuth, seed, height)[None, :] * (1.0 - sea[:1]) - 0.3 * sea[:1]
        inside = np.clip((skyline - e) * PER_DEG * 0.7 + 0.5, 0.0, 1.0)
        foot = np.clip(1.0 - e / np.maximum(skyline, 0.2), 0.0, 1.0)[..., None]
        tone = np.array(colour) * (1 - 0.45 * foot) + np.array(HAZE) * 0.45 * foot
        image += (tone - image) * (inside * (e > -2.0))[..., None]
    ground = np.clip(-e * PER_DEG * 0.7 + 0.5, 0.0, 1.0)
    distance = EYE_M / np.tan(np.radians(np.clip(-e, 0.06, 89.0)))
    share = np.exp(-distance / 420.0)[..., None]
    green = np.array([98.0, 142.0, 74.0]) * share + np.array([158.0, 182.0, 160.0]) * (1.0 - share)
    water = np.array([92.0, 140.0, 168.0]) * np.ones_like(green)
    far = (sea * np.clip((distance - 230.0) / 60.0, 0.0, 1.0))[..., None]
    image += (green * (1 - far) + water * far - image) * ground[..., None]
    _sails(image)
    picture = np.clip(image, 0, 255).astype(np.uint8)
    return np.ascontiguousarray(np.hstack([picture, picture[:, :2]]))


class Backdrop:
    """Looks up the panorama for a view."""

    def __init__(self) -> None:
        self._picture = panorama()
        ys, xs = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float32)
        self._right = (xs + 0.5 - CENTRE_X) / FOCAL_PX
        self._up = (CENTRE_Y - ys - 0.5) / FOCAL_PX

    def draw(self, view: View) -> NDArray[np.uint8]:
        """The background at the drawing size."""
        c, s = float(np.cos(view.roll_rad)), float(np.sin(view.roll_rad))
        right, up = self._right * c + self._up * s, self._up * c - self._right * s
        side = np.arctan(right)
        level = np.arctan(up * np.cos(side)) + view.pitch_rad * np.cos(side)
        azimuth = np.degrees(view.yaw_rad - side)
        columns = np.mod(azimuth, 360.0) * PER_DEG
        rows = (HIGH_DEG - np.degrees(level)) * PER_DEG
        small = cv2.remap(
            self._picture,
            columns.astype(np.float32),
            rows.astype(np.float32),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(
            cv2.resize(small, (WIDTH * SUPER, HEIGHT * SUPER), interpolation=cv2.INTER_LINEAR), dtype=np.uint8
        )
