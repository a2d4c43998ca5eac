"""Cuts pictures to another shape: a phone's upright one, a square, or the usual wide one."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from syncview.media.planes import LAYOUTS, plane_views, workable_format
from syncview.media.turning import with_planes

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

ASPECTS: dict[str, Fraction] = {"wide": Fraction(16, 9), "tall": Fraction(9, 16), "square": Fraction(1)}
"""Width over height of the shapes that have a name."""


@dataclass(frozen=True, slots=True)
class Framing:
    """The part of an upright picture of square pixels that a film shows; all numbers are even, in pixels."""

    left: int
    top: int
    width: int
    height: int
    whole_width: int
    whole_height: int

    @property
    def is_whole(self) -> bool:
        """Whether nothing is cut away."""
        return (self.width, self.height) == (self.whole_width, self.whole_height)

    def place(self, across: float, down: float) -> tuple[float, float]:
        """Where a place of the whole picture lies in the part, both as shares; outside 0 to 1 it is cut away."""
        return (
            (across * self.whole_width - self.left) / self.width,
            (down * self.whole_height - self.top) / self.height,
        )

    def cut(self, frame: VideoFrame) -> VideoFrame:
        """The part as a frame of its own, colour tags and stamps kept; the same object when nothing is cut away."""
        if self.is_whole:
            return frame
        source = frame.reformat(format=workable_format(frame.format.name))
        layout = LAYOUTS[source.format.name]
        planes = plane_views(source)
        for number, plane in enumerate(planes):
            x, y = (layout.chroma_shift_x, layout.chroma_shift_y) if number else (0, 0)
            planes[number] = plane[self.top >> y :, self.left >> x :]
        return with_planes(frame, self.width, self.height, source.format.name, planes)


def framing_for(width: int, height: int, aspect: Fraction | None, *, across: float = 0.5) -> Framing:
    """The largest part of that shape (None: all of it) in a picture of even sides, its middle at the share `across`.

    A part that is lower than the picture keeps the middle of its height. Sides are rounded down to even numbers.
    """
    if aspect is None:
        return Framing(0, 0, width, height, width, height)
    part_width, part_height = min(width, int(height * aspect)) & ~1, min(height, int(width / aspect)) & ~1
    left = round(across * width - part_width / 2)
    left = min(max(left, 0), width - part_width) & ~1
    return Framing(left, ((height - part_height) // 2) & ~1, part_width, part_height, width, height)
