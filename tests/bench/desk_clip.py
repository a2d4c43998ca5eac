"""A long onboard-like clip for the desk's bench: 1080p60, long groups, every frame bar-coded with its number."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray

from syncview.media.planes import plane_rows
from tests.media_samples import BARS

SIZE = (1920, 1080)
RATE = Fraction(60)
KEY_STEP = 250
_BAR_ROWS = slice(0, 540)


def long_clip(folder: Path, *, length_s: int = 180) -> Path:
    """The clip in `folder`, made on first use (minutes): H.264, groups of 250 frames, three B frames, 12 Mbit/s."""
    path = folder / f"desk-{length_s}s.mp4"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part.mp4")
        _encode(part, length_s * int(RATE))
        part.replace(path)
    return path


def _encode(path: Path, count: int) -> None:
    canvas, grain = _canvas(), _grain()
    coding = {
        "preset": "veryfast", "bf": "3", "b_strategy": "1", "keyint_min": str(KEY_STEP), "sc_threshold": "0",
        "maxrate": "16M", "bufsize": "24M",
    }  # fmt: skip
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=RATE, options=coding)
        assert isinstance(stream, av.VideoStream)
        context = stream.codec_context
        context.width, context.height, context.pix_fmt = *SIZE, "yuv420p"
        context.gop_size, context.bit_rate, context.thread_type = KEY_STEP, 12_000_000, "AUTO"
        context.colorspace, context.color_range, context.color_primaries, context.color_trc = 1, 1, 1, 1
        stream.time_base = context.time_base = Fraction(1, 15360)
        for number in range(count):
            frame = av.VideoFrame(*SIZE, "yuv420p")
            _paint(plane_rows(frame), number, canvas, grain[number % len(grain)])
            frame.pts, frame.time_base = number * 256, Fraction(1, 15360)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _canvas() -> NDArray[np.uint8]:
    """Clouds, grain and edges, larger than the picture."""
    draw = np.random.default_rng(5)
    clouds = np.zeros((1480, 2720), dtype=np.float32)
    for spread_px in (1, 3, 9, 30):
        clouds += spread_px**1.3 * cv2.GaussianBlur(
            draw.normal(0, 1, clouds.shape).astype(np.float32), (0, 0), spread_px
        )
    return np.interp(clouds, (clouds.min(), clouds.max()), (30, 225)).astype(np.uint8)


def _grain() -> list[NDArray[np.uint8]]:
    draw = np.random.default_rng(6)
    return [draw.integers(0, 8, (SIZE[1], SIZE[0]), dtype=np.uint8) for _ in range(7)]


def _paint(planes: list[NDArray[np.uint8]], number: int, canvas: NDArray[np.uint8], grain: NDArray[np.uint8]) -> None:
    width, height = SIZE
    left = round(400 + 390 * np.sin(number / 90))
    top = round(200 + 190 * np.sin(number / 71))
    np.add(canvas[top : top + height, left : left + width], grain, out=planes[0])
    bar_px = width // BARS
    for bit in range(BARS):
        planes[0][_BAR_ROWS, bit * bar_px : (bit + 1) * bar_px] //= 8
        planes[0][_BAR_ROWS, bit * bar_px : (bit + 1) * bar_px] += np.uint8(190 if number >> bit & 1 else 24)
    planes[1][...] = 128 + 20 * np.sin(number / 40)
    planes[2][...] = 128 - 20 * np.sin(number / 55)
