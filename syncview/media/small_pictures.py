"""Small grey pictures for looking at motion and places: exact times, without the frames that no other refers to."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import av
import numpy as np
from numpy.typing import NDArray

from syncview.media.opening import open_container, video_stream
from syncview.media.turning import upright
from syncview.progress import Progress, silent

if TYPE_CHECKING:
    from av.container import InputContainer
    from av.video.frame import VideoFrame

    from syncview.media.recording import Recording

WIDTH = 160
ENOUGH_RATE = 48
"""From this rate on, frames that no other refers to (every second one, often) are not decoded."""


def small_pictures(
    recording: Recording,
    spans_s: Sequence[tuple[float, float]],
    *,
    width: int = WIDTH,
    every_frame: bool = False,
    progress: Progress = silent,
) -> Iterator[tuple[float, NDArray[np.uint8]]]:
    """Media time and upright grey picture, `width` columns wide, of the frames in each span (ascending, in seconds).

    At high frame rates every second frame or so is left out unless `every_frame` is asked for. Damaged frames are
    left out.
    """
    frames = recording.frames
    whole = sum(end - begin for begin, end in spans_s) or 1.0
    done = 0.0
    with open_container(recording.path) as container:
        stream = video_stream(container, recording.stream_index)
        stream.codec_context.thread_type = "AUTO"
        if not every_frame and recording.nominal_rate >= ENOUGH_RATE:
            stream.codec_context.skip_frame = "NONREF"
        size = _size(recording, width)
        for begin, end in spans_s:
            first_pts = int(frames.pts[frames.first_from(begin)]) if begin < frames.end_s else None
            if first_pts is None:
                continue
            for frame, media_s in _span(container, recording, first_pts, end):
                yield media_s, _grey(frame, recording, size)
                progress(min((done + media_s - begin) / whole, 1.0), "watching the picture")
            done += end - begin


def _span(
    container: InputContainer, recording: Recording, first_pts: int, end_s: float
) -> Iterator[tuple[VideoFrame, float]]:
    frames = recording.frames
    stream = video_stream(container, recording.stream_index)
    container.seek(first_pts, stream=stream, backward=True)
    for packet in container.demux(stream):
        try:
            decoded = packet.decode()
        except av.InvalidDataError:
            continue
        for frame in decoded:
            if frame.pts is None or frame.pts < first_pts:
                continue
            media_s = float((frame.pts - frames.start_pts) * frames.time_base)
            if media_s >= end_s:
                return
            yield frame, media_s


def _size(recording: Recording, width: int) -> tuple[int, int]:
    """Columns and rows of the reduced picture before it is turned upright."""
    height = max(2, round(width * recording.display_height / recording.display_width))
    return (height, width) if recording.turn.swaps_sides else (width, height)


def _grey(frame: VideoFrame, recording: Recording, size: tuple[int, int]) -> NDArray[np.uint8]:
    small = frame.reformat(width=size[0], height=size[1], format="gray")
    if not recording.turn.is_none:
        small = upright(small, recording.turn)
    return np.asarray(small.to_ndarray(), dtype=np.uint8)
