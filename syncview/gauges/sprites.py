"""Drawn pictures turned into the planes of a video frame, once, ready to be laid over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.gauges.colour import ColourCoding
    from syncview.media.planes import PlaneLayout


@dataclass(frozen=True, eq=False, slots=True)
class Sprite:
    """A see-through picture, plane by plane as a frame stores them.

    A frame sample s becomes s * keep / full + colour, where full is the largest value of the dtype.
    """

    layout: PlaneLayout
    colour: tuple[NDArray[Any], ...]
    """Codes already multiplied by opacity; one array of shape (rows, columns) per plane, uint8 or uint16.

    Interleaved chroma has twice the columns.
    """
    keep: tuple[NDArray[Any], ...]
    """How much of the frame stays, same shapes and dtype."""

    @property
    def width(self) -> int:
        """Columns of luma."""
        return int(self.colour[0].shape[1])

    @property
    def height(self) -> int:
        """Rows of luma."""
        return int(self.colour[0].shape[0])

    def copy(self) -> Sprite:
        """An independent sprite that may be painted on."""
        return Sprite(self.layout, tuple(a.copy() for a in self.colour), tuple(a.copy() for a in self.keep))

    def paste(self, other: Sprite, x: int, y: int) -> None:
        """Replace the part at x, y (multiples of the chroma step) by `other`, which lies inside."""
        self._replace(other, x, y, 0, 0, other.width, other.height)

    def paste_columns(self, other: Sprite, x: int, y: int, begin: int, end: int) -> None:
        """Replace columns begin <= c < end of the part at x, y by those of `other`.

        A border inside a chroma sample falls to the side that has the larger part of it.
        """
        self._replace(other, x, y, begin, 0, end, other.height)

    def paste_box(self, other: Sprite, box: tuple[int, int, int, int]) -> None:
        """Restore the part left, top, right, bottom from `other`, which has the same size as this sprite."""
        left, top, right, bottom = box
        self._replace(other, 0, 0, left, top, right, bottom)

    def _replace(self, other: Sprite, x: int, y: int, left: int, top: int, right: int, bottom: int) -> None:
        for number in range(len(self.colour)):
            rows, columns, shift_x, shift_y = slice(top, bottom), slice(left, right), x, y
            if number > 0:
                sx, sy = self.layout.chroma_shift_x, self.layout.chroma_shift_y
                half_x, half_y = (1 << sx) >> 1, (1 << sy) >> 1
                wide = 2 if self.layout.interleaved else 1
                rows = slice((top + half_y) >> sy, (bottom + half_y) >> sy)
                columns = slice(((left + half_x) >> sx) * wide, ((right + half_x) >> sx) * wide)
                shift_x, shift_y = (x >> sx) * wide, y >> sy
            target = (
                slice(rows.start + shift_y, rows.stop + shift_y),
                slice(columns.start + shift_x, columns.stop + shift_x),
            )
            self.colour[number][target] = other.colour[number][rows, columns]
            self.keep[number][target] = other.keep[number][rows, columns]


def make_sprite(rgba: NDArray[np.uint8], *, coding: ColourCoding, layout: PlaneLayout) -> Sprite:
    """Convert a straight-alpha picture, shape (rows, columns, 4), rows and columns even."""
    if rgba.shape[0] % 2 or rgba.shape[1] % 2:
        raise ValueError(f"sprites need even sides, not {rgba.shape[1]} x {rgba.shape[0]}")
    opacity = rgba[..., 3:].astype(np.float64) / 255
    codes = coding.from_rgb(rgba[..., :3].astype(np.float64) / 255) * opacity
    luma = (codes[..., 0], 1 - opacity[..., 0])
    chroma = [(_reduced(codes[..., n], layout), _reduced(1 - opacity[..., 0], layout)) for n in (1, 2)]
    planes = [luma, *chroma]
    if layout.interleaved:
        planes = [luma, (_alternating(chroma[0][0], chroma[1][0]), _alternating(chroma[0][1], chroma[1][1]))]
    dtype: type[np.unsignedinteger[Any]] = np.uint8 if layout.bits == 8 else np.uint16
    full = np.iinfo(dtype).max
    return Sprite(
        layout=layout,
        colour=tuple(np.rint(colour).astype(dtype) for colour, _keep in planes),
        keep=tuple(np.rint(keep * full).astype(dtype) for _colour, keep in planes),
    )


def _reduced(plane: NDArray[np.float64], layout: PlaneLayout) -> NDArray[np.float64]:
    """Mean over the luma samples that share a chroma sample."""
    rows, columns = plane.shape
    step_y, step_x = 1 << layout.chroma_shift_y, 1 << layout.chroma_shift_x
    mean: NDArray[np.float64] = plane.reshape(rows // step_y, step_y, columns // step_x, step_x).mean(axis=(1, 3))
    return mean


def _alternating(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack([first, second], axis=-1).reshape(first.shape[0], -1)
