"""Moved pictures between one frame and the next, for pair after pair of a recording."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.media.in_between import PictureMover
from syncview.media.pair_motion import LEAST_SIDE, PairMotion, small_luma
from syncview.media.planes import LAYOUTS, plane_rows

if TYPE_CHECKING:
    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray


class PairPictures:
    """Searches the movement of each pair once, beginning with that of the pair before: cars do not jump."""

    def __init__(self) -> None:
        self._mover = PictureMover()
        self._motion: PairMotion | None = None
        self._pair: tuple[VideoFrame, VideoFrame] | None = None

    @staticmethod
    def can_move(frame: VideoFrame) -> bool:
        """False for pictures too small to search movement on."""
        return min(frame.width, frame.height) >= LEAST_SIDE

    def moved(self, before: VideoFrame, after: VideoFrame, weight: float) -> VideoFrame | None:
        """The picture at `weight` of the way, 0 to 1, as a new frame; None where the two show different scenes.

        The frames have one size and one format of `syncview.media.planes.LAYOUTS`; pairs ascend in time.
        """
        motion = self._motion_of(before, after)
        if motion.is_cut:
            return None
        return self._mover.between(before, after, weight=weight, field=motion.at(weight))

    def _motion_of(self, before: VideoFrame, after: VideoFrame) -> PairMotion:
        last = self._pair
        if self._motion is not None and last is not None and last[0] is before and last[1] is after:
            return self._motion
        follows = last is not None and last[1] is before
        previous = self._motion if follows else None
        earlier = previous.later if previous is not None else _small(before)
        self._motion, self._pair = PairMotion(earlier, _small(after), previous=previous), (before, after)
        return self._motion


def _small(frame: VideoFrame) -> NDArray[np.uint8]:
    return small_luma(plane_rows(frame)[0], LAYOUTS[frame.format.name].bits)
