"""Writes the recording: which frames at which stamps show which true moment, and the sound beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from tests.clock.sessions.circuit import FloatArray
from tests.clock.sessions.engine_sound import AUDIO_HZ
from tests.clock.sessions.spec import SessionSpec
from tests.clock.sessions.world import Grey

HOLE_S = 3.0
HOLE_SHARE = 0.6
SOUND_LAG_S = 0.013
"""The sound track begins this much after the first picture, as it does in many cameras."""


@dataclass(frozen=True, slots=True, eq=False)
class FramePlan:
    """The frames of a recording."""

    ticks: NDArray[np.int64]
    """Shape (n,), stamps in `time_base`, the first one 0."""
    time_base: Fraction
    duration_s: float

    @property
    def media_s(self) -> FloatArray:
        """Shape (n,), media time of each frame."""
        return np.asarray(self.ticks * float(self.time_base), np.float64)


def plan_frames(spec: SessionSpec, duration_s: float) -> FramePlan:
    """Stamps of a steady or a variable rate, without those that fall in a hole."""
    rng = np.random.default_rng([spec.seed, 8])
    if spec.container == "mkv":
        base = Fraction(1, 1000)
    else:
        base = Fraction(1, 90_000) if spec.variable_rate else Fraction(1, 256 * spec.fps.numerator)
    count = int(duration_s * spec.fps)
    frames = np.arange(count)
    step = 1 / spec.fps / base
    places = np.array([float(k * step) for k in range(count)])
    if spec.variable_rate:
        places[1:] += rng.uniform(-0.2, 0.2, count - 1) * float(step)
        keep = rng.random(count) > 0.04
        keep[0] = True
        frames, places = frames[keep], places[keep]
    ticks = np.round(places).astype(np.int64)
    if spec.hole is not None:
        seconds = ticks * float(base) - HOLE_SHARE * duration_s
        ticks = ticks[(seconds < 0) | (seconds >= HOLE_S)]
    return FramePlan(ticks, base, duration_s)


def write_recording(path: Path, spec: SessionSpec, plan: FramePlan, pictures: Iterator[Grey],
                    sound: NDArray[np.float32] | None) -> None:  # fmt: skip
    """Encode; `sound` begins at `SOUND_LAG_S`."""
    with av.open(str(path), "w") as container:
        key = max(1, round(spec.key_s * spec.fps))
        preset = "ultrafast" if spec.seed % 2 else "superfast"
        coding = {"preset": preset, "crf": "27", "g": str(key), "keyint_min": str(key), "sc_threshold": "0"}
        stream = container.add_stream("libx264", rate=spec.fps, options=coding)
        assert isinstance(stream, av.VideoStream)
        context = stream.codec_context
        context.width, context.height, context.pix_fmt = *spec.size, "yuv420p"
        context.time_base = stream.time_base = plan.time_base
        context.thread_count = 1
        first = round(Fraction(spec.container_start_s) / plan.time_base)
        start_s = first * plan.time_base
        audio = None
        if sound is not None:
            audio = container.add_stream("aac", rate=AUDIO_HZ)
            assert isinstance(audio, av.AudioStream)
            audio.codec_context.layout = "mono"
            audio.codec_context.bit_rate = 64_000
            _write_sound(container, audio, spec, sound, start_s, plan.duration_s)
        _write_pictures(container, stream, plan, first, pictures, spec.size)


def _write_pictures(container: av.container.OutputContainer, stream: av.VideoStream, plan: FramePlan, first: int,
                    pictures: Iterator[Grey], size: tuple[int, int]) -> None:  # fmt: skip
    planes = np.full((size[1] * 3 // 2, size[0]), 128, np.uint8)
    for tick, picture in zip(plan.ticks.tolist(), pictures, strict=True):
        planes[: size[1]] = picture
        frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
        frame.pts, frame.time_base = first + tick, plan.time_base
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))


def _write_sound(container: av.container.OutputContainer, stream: av.AudioStream, spec: SessionSpec,
                 sound: NDArray[np.float32], start_s: Fraction, duration_s: float) -> None:  # fmt: skip
    first = round((float(start_s) + SOUND_LAG_S) * AUDIO_HZ)
    hole = None
    if spec.hole == "picture and sound":
        begin = round(HOLE_SHARE * duration_s * AUDIO_HZ)
        hole = (begin, begin + round(HOLE_S * AUDIO_HZ))
    for begin in range(0, sound.size, 1024):
        if hole is not None and hole[0] <= begin < hole[1]:
            continue
        block = np.ascontiguousarray(sound[np.newaxis, begin : begin + 1024])
        frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
        frame.sample_rate, frame.time_base = AUDIO_HZ, Fraction(1, AUDIO_HZ)
        frame.pts = first + begin
        container.mux(stream.encode(frame))
    container.mux(stream.encode(None))
