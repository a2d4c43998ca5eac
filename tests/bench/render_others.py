"""The same gauges by general-purpose libraries, as simply as one would: MoviePy with Pillow, and with matplotlib."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tests.bench.driving import Driving

if TYPE_CHECKING:
    from syncview.media.encoders import EncoderSettings

STRIP = (1200, 120)

Painter = Callable[[NDArray[np.uint8], float], NDArray[np.uint8]]


def with_picture(clip: Path, end_s: float, settings: EncoderSettings, output: Path, driving: Driving) -> None:
    """Figures and two bars drawn with Pillow onto each frame, nothing else: less than the program's gauges."""
    from PIL import Image, ImageDraw, ImageFont

    from syncview.gauges.fonts import font_files

    face = ImageFont.truetype(str(font_files("bold")[0]), 48)

    def paint(frame: NDArray[np.uint8], time_s: float) -> NDArray[np.uint8]:
        values = driving.values_at(Fraction(time_s))
        image = Image.fromarray(frame)
        pen = ImageDraw.Draw(image)
        pen.rectangle((1376, 720, 1824, 1026), fill=(12, 15, 20))
        pen.text((1440, 800), f"{values.gear}  {(values.speed_mps or 0) * 3.6:.0f}", font=face, fill="white")
        pen.text((1440, 880), f"{values.lap_time_s or 0:.1f}", font=face, fill="white")
        pen.rectangle((1400, 960, 1400 + 180 * (values.brake or 0), 1000), fill=(236, 112, 20))
        pen.rectangle((1600, 960, 1600 + 180 * (values.throttle or 0), 1000), fill=(58, 160, 222))
        return np.asarray(image)

    _render(clip, end_s, settings, output, paint)


def with_matplotlib(clip: Path, end_s: float, settings: EncoderSettings, output: Path, driving: Driving) -> None:
    """A strip of four plots that matplotlib draws anew for each frame."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(STRIP[0] / 100, STRIP[1] / 100), dpi=100)
    canvas = FigureCanvasAgg(figure)
    axes = figure.subplots(1, 4)

    def paint(frame: NDArray[np.uint8], time_s: float) -> NDArray[np.uint8]:
        values = driving.values_at(Fraction(time_s))
        shown = (values.brake or 0, values.throttle or 0, (values.speed_mps or 0) / 90, (values.steering_rad or 0) / 8)
        for one, value in zip(axes, shown, strict=True):
            one.clear()
            one.barh([0], [value], color="#D55E00")
            one.set_xlim(-1, 1)
            one.set_title(f"{value:.2f}", fontsize=8)
        canvas.draw()  # type: ignore[no-untyped-call]
        painted = frame.copy()
        strip = np.asarray(canvas.buffer_rgba())[..., :3]  # type: ignore[no-untyped-call]
        painted[-STRIP[1] - 54 : -54, 96 : 96 + STRIP[0]] = strip
        return painted

    _render(clip, end_s, settings, output, paint)


def _render(clip: Path, end_s: float, settings: EncoderSettings, output: Path, paint: Painter) -> None:
    from moviepy import VideoFileClip

    with VideoFileClip(str(clip), audio=False) as whole:

        def made(frame_at: Any, time_s: float) -> NDArray[np.uint8]:
            return paint(frame_at(time_s), time_s)

        whole.subclipped(0, end_s).transform(made).write_videofile(
            str(output),
            codec=settings.codec,
            preset=settings.preset,
            ffmpeg_params=["-crf", str(settings.crf)],
            audio=False,
            logger=None,
        )
