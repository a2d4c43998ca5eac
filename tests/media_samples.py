"""Makes recordings with known truth for the tests: stamps, bar codes, flashes, beeps. Uses PyAV only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

BARS = 16
"""Bits of a bar code: numbers up to 65535."""

Painter = Callable[[int, Fraction], NDArray[np.uint8]]
"""Gives the RGB picture, shape (rows, columns, 3), for a frame's number and its time from the first frame."""


@dataclass(frozen=True, slots=True)
class SoundTrack:
    """What is heard; silent but for tones."""

    beeps_s: tuple[float, ...] = ()
    """Moments, from the first frame, at which a tone of 0.1 s begins."""
    tone_hz: float = 1000.0
    start_s: float = 0.0
    """When the track begins, from the first frame."""
    end_s: float | None = None
    """None: with the picture."""
    rate_hz: int = 48_000
    channels: int = 2
    codec: str = "aac"


def make_clip(
    path: Path,
    *,
    pts: Sequence[int] | None = None,
    time_base: Fraction = Fraction(1, 15360),
    frame_count: int = 60,
    rate: Fraction = Fraction(30),
    size: tuple[int, int] = (320, 180),
    pixel_format: str = "yuv420p",
    codec: str = "libx264",
    b_frames: int = 3,
    key_step: int = 30,
    painter: Painter | None = None,
    sound: SoundTrack | None = None,
    rotation_ccw_deg: int = 0,
    sample_aspect: Fraction = Fraction(1),
    colour: tuple[int, int, int, int] = (2, 0, 2, 2),
    options: dict[str, str] | None = None,
    quality: str = "12",
) -> Path:
    """Write a clip and return its path.

    `pts` are the frames' stamps in `time_base`; None means a steady `rate`. `painter` None draws `bar_code`.
    `colour` holds the codes of matrix, range, primaries and transfer.
    """
    if pts is None:
        step = 1 / (rate * time_base)
        pts = [round(number * step) for number in range(frame_count)]
    painter = painter or (lambda number, _time_s: bar_code(number, size))
    with av.open(str(path), "w", options=options or {}) as container:
        coding = {"bf": str(b_frames), "g": str(key_step)}
        if codec == "libx264":
            coding |= {"preset": "veryfast", "crf": quality, "keyint_min": str(key_step), "sc_threshold": "0"}
        stream = container.add_stream(codec, rate=rate, options=coding)
        assert isinstance(stream, av.VideoStream)
        context = stream.codec_context
        context.width, context.height, context.pix_fmt = *size, pixel_format
        if codec != "mpeg4":
            context.time_base = stream.time_base = time_base
        context.sample_aspect_ratio = sample_aspect
        context.colorspace, context.color_range, context.color_primaries, context.color_trc = colour
        if rotation_ccw_deg:
            stream.set_display_rotation(rotation_ccw_deg)
        audio = _add_audio(container, sound) if sound is not None else None
        if sound is not None and audio is not None:
            end_s = sound.end_s if sound.end_s is not None else float((pts[-1] - pts[0]) * time_base) + 1 / 30
            _write_sound(container, audio, sound, end_s, first_s=float(pts[0] * time_base))
        for number, stamp in enumerate(pts):
            frame = _coded(painter(number, (stamp - pts[0]) * time_base), pixel_format, colour)
            frame.pts, frame.time_base = stamp, time_base
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def _coded(rgb: NDArray[np.uint8], pixel_format: str, colour: tuple[int, int, int, int]) -> av.VideoFrame:
    matrix = {1: "ITU709", 9: "BT2020"}.get(colour[0], "ITU601")
    full = colour[1] == 2 or pixel_format.startswith("yuvj")
    return av.VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24").reformat(
        format=pixel_format, dst_colorspace=matrix, dst_color_range="JPEG" if full else "MPEG"
    )


def _add_audio(container: av.container.OutputContainer, sound: SoundTrack) -> av.AudioStream:
    stream = container.add_stream(sound.codec, rate=sound.rate_hz)
    assert isinstance(stream, av.AudioStream)
    stream.codec_context.layout = {1: "mono", 2: "stereo", 6: "5.1"}[sound.channels]
    return stream


def sound_samples(sound: SoundTrack, end_s: float) -> NDArray[np.float32]:
    """Samples of one channel from `start_s` to `end_s`, shape (n,)."""
    times_s = sound.start_s + np.arange(round((end_s - sound.start_s) * sound.rate_hz)) / sound.rate_hz
    wave = np.zeros(len(times_s), dtype=np.float32)
    for begin_s in sound.beeps_s:
        heard = (times_s >= begin_s) & (times_s < begin_s + 0.1)
        wave[heard] = 0.5 * np.sin(2 * np.pi * sound.tone_hz * (times_s[heard] - begin_s))
    return wave


def _write_sound(
    container: av.container.OutputContainer,
    stream: av.AudioStream,
    sound: SoundTrack,
    end_s: float,
    *,
    first_s: float,
) -> None:
    wave = sound_samples(sound, end_s)
    first = round((first_s + sound.start_s) * sound.rate_hz)
    layout = stream.codec_context.layout.name
    for begin in range(0, len(wave), 1024):
        part = np.tile(wave[begin : begin + 1024], (sound.channels, 1))
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(part), format="fltp", layout=layout)
        frame.sample_rate, frame.pts = sound.rate_hz, first + begin
        frame.time_base = Fraction(1, sound.rate_hz)
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))


def bar_code(number: int, size: tuple[int, int]) -> NDArray[np.uint8]:
    """A picture that shows `number` as white and black bars in its upper half, over a moving gradient."""
    width, height = size
    rows, columns = np.mgrid[0:height, 0:width]
    picture = np.stack(
        [(columns + 3 * number) % 256, (rows * 2 + number) % 256, np.full_like(rows, 96)], axis=-1
    ).astype(np.uint8)
    bar_px = width // BARS
    for bit in range(BARS):
        picture[: height // 2, bit * bar_px : (bit + 1) * bar_px] = 235 if number >> bit & 1 else 16
    return picture


def read_bar_code(frame: av.VideoFrame) -> int:
    """The number that `bar_code` drew, from a decoded frame."""
    grey = np.asarray(frame.reformat(format="gray").to_ndarray())
    bar_px = frame.width // BARS
    strip = grey[frame.height // 8 : frame.height // 3]
    values = [strip[:, bit * bar_px + bar_px // 4 : bit * bar_px + bar_px * 3 // 4].mean() for bit in range(BARS)]
    return sum((value > 125) << bit for bit, value in enumerate(values))


def flash(at_s: Sequence[float], size: tuple[int, int], *, length_s: float = 0.1) -> Painter:
    """A painter of black pictures that turn white for `length_s` from each of the moments on."""

    def paint(_number: int, time_s: Fraction) -> NDArray[np.uint8]:
        lit = any(begin_s - 1e-9 <= float(time_s) < begin_s + length_s - 1e-9 for begin_s in at_s)
        return np.full((size[1], size[0], 3), 235 if lit else 16, dtype=np.uint8)

    return paint
