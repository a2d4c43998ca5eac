"""How much burning in the gauges costs: python tests/bench/render.py (about two minutes; the sample for a whole lap).

Each render is compared with plain PyAV decoding and encoding of the same frames with the same encoder settings, in
turn, so that a busy machine slows all alike; figures are medians of paired ratios. They hold for each other within one
run, not for another machine. "own cost" compares with a plain transcode of pictures that carry the gauges already:
what is left is the program's work, without the encoder's on pictures that became harder to code.
"""

from __future__ import annotations

import math
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from statistics import median

import av
import cv2
import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "codecs")]

from syncview.gauges.colour import ColourCoding  # noqa: E402
from syncview.gauges.panel import GaugePanel  # noqa: E402
from syncview.gauges.values import CornerLabel, GaugeValues  # noqa: E402
from syncview.lesson.film import render_film  # noqa: E402
from syncview.media.film_writer import DRAFT, WEB, EncoderSettings, FilmWriter, PictureShape, SoundShape  # noqa: E402
from syncview.media.recording import Recording, open_recording  # noqa: E402
from tests.media_samples import make_clip  # noqa: E402

REPEATS = 3
SAMPLE = ROOT / "sample_media" / "session.mp4"

_DRAW = np.random.default_rng(6)
_HORIZON = 480
_DROP = np.repeat((np.arange(1, 1080 - _HORIZON + 1) / 900)[:, None], 1920, axis=1)
_ASIDE = np.repeat((np.arange(1920)[None, :] - 960) / 900, 1080 - _HORIZON, axis=0)
_TEXTURE = cv2.GaussianBlur(_DRAW.integers(0, 255, (2048, 2048, 3), dtype=np.uint8), (0, 0), 2.0)
_TEXTURE = np.interp(_TEXTURE, (_TEXTURE.min(), _TEXTURE.max()), (40, 200)).astype(np.uint8)
_SKY = np.repeat(np.linspace((120, 160, 220), (200, 215, 230), _HORIZON)[:, None, :], 1920, axis=1)
_NOISE = [_DRAW.normal(0, 2.5, (1080, 1920, 1)).astype(np.int16) for _ in range(4)]


def road(number: int, _time_s: Fraction) -> NDArray[np.uint8]:
    """A textured plane that is driven over at 50 m/s under a sky, with sensor noise; 1920 x 1080."""
    ahead_m = 1.2 / _DROP + 50 * number / 60
    aside_m = _ASIDE / _DROP + 4 * math.sin(number / 40)
    texels = ((aside_m * 40).astype(np.float32), (ahead_m * 40 % 2048).astype(np.float32))
    ground = cv2.remap(_TEXTURE, *texels, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP)
    picture = np.vstack([_SKY, ground]).astype(np.int16) + _NOISE[number % len(_NOISE)]
    return np.asarray(np.clip(picture, 0, 255), dtype=np.uint8)


