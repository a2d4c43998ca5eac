"""How much burning in the gauges costs: python tests/bench/render.py (about ten minutes on two free cores).

Each render is compared with plain PyAV decoding and encoding of the same frames with the same encoder settings, in
turn, so that a busy machine slows all alike; figures are medians of paired ratios. They hold for each other within one
run, not for another machine. What the gauges show is a lap of the sample's log, from its hardest braking on. With
MoviePy installed (pip install -e '.[bench]') it is compared too.
"""

from __future__ import annotations

import argparse
import math
import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import partial
from importlib.util import find_spec
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
from syncview.gauges.values import GaugeValues  # noqa: E402
from syncview.lesson.film import render_film  # noqa: E402
from syncview.lesson.film_picture import PanelOptions  # noqa: E402
from syncview.media.encoders import DRAFT, WEB, EncoderSettings, PictureShape  # noqa: E402
from syncview.media.film_sound_stream import SoundShape  # noqa: E402
from syncview.media.film_writer import FilmWriter  # noqa: E402
from syncview.media.planes import plane_rows  # noqa: E402
from syncview.media.recording import Recording, open_recording  # noqa: E402
from tests.bench import render_others  # noqa: E402
from tests.bench.driving import Driving, sample_driving  # noqa: E402
from tests.media_samples import make_clip  # noqa: E402

SAMPLE = ROOT / "sample_media" / "session.mp4"
MADE_FRAMES, LOOPS = 180, 3

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


def program(
    recording: Recording,
    end_s: float,
    settings: EncoderSettings,
    output: Path,
    *,
    values_at: Callable[[Fraction], GaugeValues] | None,
    panel: PanelOptions,
) -> None:
    """The same frames through the program; without gauges where `values_at` is None."""
    render_film(
        recording,
        begin_s=0,
        end_s=end_s,
        values_at=values_at,
        panel=panel,
        output=output,
        settings=settings,
        overwrite=True,
    )


def looped(clip: Path, times: int, output: Path) -> Path:
    """The clip over and over, its packets copied."""
    with av.open(str(clip)) as source, av.open(str(output), mode="w") as target:
        stream = source.streams.video[0]
        copied = target.add_stream_from_template(stream)
        packets = [packet for packet in source.demux(stream) if packet.dts is not None]
        step = sum(int(packet.duration or 0) for packet in packets)
        for number in range(times * len(packets)):
            packet = packets[number % len(packets)]
            packet.stream = copied
            if number >= len(packets):
                assert packet.pts is not None
                assert packet.dts is not None
                packet.pts, packet.dts = packet.pts + step, packet.dts + step
            target.mux(packet)
    return output


def paired(runs: dict[str, Callable[[], None]], repeats: int) -> dict[str, tuple[list[float], list[float]]]:
    """Seconds and processor seconds (children's too) of each, run in turn, forwards and backwards."""
    spent: dict[str, tuple[list[float], list[float]]] = {name: ([], []) for name in runs}
    for repeat in range(repeats):
        for name in runs if repeat % 2 == 0 else reversed(runs):
            begin, begin_work = time.perf_counter(), _work_s()
            runs[name]()
            spent[name][0].append(time.perf_counter() - begin)
            spent[name][1].append(_work_s() - begin_work)
    return spent


def _work_s() -> float:
    used = os.times()
    return used.user + used.system + used.children_user + used.children_system


def ratio(above: list[float], below: list[float]) -> float:
    """Median of the paired ratios."""
    return median(a / b for a, b in zip(above, below, strict=True))


def gauge_cost_ms(driving: Driving, width: int, height: int, frames: int) -> tuple[float, float]:
    """Processor time of a frame's gauges (values, copy of the picture, drawing), and once a film for the sprites."""
    picture = av.VideoFrame(width, height, "yuv420p")
    for plane in plane_rows(picture):
        plane[...] = 90
    begin = time.process_time()
    panel, passes_s = driving.panel, []
    drawn = GaugePanel(
        width,
        height,
        coding=ColourCoding("bt709", False),
        pixel_format="yuv420p",
        steering_lock_rad=panel.steering_lock_rad,
        outline=panel.outline,
    )
    for _ in range(2):
        for number in range(frames):
            drawn.draw(picture, driving.values_at(Fraction(number, 60)))
        passes_s.append(time.process_time() - begin)
        begin = time.process_time()
    first_s, again_s = passes_s
    return (again_s / frames + _copy_s(width, height)) * 1000, (first_s - again_s) * 1000


