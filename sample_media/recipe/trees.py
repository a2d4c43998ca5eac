"""Trees: a few kinds, each a handful of flat shapes lit from one side, planted where they do not stand in the way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from . import things
from .circuit import Circuit, Floats
from .faces import Colour, frame_at, shade

Part = tuple[Floats, float]
"""Outline in units of the tree's height, shape (k, 2) as (right, up), and its brightness."""


def _round(cx: float, cy: float, rx: float, ry: float, points: int = 12) -> Floats:
    t = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    return np.column_stack([cx + rx * np.cos(t), cy + ry * np.sin(t)])


def _conifer() -> tuple[Part, ...]:
    parts: list[Part] = []
    for low, high, wide in ((0.10, 0.56, 0.21), (0.34, 0.80, 0.165), (0.60, 1.0, 0.115)):
        parts.append((np.array([(-wide, low), (wide, low), (0.0, high)]), 1.0))
        parts.append((np.array([(0.15 * wide, low), (wide, low), (0.0, high)]), 0.80))
    return tuple(parts)


def _broad() -> tuple[Part, ...]:
    return (
        (_round(0.0, 0.56, 0.33, 0.36), 0.80),
        (_round(0.13, 0.50, 0.24, 0.27), 0.72),
        (_round(-0.08, 0.66, 0.27, 0.27), 0.98),
        (_round(-0.13, 0.74, 0.15, 0.15), 1.12),
    )


def _poplar() -> tuple[Part, ...]:
    return (_round(0.0, 0.54, 0.13, 0.46), 0.84), (_round(-0.03, 0.57, 0.085, 0.40), 1.02)


def _bush() -> tuple[Part, ...]:
    return (_round(0.0, 0.42, 0.75, 0.55, 10), 0.84), (_round(-0.2, 0.55, 0.45, 0.38, 10), 1.04)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of tree."""

    parts: tuple[Part, ...]
    far_parts: tuple[Part, ...]
    colour: Colour
    height_m: tuple[float, float]
    trunk: float
    """Share of the height at which the crown begins; a trunk is drawn below it."""


KINDS: tuple[Kind, ...] = (
    Kind(_conifer(), _conifer()[::2], (58.0, 98.0, 66.0), (8.0, 15.0), 0.11),
    Kind(_broad(), _broad()[::2], (92.0, 132.0, 62.0), (7.0, 11.0), 0.26),
    Kind(_poplar(), _poplar()[:1], (108.0, 142.0, 70.0), (12.0, 17.0), 0.10),
    Kind(_bush(), _bush()[:1], (84.0, 122.0, 66.0), (1.6, 2.8), 0.0),
)


@dataclass(frozen=True, slots=True)
class Wood:
    """All trees; arrays have shape (n,) or as said."""

    place: Floats
    """Shape (n, 3): the foot."""
    height_m: Floats
    kind: Floats
    colours: Floats
    """Shape (n, 3)."""


def _suits(track: Circuit, x: Floats, y: Floats) -> NDArray[np.bool_]:
    """True where a tree may stand: off the track and its verges, off the buildings."""
    good = things.clearance_m(track, x, y) > things.CLEAR_WIDTH_M + 1.0
    spots = [*things.KEEP_CLEAR, (track.corners[9].apex_m, 62.0, 20.0)]
    for station, offset, radius in spots:
        frame = frame_at(track, station, offset)
        if station in (-10.0, 70.0):
            u = (x - frame.x_m) * np.cos(frame.heading_rad) + (y - frame.y_m) * np.sin(frame.heading_rad)
            v = -(x - frame.x_m) * np.sin(frame.heading_rad) + (y - frame.y_m) * np.cos(frame.heading_rad)
            good &= (np.abs(u) > radius) | (np.abs(v) > 15.0)
        else:
            good &= np.hypot(x - frame.x_m, y - frame.y_m) > radius
    return good


def plant(track: Circuit, count: int = 760) -> Wood:
    """Plant groves around the circuit and a few trees in the infield; always the same."""
    random = np.random.default_rng(77)
    x = random.uniform(track.x_m.min() - 130.0, track.x_m.max() + 130.0, 9000)
    y = random.uniform(track.y_m.min() - 130.0, track.y_m.max() + 130.0, 9000)
    grove = np.sin(x / 37.0 + 1.3 * np.sin(y / 53.0)) + np.sin(y / 41.0 + 0.7) + 0.5 * np.sin((x + y) / 19.0)
    far = things.clearance_m(track, x, y)
    keep = _suits(track, x, y) & (random.uniform(-0.4, 1.6, len(x)) < grove * np.where(far < 75.0, 1.0, 0.55))
    x, y = x[keep][:count], y[keep][:count]
    kind = (
        np.clip(
            np.floor(2.0 + 1.4 * np.sin(x / 90.0) + 1.2 * np.cos(y / 70.0) + random.uniform(-1.2, 1.2, len(x))), 0, 3
        )
        % 4
    )
    low, high = (np.array([KINDS[int(k)].height_m[i] for k in kind]) for i in (0, 1))
    height = random.uniform(low, high)
    tint = random.uniform(0.88, 1.10, len(x))
    warm = random.uniform(0.94, 1.08, len(x))
    colours = np.array([shade(KINDS[int(k)].colour, float(t)) for k, t in zip(kind, tint, strict=True)])
    colours[:, 0] *= warm
    return Wood(np.column_stack([x, y, np.zeros(len(x))]), height, kind, colours)
