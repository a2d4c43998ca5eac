"""One picture dissolved into another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.media.frame_copies import empty_like
from syncview.media.planes import plane_rows

if TYPE_CHECKING:
    from av.video.frame import VideoFrame


def blended(earlier: VideoFrame, later: VideoFrame, weight: float) -> VideoFrame:
    """(1 - weight) of the earlier picture and `weight` of the later one, 0 to 1, sample by sample, as a new frame.

    The pictures have one size and one format of `syncview.media.planes.LAYOUTS`; stamps and tags are the earlier
    one's.
    """
    import cv2

    made = empty_like(earlier)
    for to, a, b in zip(plane_rows(made), plane_rows(earlier), plane_rows(later), strict=True):
        cv2.addWeighted(a, 1.0 - weight, b, weight, 0.0, dst=to)
    return made