def _copy_s(width: int, height: int) -> float:
    """Processor time of the copy that a decoded picture needs before it is painted on."""
    source = av.VideoFrame(width, height, "yuv420p")
    rows = plane_rows(source)
    begin, times = time.process_time(), 50
    for _ in range(times):
        copy = av.VideoFrame(width, height, "yuv420p")
        for to, samples in zip(plane_rows(copy), rows, strict=True):
            np.copyto(to, samples)
    return (time.process_time() - begin) / times


def compare(title: str, recording: Recording, end_s: float, driving: Driving, folder: Path, repeats: int) -> None:
    """Print a row per preset."""
    frames = recording.frames.first_from(end_s)
    cost_ms, once_ms = gauge_cost_ms(driving, recording.width, recording.height, min(frames, 600))
    for settings in (WEB, replace(DRAFT, crf=WEB.crf)):
        own = partial(program, recording, end_s, settings, folder / "program.mp4", panel=driving.panel)
        spent = paired(
            {
                "plain": partial(plain_transcode, recording, end_s, settings, folder / "plain.mp4"),
                "bare": partial(own, values_at=None),
                "gauges": partial(own, values_at=driving.values_at),
            },
            repeats,
        )
        plain_ms = median(spent["plain"][1]) / frames * 1000
        shares = [ratio(spent["plain"][kind], spent[name][kind]) for name in ("bare", "gauges") for kind in (0, 1)]
        print(
            f"{title:22s} {settings.preset:10s} {frames / median(spent['plain'][0]):9.1f} "
            + " ".join(f"{share:7.3f}" for share in shares)
            + f" {cost_ms:8.2f} ms {cost_ms / plain_ms:6.1%} {once_ms:5.0f} ms",
            flush=True,
        )


def compare_with_others(recording: Recording, end_s: float, driving: Driving, folder: Path, repeats: int) -> None:
    """Print how many times as fast the program is."""
    if find_spec("moviepy") is None:
        print("MoviePy is not installed: pip install -e '.[bench]'")
        return
    spent = paired(
        {
            "program": lambda: program(
                recording, end_s, WEB, folder / "program.mp4", values_at=driving.values_at, panel=driving.panel
            ),
            "picture": lambda: render_others.with_picture(recording.path, end_s, WEB, folder / "a.mp4", driving),
            "matplotlib": lambda: render_others.with_matplotlib(recording.path, end_s, WEB, folder / "b.mp4", driving),
        },
        repeats,
    )
    for name, words in (("picture", "a Pillow picture on every frame"), ("matplotlib", "a matplotlib strip redrawn")):
        print(
            f"MoviePy with {words}: the program is {ratio(spent[name][0], spent['program'][0]):.2f} times as fast, "
            f"in processor time {ratio(spent[name][1], spent['program'][1]):.2f} times",
            flush=True,
        )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description="How much burning in the gauges costs.")
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--only", choices=("made", "sample", "others"))
    wanted = parser.parse_args()
    driving = sample_driving()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        if wanted.only != "others":
            print(f"{'':43s} {'without gauges':>15s} {'with gauges':>15s}")
            print(
                f"{'clip':22s} {'preset':10s} {'plain fps':>9s} {'speed':>7s} {'CPU':>7s} {'speed':>7s} {'CPU':>7s} "
                f"{'gauges a frame':>18s} {'once':>8s}"
            )
        if wanted.only != "sample":
            made, end_s = made_recording(folder), MADE_FRAMES * LOOPS / 60
            if wanted.only != "others":
                compare("1920x1080, made here", made, end_s, driving, folder, wanted.repeats)
        if SAMPLE.is_file() and wanted.only in (None, "sample"):
            sample = open_recording(SAMPLE)
            title = f"{sample.width}x{sample.height}, sample"
            compare(title, sample, min(sample.duration_s, 60.0), driving, folder, wanted.repeats)
        if wanted.only in (None, "others"):
            compare_with_others(made, 2.0, driving, folder, wanted.repeats)


def made_recording(folder: Path) -> Recording:
    """A road that is driven over, with sensor noise, 1920 x 1080 at 60 frames a second."""
    clip = make_clip(
        folder / "clip.mp4",
        frame_count=MADE_FRAMES,
        rate=Fraction(60),
        size=(1920, 1080),
        painter=road,
        key_step=250,
        quality="21",
    )
    return open_recording(looped(clip, LOOPS, folder / "made.mp4"))


if __name__ == "__main__":
    main()