def values_at(media_s: Fraction) -> GaugeValues:
    """Every gauge moves, as fast as in hard driving."""
    time_s = float(media_s)
    return GaugeValues(
        speed_mps=45 + 30 * math.sin(time_s / 2),
        gear=3 + int(time_s) % 4,
        throttle=abs(math.sin(2 * time_s)),
        brake=abs(math.cos(2 * time_s)),
        steering_rad=3 * math.sin(2 * time_s),
        lap_time_s=time_s,
        corner=CornerLabel(1 + int(time_s) // 4, "Mill", "left"),
    )


def plain_transcode(recording: Recording, end_s: float, settings: EncoderSettings, output: Path) -> None:
    """Decode and encode picture and sound, nothing else; the encoder is set up as for a film."""
    index = recording.frames
    shape = PictureShape(
        width=recording.width,
        height=recording.height,
        pixel_format=recording.pixel_format,
        time_base=index.time_base,
        nominal_rate=recording.nominal_rate,
        colour=recording.colour,
    )
    sound = None if recording.audio is None else SoundShape(recording.audio.rate_hz, recording.audio.channels)
    count, number = index.first_from(end_s), 0
    with (
        FilmWriter(output, picture=shape, sound=sound, settings=settings, overwrite=True) as writer,
        av.open(str(recording.path)) as container,
    ):
        container.streams.video[0].thread_type = "AUTO"
        streams = [container.streams.video[0], *(container.streams.audio[:1] if sound is not None else ())]
        for frame in container.decode(*streams):
            if isinstance(frame, av.AudioFrame):
                writer.write_sound(np.asarray(frame.to_ndarray(), dtype=np.float32))
            if not isinstance(frame, av.VideoFrame):
                continue
            stamp = int(index.pts[number] - index.pts[0])
            writer.write_picture(frame, pts=stamp, duration=int(index.duration[number]))
            number += 1
            if number == count:
                break


def burned_in(recording: Recording, end_s: float, settings: EncoderSettings, output: Path) -> None:
    """The same frames through the program."""
    render_film(
        recording,
        begin_s=0,
        end_s=end_s,
        values_at=values_at,
        output=output,
        settings=settings,
        overwrite=True,
    )


@dataclass(frozen=True, slots=True)
class Figures:
    """Medians over paired repeats."""

    plain_fps: float
    ratio: float
    """Speed of the program to that of the plain transcode of the bare clip."""
    work: float
    """Processor time of the plain transcode to the program's: steadier than speeds on a busy machine."""
    own_cost: float
    """Speed of the program to that of a plain transcode of a clip that carries the gauges already."""
    own_work: float
    """The same in processor time."""


def paired(recording: Recording, end_s: float, settings: EncoderSettings, folder: Path) -> Figures:
    """Run all in turn, forwards and backwards."""
    burned_in(recording, end_s, replace(settings, crf=12), folder / "carrier.mp4")
    carrier = open_recording(folder / "carrier.mp4")
    runs = {
        "plain": lambda: plain_transcode(recording, end_s, settings, folder / "plain.mp4"),
        "program": lambda: burned_in(recording, end_s, settings, folder / "program.mp4"),
        "carrier": lambda: plain_transcode(carrier, end_s, settings, folder / "again.mp4"),
    }
    seconds: dict[str, list[float]] = {name: [] for name in runs}
    work: dict[str, list[float]] = {name: [] for name in runs}
    for repeat in range(REPEATS):
        for name in runs if repeat % 2 == 0 else reversed(runs):
            begin, begin_work = time.perf_counter(), time.process_time()
            runs[name]()
            seconds[name].append(time.perf_counter() - begin)
            work[name].append(time.process_time() - begin_work)
    return Figures(
        plain_fps=recording.frames.first_from(end_s) / median(seconds["plain"]),
        ratio=_paired_median(seconds["plain"], seconds["program"]),
        work=_paired_median(work["plain"], work["program"]),
        own_cost=_paired_median(seconds["carrier"], seconds["program"]),
        own_work=_paired_median(work["carrier"], work["program"]),
    )


def _paired_median(above: list[float], below: list[float]) -> float:
    return median(a / b for a, b in zip(above, below, strict=True))


def gauge_cost_ms(width: int, height: int) -> tuple[float, float]:
    """Processor time for drawing one frame's gauges once their sprites are made, and once a film for making them."""
    begin = time.process_time()
    panel = GaugePanel(
        width, height, coding=ColourCoding("bt709", False), pixel_format="yuv420p", steering_lock_rad=3.5
    )
    frame = av.VideoFrame(width, height, "yuv420p")
    moments = [Fraction(number, 60) for number in range(600)]
    for media_s in moments:
        panel.draw(frame, values_at(media_s))
    first = time.process_time() - begin
    begin = time.process_time()
    for media_s in moments:
        panel.draw(frame, values_at(media_s))
    again = time.process_time() - begin
    return again / len(moments) * 1000, (first - again) * 1000


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        clip = make_clip(
            folder / "clip.mp4",
            frame_count=180,
            rate=Fraction(60),
            size=(1920, 1080),
            painter=road,
            key_step=250,
            quality="21",
        )
        cases = [("1920x1080, made here", open_recording(clip), 3.0)]
        if SAMPLE.is_file():
            sample = open_recording(SAMPLE)
            cases.append((f"{sample.width}x{sample.height}, sample session", sample, min(sample.duration_s, 60.0)))
        print(f"{'':28s} {'':10s} {'':9s} {'to bare clip':>15s} {'own cost':>15s}")
        print(
            f"{'clip':28s} {'preset':10s} {'plain fps':>9s} {'speed':>8s}{'CPU':>7s} {'speed':>8s}{'CPU':>7s} "
            f"{'gauges a frame':>16s} {'once':>7s}"
        )
        for title, recording, end_s in cases:
            gauge_cost_ms(1280, 720)  # imports
            cost_ms, once_ms = gauge_cost_ms(recording.width, recording.height)
            for settings in (WEB, replace(DRAFT, crf=WEB.crf)):
                found = paired(recording, end_s, settings, folder)
                share = cost_ms / 1000 * found.plain_fps
                print(
                    f"{title:28s} {settings.preset:10s} {found.plain_fps:9.1f} {found.ratio:8.3f}{found.work:7.3f} "
                    f"{found.own_cost:8.3f}{found.own_work:7.3f} {cost_ms:5.2f} ms ({share:5.1%}) {once_ms:4.0f} ms",
                    flush=True,
                )


if __name__ == "__main__":
    main()
