"""What is seen of the car itself: bonnet, scuttle, roll-cage edge, and the steering wheel that turns."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import HEIGHT, WIDTH
from .circuit import Floats

FINE = 4
WHEEL_X, WHEEL_Y, WHEEL_R = 320.0, 402.0, 118.0
TOP_Y = 270


def _poly(
    image: NDArray[np.float32],
    points: list[tuple[float, float]],
    colour: tuple[float, float, float],
) -> None:
    shape = (np.array(points) * FINE * 8).round().astype(np.int32)
    cv2.fillPoly(image, [shape], (*colour, 255.0), lineType=cv2.LINE_AA, shift=3)


def _mirrored(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(WIDTH - x, y) for x, y in points]


def body() -> tuple[Floats, Floats]:
    """The still parts: colour (h, w, 3) and coverage (h, w, 1) in 0..1."""
    image = np.zeros((HEIGHT * FINE, WIDTH * FINE, 4), dtype=np.float32)
    bonnet = [(92.0, 360.0), (128.0, 318.0), (196.0, 291.0), (262.0, 281.0), (320.0, 278.5)]
    outline = bonnet + _mirrored(bonnet)[::-1]
    _poly(image, outline, (18.0, 96.0, 104.0))
    for n in range(14):
        t = n / 14.0
        inner = [
            (92.0 + 150.0 * t * 0.6 + 8 * t, 360.0),
            (140.0 + 70 * t, 322.0 - 1.0 * t),
            (210.0 + 52 * t, 296.0 - 4 * t),
            (320.0, 280.5 + 0.5 * t),
        ]
        _poly(image, inner + _mirrored(inner)[::-1], (18.0 + 22.0 * t, 96.0 + 34.0 * t, 104.0 + 34.0 * t))
    stripe = [(304.0, 279.0), (336.0, 279.0), (352.0, 360.0), (288.0, 360.0)]
    _poly(image, stripe, (236.0, 232.0, 218.0))
    for points in ([(0.0, 312.0), (60.0, 300.0), (104.0, 306.0), (124.0, 330.0), (112.0, 360.0), (0.0, 360.0)],):
        for side in (points, _mirrored(points)):
            _poly(image, side, (14.0, 78.0, 86.0))
            _poly(image, [(x, y + 5.0) for x, y in side], (20.0, 100.0, 108.0))
    scuttle = [(40.0, 360.0), (120.0, 338.0), (220.0, 329.0), (320.0, 327.0)]
    _poly(image, scuttle + _mirrored(scuttle)[::-1], (30.0, 32.0, 36.0))
    _poly(
        image,
        [(x, y + 3.0) for x, y in scuttle] + _mirrored([(x, y + 3.0) for x, y in scuttle])[::-1],
        (22.0, 23.0, 26.0),
    )
    small = cv2.resize(image, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    alpha = small[..., 3:] / 255.0
    return small[..., :3].astype(np.float64), alpha.astype(np.float64)


def _glove(image: NDArray[np.float32], angle_deg: float) -> None:
    """A hand in a red glove around the rim; image has the wheel's middle in its own."""
    middle = np.array(image.shape[:2]) / 2.0
    radius = WHEEL_R * 2.0 * 0.91
    out = 1.0 if np.cos(np.radians(angle_deg)) > 0 else -1.0

    def at(turn_deg: float, share: float) -> tuple[int, int]:
        direction = np.radians(angle_deg + out * turn_deg)
        x, y = middle + radius * share * np.array([np.cos(direction), np.sin(direction)])
        return round(float(x)), round(float(y))

    cv2.ellipse(image, at(2.0, 1.03), (42, 62), angle_deg, 0, 360, (150.0, 44.0, 38.0, 255.0), -1, cv2.LINE_AA)
    for finger in range(4):
        tip, knuckle = at(-15.0 + 10.5 * finger, 0.90), at(-13.0 + 9.5 * finger, 1.10)
        cv2.line(image, tip, knuckle, (120.0, 32.0, 28.0, 255.0), 27, cv2.LINE_AA)
        cv2.line(image, tip, knuckle, (186.0, 60.0, 48.0, 255.0), 20, cv2.LINE_AA)
    cv2.line(image, at(-21.0, 0.93), at(-10.0, 1.0), (168.0, 52.0, 44.0, 255.0), 22, cv2.LINE_AA)


def wheel() -> NDArray[np.float32]:
    """The steering wheel, straight ahead, premultiplied colour and coverage, finely drawn, shape (s, s, 4)."""
    size = int(2.3 * WHEEL_R * 2)
    image = np.zeros((size, size, 4), dtype=np.float32)
    middle, k = (size // 2, size // 2), 2.0
    cv2.circle(image, middle, int(WHEEL_R * k * 0.91), (34.0, 35.0, 39.0, 255.0), int(0.135 * WHEEL_R * k), cv2.LINE_AA)
    cv2.circle(image, middle, int(WHEEL_R * k * 0.935), (62.0, 64.0, 70.0, 255.0), int(0.03 * WHEEL_R * k), cv2.LINE_AA)
    cv2.ellipse(
        image,
        middle,
        (int(WHEEL_R * k * 0.91),) * 2,
        0,
        -97,
        -83,
        (240.0, 196.0, 60.0, 255.0),
        int(0.14 * WHEEL_R * k),
        cv2.LINE_AA,
    )
    for angle in (8.0, 172.0):
        end = (
            int(middle[0] + WHEEL_R * k * 0.86 * np.cos(np.radians(angle))),
            int(middle[1] + WHEEL_R * k * 0.86 * np.sin(np.radians(angle))),
        )
        cv2.line(image, middle, end, (70.0, 73.0, 80.0, 255.0), int(0.15 * WHEEL_R * k), cv2.LINE_AA)
    for angle in (-19.0, 199.0):
        _glove(image, angle)
    image[..., :3] *= image[..., 3:] / 255.0
    return image


class Cockpit:
    """Lays the car over a finished picture."""

    def __init__(self) -> None:
        self._colour, self._alpha = body()
        self._wheel = wheel()

    def lay(self, picture: NDArray[np.uint8], steering_deg: float) -> None:
        """Blend bonnet and wheel into a picture of shape (HEIGHT, WIDTH, 3), in place."""
        rows = slice(TOP_Y, HEIGHT)
        alpha = self._alpha[rows]
        under = picture[rows].astype(np.float64) * (1.0 - alpha) + self._colour[rows] * alpha
        half = self._wheel.shape[0] / 2.0
        turn = cv2.getRotationMatrix2D((half, half), steering_deg, 0.5)
        turn[:, 2] += (WHEEL_X - half, WHEEL_Y - TOP_Y - half)
        rim = cv2.warpAffine(self._wheel, turn, (WIDTH, HEIGHT - TOP_Y), flags=cv2.INTER_AREA)
        over = under * (1.0 - rim[..., 3:] / 255.0) + rim[..., :3]
        picture[rows] = np.clip(over + 0.5, 0, 255).astype(np.uint8)
