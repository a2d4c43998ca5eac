"""Turns pictures upright: phones and cameras store the sensor's rows and say how to turn them."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from syncview.media.planes import LAYOUTS, plane_views, workable_format

if TYPE_CHECKING:
    from collections.abc import Iterable

    from av.video.frame import VideoFrame
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Turn:
    """What to do with the coded picture so that it is upright: first turn, then mirror."""

    clockwise_deg: int = 0
    """0, 90, 180 or 270."""
    is_mirrored: bool = False
    """True when left and right are swapped after turning."""

    @property
    def swaps_sides(self) -> bool:
        """True when width and height change places."""
        return self.clockwise_deg in (90, 270)

    @property
    def is_none(self) -> bool:
        """True when the coded picture is upright already."""
        return self.clockwise_deg == 0 and not self.is_mirrored

    def size(self, width: int, height: int) -> tuple[int, int]:
        """Width and height after turning."""
        return (height, width) if self.swaps_sides else (width, height)

    def aspect(self, sample_aspect: Fraction) -> Fraction:
        """Shape of one pixel, width over height, after turning."""
        return 1 / sample_aspect if self.swaps_sides else sample_aspect


def turn_of(frame: VideoFrame) -> Turn:
    """The turn by the frame's display matrix; none where it has no matrix or one that is no quarter turn.

    The matrix (ISO/IEC 14496-12, 8.2.2) maps coded x, y to x' = a x + c y, y' = b x + d y, y pointing down.
    """
    from av.sidedata.sidedata import SideData, Type

    entries = cast("Iterable[SideData]", frame.side_data)  # PyAV annotates it as a plain dictionary
    matrix = next((bytes(data) for data in entries if data.type == Type.DISPLAYMATRIX), None)
    if matrix is None:
        return Turn()
    numbers = np.frombuffer(matrix, dtype="<i4" if np.little_endian else ">i4").reshape(3, 3)
    (a, b), (c, d) = (np.sign(numbers[row, :2]).tolist() for row in range(2))
    return _TURNS.get((a, b, c, d), Turn())


_TURNS = {
    (1, 0, 0, 1): Turn(0),
    (0, 1, -1, 0): Turn(90),
    (-1, 0, 0, -1): Turn(180),
    (0, -1, 1, 0): Turn(270),
    (-1, 0, 0, 1): Turn(0, is_mirrored=True),
    (0, 1, 1, 0): Turn(90, is_mirrored=True),
    (1, 0, 0, -1): Turn(180, is_mirrored=True),
    (0, -1, -1, 0): Turn(270, is_mirrored=True),
}


def upright(frame: VideoFrame, turn: Turn) -> VideoFrame:
    """The frame turned upright, colour tags and stamps kept; the same object when there is nothing to turn.

    4:2:2 pictures that change sides become 4:2:0, because no common format halves the chroma rows only.
    """
    if turn.is_none:
        return frame
    source = frame.reformat(format=turned_format(frame.format.name, turn))
    width, height = turn.size(frame.width, frame.height)
    return with_planes(frame, width, height, source.format.name, [_turned(p, turn) for p in plane_views(source)])


def turned_format(pixel_format: str, turn: Turn) -> str:
    """The pixel format that `upright` gives for pictures of `pixel_format`."""
    if turn.is_none:
        return pixel_format
    usable = workable_format(pixel_format)
    layout = LAYOUTS[usable]
    if turn.swaps_sides and layout.chroma_shift_x != layout.chroma_shift_y:
        return usable.replace("422", "420")
    return usable


def with_even_sides(frame: VideoFrame) -> VideoFrame:
    """The frame without its last column or row where they are odd: encoders of 4:2:0 take even sides only."""
    width, height = frame.width & ~1, frame.height & ~1
    if (width, height) == (frame.width, frame.height):
        return frame
    source = frame.reformat(format=workable_format(frame.format.name))
    return with_planes(frame, width, height, source.format.name, plane_views(source))


def _turned(plane: NDArray[Any], turn: Turn) -> NDArray[Any]:
    turned = np.rot90(plane, k=-(turn.clockwise_deg // 90))
    return turned[:, ::-1] if turn.is_mirrored else turned


def with_planes(
    frame: VideoFrame, width: int, height: int, pixel_format: str, planes: list[NDArray[Any]]
) -> VideoFrame:
    """A new frame with `planes` (as `plane_views` gives them, cut to its size) and all that `frame` says besides."""
    from av.video.frame import VideoFrame

    made = VideoFrame(width, height, pixel_format)
    for view, plane in zip(plane_views(made), planes, strict=True):
        view[...] = plane[: view.shape[0], : view.shape[1]]
    made.pts, made.duration = frame.pts, frame.duration
    if frame.time_base is not None:
        made.time_base = frame.time_base
    made.colorspace, made.color_range = frame.colorspace, frame.color_range
    made.color_primaries, made.color_trc = frame.color_primaries, frame.color_trc
    return made
