"""The render's own gauges as see-through pictures for a screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from syncview.gauges.colour import ColourCoding
from syncview.gauges.panel import GaugePanel

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from syncview.gauges.sprites import Sprite
    from syncview.gauges.values import GaugeValues
    from syncview.lesson.film_picture import PanelOptions


class _Screen(ColourCoding):
    """The three planes hold green, blue and red as they are: a screen takes them without a matrix."""

    def from_rgb(self, rgb: NDArray[np.float64]) -> NDArray[np.float64]:
        """Unrounded codes, shape (..., 3)."""
        codes: NDArray[np.float64] = rgb[..., [1, 2, 0]] * 255.0
        return codes


@dataclass(frozen=True, eq=False, slots=True)
class GaugeImage:
    """A gauge and where it lies on the picture."""

    bgra: NDArray[np.uint8]
    """Shape (rows, columns, 4), colours multiplied by opacity, C-contiguous."""
    left: int
    top: int


class ScreenGauges(GaugePanel):
    """The gauges of a picture of that many device pixels; sides even. Raises as `GaugePanel` does."""

    def __init__(self, width: int, height: int, options: PanelOptions) -> None:
        super().__init__(
            width,
            height,
            units=options.units,
            coding=_Screen("bt709", is_full_range=True),
            pixel_format="yuv444p",
            steering_lock_rad=options.steering_lock_rad,
            choice=options.choice,
            outline=options.outline,
        )
        self._map_image: NDArray[np.uint8] | None = None
        """The map's plate never changes, and it is the largest."""

    def images(self, values: GaugeValues) -> Iterator[GaugeImage]:
        """What to lay over the picture, in this order; use each before the next values are asked for."""
        for sprite, left, top in self._laid_out(values):
            if self._map is not None and sprite is self._map.sprite:
                if self._map_image is None:
                    self._map_image = _bgra(sprite)
                yield GaugeImage(self._map_image, left, top)
            else:
                yield GaugeImage(_bgra(sprite), left, top)


def _bgra(sprite: Sprite) -> NDArray[np.uint8]:
    green, blue, red = sprite.colour
    return np.asarray(cv2.merge([blue, green, red, cv2.bitwise_not(sprite.keep[0])]), dtype=np.uint8)


def scaled(rgb: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """The picture at that size, shape (height, width, 3); itself where it has it."""
    if rgb.shape[:2] == (height, width):
        return rgb
    # Down to half the size every sample still counts without the slower way.
    way = cv2.INTER_AREA if rgb.shape[1] > 2 * width else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(rgb, (width, height), interpolation=way), dtype=np.uint8)
