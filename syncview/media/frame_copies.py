"""Pictures of one's own: copies that nobody else refers to, in a format that can be worked on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from syncview.media.planes import plane_rows, workable_format

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

_BT709 = 1
_LIMITED, _FULL = 1, 2


def empty_like(frame: VideoFrame) -> VideoFrame:
    """A new frame of the same size, format, stamps and colour tags; its samples are whatever the memory held."""
    from av.video.frame import VideoFrame

    made = VideoFrame(frame.width, frame.height, frame.format.name)
    _say_the_same(made, frame)
    return made


def copy_of(frame: VideoFrame) -> VideoFrame:
    """A new frame with the same samples; ValueError for a format outside `syncview.media.planes.LAYOUTS`."""
    made = empty_like(frame)
    for to, samples in zip(plane_rows(made), plane_rows(frame), strict=True):
        to[...] = samples
    return made


def in_workable_format(frame: VideoFrame) -> VideoFrame:
    """The frame itself where its format is one of `LAYOUTS`, else converted to the nearest, range and matrix kept.

    RGB has neither: it becomes BT.709 with limited range.
    """
    wanted = workable_format(frame.format.name)
    if wanted == frame.format.name:
        return frame
    # Unless told, the scaler takes limited range and BT.601, and would shift levels and hues.
    if frame.format.is_rgb:
        made = frame.reformat(format=wanted, dst_color_range="MPEG", dst_colorspace="ITU709")
        _say_the_same(made, frame)
        made.colorspace, made.color_range = _BT709, _LIMITED
        return made
    levels = "JPEG" if frame.color_range == _FULL else "MPEG"
    made = frame.reformat(format=wanted, src_color_range=levels, dst_color_range=levels)
    _say_the_same(made, frame)
    return made


def _say_the_same(made: VideoFrame, frame: VideoFrame) -> None:
    made.pts, made.duration = frame.pts, frame.duration
    if frame.time_base is not None:
        made.time_base = frame.time_base
    made.colorspace, made.color_range = frame.colorspace, frame.color_range
    made.color_primaries, made.color_trc = frame.color_primaries, frame.color_trc
