"""Lays sprites over a video frame in its own planes: no conversion of the whole picture, no loss outside them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from syncview.media.planes import plane_rows

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

    from syncview.gauges.sprites import Sprite


def lay_sprite(frame: VideoFrame, sprite: Sprite, x: int, y: int) -> None:
    """Blend `sprite` with its left top corner at x, y: both even, and the sprite inside the picture.

    Makes the frame writable first: the decoder still refers to its pictures, and painting on those would damage the
    frames that follow. ValueError where the sprite reaches out of the picture or belongs to another pixel format.
    """
    if x % 2 or y % 2:
        raise ValueError(f"sprites lie at even places, not at {x}, {y}")
    if x < 0 or y < 0 or x + sprite.width > frame.width or y + sprite.height > frame.height:
        raise ValueError("the sprite reaches out of the picture")
    frame.make_writable()
    layout = sprite.layout
    for number, (plane, colour, keep) in enumerate(zip(plane_rows(frame), sprite.colour, sprite.keep, strict=True)):
        left, top = x, y
        if number > 0:
            left = (x >> layout.chroma_shift_x) * (2 if layout.interleaved else 1)
            top = y >> layout.chroma_shift_y
        part = plane[top : top + colour.shape[0], left : left + colour.shape[1]]
        # Saturating, rounding, vectorised: a tenth of what the same costs in numpy's wider integers.
        kept = cv2.multiply(part, keep, scale=1.0 / float(np.iinfo(keep.dtype).max))
        part[...] = cv2.add(kept, colour)
