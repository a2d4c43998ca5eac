"""Encodes the recording: frames drawn by workers in order, H.264 and AAC in one MP4 file."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from . import camera, clock, sound
from .driver import drive

if TYPE_CHECKING:
    import av
    from av.container import OutputContainer

    from .picture import Artist

VIDEO_OPTIONS = {"preset": "veryslow", "crf": "34", "g": "300", "threads": "1", "tune": "animation"}
SOUND_BIT_RATE = 40_000
AAC_FRAME = 1024
_artist: Artist | None = None


def _start_worker() -> None:
    global _artist
    import cv2

    from .picture import Artist

    cv2.setNumThreads(1)
    _artist = Artist(drive())


def _draw(frame: int) -> NDArray[np.uint8]:
    assert _artist is not None
    return _artist.frame(_poses(), frame)


_poses_cache: list[camera.Poses] = []


def _poses() -> camera.Poses:
    if not _poses_cache:
        run = drive()
        _poses_cache.append(camera.poses(run, clock.frame_log_s(clock.frame_count(float(run.log_s[-1])))))
    return _poses_cache[0]


def pictures(frames: range, workers: int) -> Iterator[NDArray[np.uint8]]:
    """The frames in order; what they show does not depend on the number of workers."""
    if workers <= 1:
        _start_worker()
        yield from map(_draw, frames)
        return
    with multiprocessing.get_context("fork").Pool(workers, initializer=_start_worker) as pool:
        yield from pool.imap(_draw, frames, chunksize=16)


def _video_stream(container: OutputContainer) -> av.VideoStream:
    import av.video.reformatter as colour

    stream = container.add_stream("libx264", rate=clock.FRAME_RATE, options=VIDEO_OPTIONS)
    stream.width, stream.height, stream.pix_fmt = camera.WIDTH, camera.HEIGHT, "yuv420p"
    stream.time_base = Fraction(1, clock.FRAME_RATE)
    context = stream.codec_context
    context.color_range = colour.ColorRange.MPEG
    context.colorspace = 1  # BT.709, ISO/IEC 23091-2
    context.color_primaries = 1
    context.color_trc = 1
    return stream


def _encode_sound(
    container: OutputContainer, stream: av.AudioStream, samples: NDArray[np.float32], span: range
) -> None:
    """Encode the blocks of samples that begin within a span of sample numbers."""
    import av

    for first in range(-(-span.start // AAC_FRAME) * AAC_FRAME, span.stop, AAC_FRAME):
        piece = np.ascontiguousarray(samples[None, first : first + AAC_FRAME])
        frame = av.AudioFrame.from_ndarray(piece, format="fltp", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = sound.SOUND_RATE_HZ, first, Fraction(1, sound.SOUND_RATE_HZ)
        container.mux(stream.encode(frame))


def _encode_picture(
    container: OutputContainer, stream: av.VideoStream, picture: NDArray[np.uint8], number: int
) -> None:
    import av

    frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
    frame = frame.reformat(format="yuv420p", src_color_range="JPEG", dst_color_range="MPEG", dst_colorspace="ITU709")
    frame.pts, frame.time_base = number, Fraction(1, clock.FRAME_RATE)
    container.mux(stream.encode(frame))


def recording(path: Path, *, frames: range | None = None, workers: int = 2) -> None:
    """Draw and encode the whole recording, or the given frames of it (for a quick look), then put it in place."""
    import av

    run = drive()
    wanted = frames or range(clock.frame_count(float(run.log_s[-1])))
    samples = sound.synthesise(run, wanted.stop / clock.FRAME_RATE)[
        wanted.start * sound.SOUND_RATE_HZ // clock.FRAME_RATE :
    ]
    part = path.with_suffix(".part.mp4")
    with av.open(str(part), "w", options={"movflags": "+faststart"}) as container:
        container.flags |= 0x400  # AVFMT_FLAG_BITEXACT: no encoder name or date, so equal input gives equal bytes
        video = _video_stream(container)
        audio = container.add_stream("aac", rate=sound.SOUND_RATE_HZ, layout="mono")
        audio.bit_rate = SOUND_BIT_RATE
        per_frame = sound.SOUND_RATE_HZ // clock.FRAME_RATE
        for number, picture in enumerate(pictures(wanted, workers)):
            _encode_picture(container, video, picture, number)
            _encode_sound(container, audio, samples, range(number * per_frame, (number + 1) * per_frame))
            if number % 600 == 599 or number == len(wanted) - 1:
                print(f"frame {number + 1} of {len(wanted)}", file=sys.stderr)
        container.mux(video.encode(None))
        container.mux(audio.encode(None))
    os.replace(part, path)
