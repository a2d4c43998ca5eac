"""From frame to frame: by keys, and by dragging."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from syncview.media.frame_index import FrameIndex

PX_PER_FRAME = 4.0
"""Dragging the picture sideways by this much is one frame: a hand can do single frames, and a screen's width is
several seconds. No source."""


def number_at(frames: FrameIndex, media_s: Fraction) -> int:
    """Number of the frame on screen at `media_s`; the first before the begin, the last from the end on."""
    if media_s < 0:
        return 0
    return len(frames) - 1 if media_s >= frames.end_s else frames.index_at(media_s)


def stepped(frames: FrameIndex, media_s: Fraction, by: int) -> Fraction:
    """When the frame appears that lies `by` frames from the one on screen at `media_s`; the outermost past an end."""
    return frames.media_s(min(max(number_at(frames, media_s) + by, 0), len(frames) - 1))


def last_before(frames: FrameIndex, end_s: Fraction) -> Fraction:
    """When the last frame before `end_s` appears; the first frame when there is none."""
    return frames.media_s(max(frames.first_from(end_s) - 1, 0))


class Jog:
    """Turns the way of a hand into whole frames from where it began, so that the way back leads back."""

    def __init__(self, frames: FrameIndex, media_s: Fraction, *, px_per_frame: float = PX_PER_FRAME) -> None:
        self._frames = frames
        self._begin = number_at(frames, media_s)
        self._px_per_frame = px_per_frame

    def media_s(self, moved_px: float) -> Fraction:
        """When the frame appears that lies `moved_px` from the begin; to the right is later."""
        number = self._begin + round(moved_px / self._px_per_frame)
        return self._frames.media_s(min(max(number, 0), len(self._frames) - 1))
