"""The sample planes of a decoded picture as arrays that can be read and written in place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class PlaneLayout:
    """How a pixel format stores luma and chroma."""

    bits: int
    chroma_shift_x: int
    """Chroma has width / 2**shift samples a row."""
    chroma_shift_y: int
    interleaved: bool = False
    """True when Cb and Cr alternate in one plane."""


LAYOUTS: dict[str, PlaneLayout] = {
    "yuv420p": PlaneLayout(8, 1, 1),
    "yuvj420p": PlaneLayout(8, 1, 1),
    "yuv422p": PlaneLayout(8, 1, 0),
    "yuvj422p": PlaneLayout(8, 1, 0),
    "yuv444p": PlaneLayout(8, 0, 0),
    "yuvj444p": PlaneLayout(8, 0, 0),
    "nv12": PlaneLayout(8, 1, 1, interleaved=True),
    "yuv420p10le": PlaneLayout(10, 1, 1),
    "yuv422p10le": PlaneLayout(10, 1, 0),
    "yuv444p10le": PlaneLayout(10, 0, 0),
}
"""The pixel formats that pictures are worked on in; others are converted first, see `workable_format`."""


def workable_format(pixel_format: str) -> str:
    """The format of `LAYOUTS` nearest to `pixel_format`: itself where possible, else 4:2:0 with 8 or 10 bits."""
    from av.video.format import VideoFormat

    if pixel_format in LAYOUTS:
        return pixel_format
    deepest = max(component.bits for component in VideoFormat(pixel_format).components)
    return "yuv420p10le" if deepest > 8 else "yuv420p"


def plane_rows(frame: VideoFrame) -> list[NDArray[Any]]:
    """Views of the planes, shape (rows, samples a row); interleaved chroma has two samples per chroma column.

    dtype uint8 or uint16. Writing goes into the frame: call `frame.make_writable()` first, or the decoder's
    reference pictures are damaged. ValueError for a format outside `LAYOUTS`.
    """
    layout = LAYOUTS.get(frame.format.name)
    if layout is None:
        raise ValueError(f"no plane layout for pixel format {frame.format.name}")
    dtype = np.dtype(np.uint8) if layout.bits == 8 else np.dtype("<u2")
    views = []
    for number, plane in enumerate(frame.planes):
        columns, rows = frame.width, frame.height
        if number > 0:
            columns = -(-columns >> layout.chroma_shift_x) * (2 if layout.interleaved else 1)
            rows = -(-rows >> layout.chroma_shift_y)
        stride = plane.line_size // dtype.itemsize
        samples = np.frombuffer(memoryview(plane), dtype=dtype)[: stride * rows]
        views.append(samples.reshape(rows, stride)[:, :columns])
    return views


def plane_views(frame: VideoFrame) -> list[NDArray[Any]]:
    """As `plane_rows`, with interleaved chroma as shape (rows, columns, 2)."""
    rows = plane_rows(frame)
    if LAYOUTS[frame.format.name].interleaved:
        chroma = rows[1]
        rows[1] = chroma.reshape(chroma.shape[0], chroma.shape[1] // 2, 2)
    return rows
