"""A small see-through drawing surface with smooth edges."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

import numpy as np

from syncview.gauges.text import advance_px, draw_text

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray
    from PIL import ImageDraw

    from syncview.gauges.fonts import Weight
    from syncview.gauges.palette import Colour

_FINE = 4
"""Shapes are drawn at this multiple and averaged down."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in whole pixels; right and bottom are just outside."""

    left: int
    top: int
    right: int
    bottom: int

    @classmethod
    def around(cls, left: float, top: float, right: float, bottom: float) -> Self:
        """The smallest rectangle with even coordinates that holds the given one."""
        return cls(
            2 * int(np.floor(left / 2)),
            2 * int(np.floor(top / 2)),
            2 * int(np.ceil(right / 2)),
            2 * int(np.ceil(bottom / 2)),
        )

    @property
    def width(self) -> int:
        """Columns."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Rows."""
        return self.bottom - self.top

    def overlaps(self, other: Box) -> bool:
        """True when the two share a pixel."""
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


class Sheet:
    """Premultiplied red, green, blue and opacity; coordinates in pixels from the left top corner."""

    def __init__(self, width: int, height: int) -> None:
        self.pixels: NDArray[np.float32] = np.zeros((height, width, 4), dtype=np.float32)
        self._origin = (0, 0)

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.pixels.shape[0])

    def part(self, box: Box) -> Sheet:
        """A copy of the part in `box` that is drawn on with this sheet's coordinates."""
        made = Sheet(box.width, box.height)
        made.pixels[...] = self.pixels[box.top : box.bottom, box.left : box.right]
        made._origin = (box.left, box.top)
        return made

    def rgba(self) -> NDArray[np.uint8]:
        """Straight-alpha picture, shape (rows, columns, 4)."""
        opacity = self.pixels[..., 3:]
        straight = np.divide(self.pixels[..., :3], opacity, out=np.zeros_like(self.pixels[..., :3]), where=opacity > 0)
        picture: NDArray[np.uint8] = np.rint(np.concatenate([straight, opacity], axis=-1) * 255).astype(np.uint8)
        return picture

    def polygon(self, points: Sequence[Point], colour: Colour, opacity: float = 1.0) -> None:
        """Fill the polygon."""
        xs, ys = [x for x, _y in points], [y for _x, y in points]

        def draw(pen: ImageDraw.ImageDraw, fine: Callable[[Point], Point]) -> None:
            pen.polygon([fine(point) for point in points], fill=255)

        self._shape((min(xs), min(ys), max(xs), max(ys)), draw, colour, opacity)

    def rounded(
        self, corners: tuple[float, float, float, float], radius: float, colour: Colour, opacity: float = 1.0
    ) -> None:
        """Fill a rectangle (left, top, right, bottom) with round corners."""
        left, top, right, bottom = corners

        def draw(pen: ImageDraw.ImageDraw, fine: Callable[[Point], Point]) -> None:
            (x0, y0), (x1, y1) = fine((left, top)), fine((right, bottom))
            pen.rounded_rectangle((x0, y0, x1 - 1, y1 - 1), radius=radius * _FINE, fill=255)

        self._shape(corners, draw, colour, opacity)

    def polyline(self, points: Sequence[Point], width: float, colour: Colour) -> None:
        """A line with round joints and ends."""
        xs, ys = [x for x, _y in points], [y for _x, y in points]
        half = width * _FINE / 2

        def draw(pen: ImageDraw.ImageDraw, fine: Callable[[Point], Point]) -> None:
            places = [fine(point) for point in points]
            pen.line(places, fill=255, width=max(1, round(width * _FINE)))
            for x, y in places:
                pen.ellipse((x - half, y - half, x + half, y + half), fill=255)

        bounds = (min(xs) - width, min(ys) - width, max(xs) + width, max(ys) + width)
        self._shape(bounds, draw, colour, 1.0)

    def text(self, text: str, *, left: float, baseline: float, em_px: int, weight: Weight, colour: Colour) -> None:
        """Write on a line that starts at `left`."""
        x, y = self._origin
        line = round(baseline - y)
        # Room for accents above and below the letters, and for those that lean out of their advance.
        first, last = max(int(left - x) - em_px, 0), int(left - x + advance_px(text, em_px, weight)) + em_px
        top, bottom = max(line - 2 * em_px, 0), line + em_px
        columns, rows = min(last, self.width) - first, min(bottom, self.height) - top
        if columns <= 0 or rows <= 0:
            return
        mask = np.zeros((rows, columns), dtype=np.uint8)
        draw_text(mask, text, left_px=left - x - first, baseline_px=line - top, em_px=em_px, weight=weight)
        self._cover(mask, first, top, colour, 1.0)

    def _shape(
        self,
        bounds: tuple[float, float, float, float],
        draw: Callable[[ImageDraw.ImageDraw, Callable[[Point], Point]], None],
        colour: Colour,
        opacity: float,
    ) -> None:
        """Draw the part of a shape that lies on the sheet, finely, and average it down."""
        from PIL import Image, ImageDraw

        x, y = self._origin
        left, top = max(int(bounds[0] - x) - 1, 0), max(int(bounds[1] - y) - 1, 0)
        right, bottom = min(int(bounds[2] - x) + 2, self.width), min(int(bounds[3] - y) + 2, self.height)
        if left >= right or top >= bottom:
            return
        image = Image.new("L", ((right - left) * _FINE, (bottom - top) * _FINE))
        draw(ImageDraw.Draw(image), lambda at: ((at[0] - x - left) * _FINE, (at[1] - y - top) * _FINE))
        self._cover(np.asarray(image.reduce(_FINE)), left, top, colour, opacity)

    def _cover(self, coverage: NDArray[np.uint8], left: int, top: int, colour: Colour, opacity: float) -> None:
        paint = np.array([*(part / 255 for part in colour), 1.0], dtype=np.float32)
        over = paint * (coverage * np.float32(opacity / 255))[..., None]
        rows, columns = coverage.shape
        part = self.pixels[top : top + rows, left : left + columns]
        part[...] = over + part * (1 - over[..., 3:])
