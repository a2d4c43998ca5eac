"""RGB to Y'CbCr as a recording codes it, so that gauges come out in the colours they were drawn in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.media.colour_tags import ColourTags

Matrix = Literal["bt601", "bt709", "bt2020", "smpte240m", "fcc"]

_LUMA_WEIGHTS: dict[Matrix, tuple[float, float]] = {
    "bt601": (0.299, 0.114),
    "bt709": (0.2126, 0.0722),
    "bt2020": (0.2627, 0.0593),
    "smpte240m": (0.212, 0.087),
    "fcc": (0.30, 0.11),
}
"""Kr and Kb of ITU-R BT.601-7, BT.709-6 and BT.2020-2 (non-constant luminance) and of H.273's codes 7 and 4.

From memory; the tests compare the first three with FFmpeg's own conversion.
"""

_MATRIX_OF_TAG: dict[str, Matrix] = {
    "bt709": "bt709",
    "bt470bg": "bt601",
    "smpte170m": "bt601",
    "bt2020nc": "bt2020",
    "bt2020c": "bt2020",
    "smpte240m": "smpte240m",
    "fcc": "fcc",
}


@dataclass(frozen=True, slots=True)
class ColourCoding:
    """How code values follow from red, green and blue."""

    matrix: Matrix
    is_full_range: bool
    """False: luma from 16 to 235 of 255, chroma from 16 to 240."""
    bits: int = 8

    def from_rgb(self, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        """Unrounded Y', Cb, Cr codes, shape (..., 3), of R'G'B' in 0 to 1, shape (..., 3)."""
        red_weight, blue_weight = _LUMA_WEIGHTS[self.matrix]
        red, green, blue = rgb[..., 0], rgb[..., 1], rgb[..., 2]
        luma = red_weight * red + (1 - red_weight - blue_weight) * green + blue_weight * blue
        cb = (blue - luma) / (2 * (1 - blue_weight))
        cr = (red - luma) / (2 * (1 - red_weight))
        step = 1 << (self.bits - 8)
        middle = 128 * step
        if self.is_full_range:
            top = (1 << self.bits) - 1
            return np.stack([luma * top, cb * top + middle, cr * top + middle], axis=-1)
        return np.stack([luma * 219 * step + 16 * step, cb * 224 * step + middle, cr * 224 * step + middle], axis=-1)


def coding_of(tags: ColourTags, *, pixel_format: str, height: int, bits: int) -> tuple[ColourCoding, str | None]:
    """The coding that a recording's tags mean, and a note where something had to be assumed.

    Untagged pictures are taken as BT.709 from 720 rows on and as BT.601 below, limited in range unless the pixel
    format says full (common practice, no source).
    """
    full = tags.range == "full" or (tags.range is None and pixel_format.startswith("yuvj"))
    matrix = _MATRIX_OF_TAG.get(tags.matrix or "")
    if matrix is not None:
        return ColourCoding(matrix, full, bits), None
    assumed: Matrix = "bt709" if height >= 720 else "bt601"
    reason = f"states the colour matrix {tags.matrix}" if tags.matrix else "does not state its colour matrix"
    note = f"The recording {reason}; the gauges' colours assume {assumed.replace('bt', 'BT.')}."
    return ColourCoding(assumed, full, bits), note
