"""Where words find room on a picture: the first of several places that covers nothing else, else the least bad."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, in points on paper."""

    x: float
    """Left edge."""
    y: float
    """Lower edge."""
    width: float
    height: float

    def overlap(self, other: Box) -> float:
        """Shared area."""
        across = min(self.x + self.width, other.x + other.width) - max(self.x, other.x)
        up = min(self.y + self.height, other.y + other.height) - max(self.y, other.y)
        return max(across, 0.0) * max(up, 0.0)


@dataclass(slots=True)
class Paper:
    """What is on the page already; fills up as words are placed."""

    width: float
    height: float
    dots: FloatArray
    """Points of lines that must stay visible, shape (n, 2)."""
    dot_radius: float
    boxes: list[Box] = field(default_factory=list)

    def covered(self, box: Box) -> float:
        """How much a box would hide, and how far it would leave the page."""
        r = self.dot_radius
        inside = (self.dots > (box.x - r, box.y - r)) & (self.dots < (box.x + box.width + r, box.y + box.height + r))
        hidden = 30.0 * float(inside.all(axis=1).sum())
        page = Box(0, 0, self.width, self.height)
        outside = 10.0 * (box.width * box.height - box.overlap(page))
        return hidden + outside + sum(box.overlap(other) for other in self.boxes)

    def best(self, candidates: Sequence[Box]) -> int:
        """Index of the first free candidate, or of the one that hides least; its place is taken from then on."""
        costs = [self.covered(box) for box in candidates]
        chosen = int(np.argmin(costs))
        self.boxes.append(candidates[chosen])
        return chosen


def text_width(words: str, size: float) -> float:
    """About how wide words are, in points, in the gauges' font."""
    return 0.56 * size * len(words)
