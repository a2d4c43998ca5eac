"""What finding the clock of a long 1080p60 recording costs, as ratios within one run; see `tests.bench.clock --cost`.

The recording is 20 s of picture, coded once and repeated by copying packets, with engine sound that runs on over its
whole length and belongs to the log; the picture does not. Each measurement runs in a process of its own, so that its
peak memory is its own.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from statistics import median

import av
import numpy as np
from numpy.typing import NDArray

from syncview.channels import open_log
from syncview.clock.align import align
from syncview.media.recording import open_recording
from tests.clock.sessions.camera import Camera, Look
from tests.clock.sessions.engine_sound import AUDIO_HZ, hear
from tests.clock.sessions.log_file import write_log
from tests.clock.sessions.making import camera_poses, drives, time_session
from tests.clock.sessions.recording_file import FramePlan
from tests.clock.sessions.spec import SessionSpec
from tests.clock.sessions.world import make_world

LOOP_S, FPS = 20, Fraction(60)
DECODED_S = 15.0
SOUND_HZ = 48_000
BITS_PER_S = 16_000_000
"""At the low end of what cameras write at this size and rate: more bits would slow the yardstick, decoding, only."""
SMALL = (160, 90)


def make_long(folder: Path, minutes: float, key_s: float) -> tuple[Path, Path]:
    """Recording and log of that length; taken from the folder when they were made before."""
    spec = SessionSpec(7, circuit=3, laps=math.ceil(minutes * 60 / 36), fps=FPS, size=(1920, 1080), key_s=key_s)
    recording, log = folder / f"long-{minutes:g}-{spec.key}.mp4", folder / f"long-{minutes:g}-{spec.key}.csv"
    if recording.is_file() and log.is_file():
        return recording, log
    folder.mkdir(parents=True, exist_ok=True)
    loop = folder / f"loop-{spec.key}.mp4"
    drive, trace, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    if not loop.is_file():
        _write_loop(loop, spec)
    write_log(log, spec, drive, trace, (timing.log_begin_s, timing.log_begin_s + minutes * 60 - 10))
    samples_s = np.arange(round(minutes * 60 * AUDIO_HZ)) / AUDIO_HZ
    _repeat(loop, recording, round(minutes * 60 / LOOP_S), hear(spec, trace, timing.true_s(samples_s)))
    return recording, log


def _write_loop(path: Path, spec: SessionSpec) -> None:
    drive, trace, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    count = int(LOOP_S * FPS)
    plan = FramePlan(np.arange(count) * 256, Fraction(1, 15360), float(LOOP_S))
    poses = camera_poses(spec, trace, plan.media_s + 30, timing)
    camera = Camera(make_world(spec.circuit), Look(spec.size, spec.seed))
    with av.open(str(path), "w") as container:
        key = str(round(spec.key_s * FPS))
        stream = container.add_stream("libx264", rate=FPS, options={"preset": "veryfast", "g": key})
        assert isinstance(stream, av.VideoStream)
        context = stream.codec_context
        context.width, context.height, context.pix_fmt = *spec.size, "yuv420p"
        context.time_base = stream.time_base = plan.time_base
        context.bit_rate = BITS_PER_S
        planes = np.full((spec.size[1] * 3 // 2, spec.size[0]), 128, np.uint8)
        for number, picture in enumerate(camera.pictures(poses)):
            planes[: spec.size[1]] = picture
            frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
            frame.pts, frame.time_base = number * 256, plan.time_base
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _repeat(loop: Path, path: Path, times: int, sound: NDArray[np.float32]) -> None:
    """The loop's packets again and again, with the sound as stereo at 48 kHz."""
    with av.open(str(path), "w") as container:
        with av.open(str(loop)) as source:
            video = container.add_stream_from_template(source.streams.video[0])
        audio = container.add_stream("aac", rate=SOUND_HZ)
        assert isinstance(audio, av.AudioStream)
        audio.codec_context.layout = "stereo"
        resampler = av.AudioResampler(format="fltp", layout="stereo", rate=SOUND_HZ)
        block = LOOP_S * AUDIO_HZ
        for turn in range(times):
            _copy_packets(loop, container, video, turn)
            mono = np.ascontiguousarray(sound[np.newaxis, turn * block : (turn + 1) * block])
            frame = av.AudioFrame.from_ndarray(mono, format="fltp", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = AUDIO_HZ, turn * block, Fraction(1, AUDIO_HZ)
            for made in resampler.resample(frame):
                container.mux(audio.encode(made))
        container.mux(audio.encode(None))


def _copy_packets(loop: Path, container: av.container.OutputContainer, video: av.VideoStream, turn: int) -> None:
    with av.open(str(loop)) as source:
        for packet in source.demux(video=0):
            if packet.dts is None or packet.pts is None or packet.time_base is None:
                continue
            shift = round(turn * LOOP_S / packet.time_base)
            packet.pts, packet.dts = packet.pts + shift, packet.dts + shift
            packet.stream = video
            container.mux(packet)


def decode_small(recording: Path) -> float:
    """Seconds that decoding every frame to small grey pictures takes, for the whole, measured on a part."""
    length_s = open_recording(recording).duration_s
    begin = time.perf_counter()
    with av.open(str(recording)) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        for frame in container.decode(stream):
            frame.reformat(*SMALL, format="gray").to_ndarray()
            if frame.time is not None and frame.time >= DECODED_S:
                break
    return (time.perf_counter() - begin) * length_s / DECODED_S


def _timed(work: Callable[[], str]) -> tuple[float, str]:
    begin = time.perf_counter()
    words = work()
    return time.perf_counter() - begin, words


def measure(what: str, recording: Path, log: Path) -> dict[str, object]:
    """One measurement: seconds and what came out."""
    if what == "decode":
        return {"seconds": decode_small(recording), "words": "", "peak_mb": peak_mb()}
    if what == "open":
        seconds, words = _timed(lambda: f"{len(open_recording(recording).frames)} frames")
        return {"seconds": seconds, "words": words, "peak_mb": peak_mb()}
    opened, known = open_recording(recording), open_log(log)

    def clock() -> str:
        picture = {"sound": False, "default": None, "everything": True}[what]
        fit = align(opened, known, use_picture=picture).fit
        return f"{'sure' if fit.sure else 'unsure'}: {fit.basis} {' '.join(fit.doubts)}"

    seconds, words = _timed(clock)
    return {"seconds": seconds, "words": words, "peak_mb": peak_mb()}


def peak_mb() -> float:
    """Peak resident memory of this program, MB; NaN where the system does not tell (Linux does, proc(5)).

    Not `getrusage`: what the parent process held before this one began would count, too.
    """
    status = Path("/proc/self/status")
    if not status.is_file():
        return math.nan
    line = next(line for line in status.read_text(encoding="ascii").splitlines() if line.startswith("VmHWM:"))
    return int(line.split()[1]) * 1024 / 1e6


def report(folder: Path, minutes: float, key_s: float, repeats: int) -> None:
    """Make the recording, measure in turn, print ratios."""
    recording, log = make_long(folder, minutes, key_s)
    size_mbit = recording.stat().st_size * 8 / 1e6
    print(f"{minutes:g} minutes, 1920x1080, 60 fps, H.264, a key frame every {key_s:g} s, "
          f"{size_mbit / (minutes * 60):.0f} Mbit/s")  # fmt: skip
    kinds = ("decode", "open", "sound", "default", "everything")
    found: dict[str, list[dict[str, float]]] = {kind: [] for kind in kinds}
    words = {}
    for _ in range(repeats):
        for kind in kinds:
            told = json.loads(subprocess.run(
                [sys.executable, "-m", "tests.bench.clock_cost", kind, str(recording), str(log)],
                check=True, cwd=Path(__file__).parents[2], capture_output=True, text=True,
            ).stdout)  # fmt: skip
            found[kind].append(told)
            words[kind] = told["words"]
    print(f"{'':12s} {'seconds':>8s} {'to decoding all':>16s} {'peak MB':>8s}")
    for kind in kinds:
        ratio = median(
            one["seconds"] / whole["seconds"] for one, whole in zip(found[kind], found["decode"], strict=True)
        )
        share = f"1/{1 / ratio:.0f}" if ratio < 0.5 else f"{ratio:.2f}"
        seconds, peak = median(o["seconds"] for o in found[kind]), max(o["peak_mb"] for o in found[kind])
        print(f"{kind:12s} {seconds:8.1f} {share:>16s} {peak:8.0f}   {words[kind]}")


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))))
