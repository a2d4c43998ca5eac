"""Small and full pictures of a recording as viewers expect them: upright, square pixels, the right colours."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from av.video.reformatter import Colorspace, VideoReformatter

from syncview.media.turning import upright

if TYPE_CHECKING:
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.media.recording import Recording

SMALL_PIXELS = 960 * 540
"""Small pictures have at most as many pixels: 1920 x 1080 halved each way."""
_LEAST_SIDE = 16
_MATRICES = {
    "bt709": Colorspace.ITU709,
    "fcc": Colorspace.FCC,
    "bt470bg": Colorspace.ITU601,
    "smpte170m": Colorspace.ITU601,
    "smpte240m": Colorspace.SMPTE240M,
    "bt2020nc": Colorspace.BT2020,
    "bt2020c": Colorspace.BT2020,
}
_HD_ROWS = 720
"""From this height on, pictures without a matrix tag are taken as BT.709, below as BT.601 (common practice)."""


@dataclass(frozen=True, eq=False, slots=True)
class ScrubPicture:
    """A picture of the recording, ready to be shown."""

    number: int
    """Which frame of `recording.frames` it is."""
    media_s: Fraction
    """When that frame appears."""
    rgb: NDArray[np.uint8]
    """Shape (rows, columns, 3), C-contiguous, upright, square pixels."""
    is_exact: bool
    """True for the frame on screen at the time asked for; False for a near one that stands in until it comes."""
    is_proxy: bool
    """True when it went through the small copies on disk, which lose a little detail."""
    is_full: bool
    """True for the recording's own size, False for the small one."""
    asked_s: Fraction
    """The time asked for."""
    asked: int
    """Number of the request that it answers, as `ScrubSource.ask` gave it; 0 when there was none."""


@dataclass(frozen=True, slots=True)
class _Coding:
    """How luma and chroma are read, in PyAV's words."""

    matrix: Colorspace
    range: str


class PictureMaker:
    """Makes small pictures and RGB from decoded frames; use one in each thread."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._reformatter = VideoReformatter()
        self.small_width, self.small_height = small_size(recording.display_width, recording.display_height)
        """The upright small picture."""
        self._coded = _coding_of(recording)
        is_rgb = recording.colour.matrix == "gbr" or recording.pixel_format.startswith(("gbr", "rgb", "bgr"))
        self._small = _Coding(Colorspace.ITU709, "JPEG") if is_rgb else self._coded

    def small(self, frame: VideoFrame) -> VideoFrame:
        """A decoded frame as a small upright picture, 8-bit 4:2:0, matrix and range kept."""
        size = (self.small_width, self.small_height)
        width, height = size[::-1] if self._recording.turn.swaps_sides else size
        made = self._reformatter.reformat(
            frame,
            width=width,
            height=height,
            format="yuv420p",
            src_colorspace=self._coded.matrix,
            dst_colorspace=self._small.matrix,
            src_color_range=self._coded.range,
            dst_color_range=self._small.range,
            interpolation="AREA",
        )
        return upright(made, self._recording.turn)

    def small_rgb(self, small: VideoFrame) -> NDArray[np.uint8]:
        """RGB of what `small` gave, shape (rows, columns, 3)."""
        return self._rgb(small, small.width, small.height, self._small)

    def full_rgb(self, frame: VideoFrame) -> NDArray[np.uint8]:
        """A decoded frame as RGB in the recording's display size, shape (rows, columns, 3)."""
        recording, turn = self._recording, self._recording.turn
        size = (recording.display_width, recording.display_height)
        width, height = size[::-1] if turn.swaps_sides else size
        rgb = self._rgb(frame, width, height, self._coded)
        if turn.is_none:
            return rgb
        rgb = np.rot90(rgb, k=-(turn.clockwise_deg // 90))
        return np.ascontiguousarray(rgb[:, ::-1] if turn.is_mirrored else rgb)

    def _rgb(self, frame: VideoFrame, width: int, height: int, coding: _Coding) -> NDArray[np.uint8]:
        made = self._reformatter.reformat(
            frame,
            width=width,
            height=height,
            format="rgb24",
            src_colorspace=coding.matrix,
            src_color_range=coding.range,
            dst_color_range="JPEG",
            interpolation="BILINEAR",
        )
        return np.ascontiguousarray(made.to_ndarray(), dtype=np.uint8)


def small_size(width: int, height: int) -> tuple[int, int]:
    """Size of the small picture for one of `width` x `height`: even sides, never larger."""
    scale = min(1.0, math.sqrt(SMALL_PIXELS / (width * height)))
    return _even(width * scale), _even(height * scale)


def _even(side: float) -> int:
    return max(_LEAST_SIDE, 2 * round(side / 2 - 1e-9))


def _coding_of(recording: Recording) -> _Coding:
    named = _MATRICES.get(recording.colour.matrix or "")
    is_full = recording.colour.range == "full" or recording.pixel_format.startswith("yuvj")
    is_hd = min(recording.width, recording.height) >= _HD_ROWS
    return _Coding(named or (Colorspace.ITU709 if is_hd else Colorspace.ITU601), "JPEG" if is_full else "MPEG")
