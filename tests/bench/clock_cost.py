"""What finding the clock of a long 1080p60 recording costs, as ratios within one run; see `tests.bench.clock --cost`.

One lap's picture is coded once and its packets are repeated lap by lap, so that every lap of the log begins where the
picture shows the start line; what is too much of it is left off before the next lap. The lap is coded three times, so
that lap starts lie 0.3, 1.0 and 1.7 s behind a key frame, in turn. The engine sound runs on over the whole length and
belongs to the log. Each measurement runs in a process of its own, so that its peak memory is its own. Ratios are of
processor time of all threads, which others on the same machine hardly change.
"""

from __future__ import annotations

import itertools
import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
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
from tests.clock.sessions.car import CarTrace
from tests.clock.sessions.engine_sound import AUDIO_HZ, hear
from tests.clock.sessions.log_file import write_log
from tests.clock.sessions.making import Timing, camera_poses, drives, time_session
from tests.clock.sessions.spec import SessionSpec
from tests.clock.sessions.world import make_world

FPS = Fraction(60)
TICKS = 256
"""Of the time base in a frame."""
LAP_S = 46
"""More than the longest lap and the lead before it."""
LEADS_S = (2.3, 3.0, 3.7)
"""Between a take's beginning and the lap start in it."""
DECODED_S = 15.0
SOUND_HZ = 48_000
BITS_PER_S = 16_000_000
"""At the low end of what cameras write at this size and rate: more bits would slow the yardstick, decoding, only."""
SMALL = (160, 90)


def make_long(folder: Path, minutes: float, key_s: float) -> tuple[Path, Path]:
    """Recording and log of that length; taken from the folder when they were made before."""
    spec = SessionSpec(7, circuit=3, laps=math.ceil(minutes * 60 / 36), fps=FPS, size=(1920, 1080), key_s=key_s)
    recording, log = folder / f"laps-{minutes:g}-{spec.key}.mp4", folder / f"laps-{minutes:g}-{spec.key}.csv"
    if recording.is_file() and log.is_file():
        return recording, log
    folder.mkdir(parents=True, exist_ok=True)
    drive, trace, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    takes = [folder / f"take-{key_s:g}-{lead_s:g}.mp4" for lead_s in LEADS_S]
    if not all(take.is_file() for take in takes):
        _film_lap(takes, key_s)
    write_log(log, spec, drive, trace, (timing.log_begin_s, timing.log_begin_s + minutes * 60 - 10))
    starts_s = [float(s) - timing.begin_s for s in drive.lap_starts_s]
    part = recording.with_suffix(".part.mp4")
    _put_together(part, takes, starts_s, minutes * 60, _heard(spec, trace, timing))
    os.replace(part, recording)
    return recording, log


def _film_lap(takes: list[Path], key_s: float) -> None:
    """One lap at 1080p60 in several takes, each beginning its lead before the start line."""
    spec = SessionSpec(7, circuit=3, laps=3, fps=FPS, size=(1920, 1080), key_s=key_s)
    drive, trace, _, _ = drives(spec)
    timing = time_session(spec, drive, drive)
    media_s = np.arange(int(LAP_S * FPS)) / float(FPS) + drive.lap_starts_s[0] - timing.begin_s - max(LEADS_S)
    camera = Camera(make_world(spec.circuit), Look(spec.size, spec.seed))
    planes = np.full((spec.size[1] * 3 // 2, spec.size[0]), 128, np.uint8)
    with ExitStack() as stack:
        containers = [stack.enter_context(av.open(str(take), "w")) for take in takes]
        streams = [_coded(container, spec) for container in containers]
        for number, picture in enumerate(camera.pictures(camera_poses(spec, trace, media_s, timing))):
            planes[: spec.size[1]] = picture
            for container, stream, lead_s in zip(containers, streams, LEADS_S, strict=True):
                own = number - round((max(LEADS_S) - lead_s) * FPS)
                if own >= 0:
                    frame = av.VideoFrame.from_ndarray(planes, format="yuv420p")
                    frame.pts, frame.time_base = own * TICKS, Fraction(1, TICKS * FPS.numerator)
                    container.mux(stream.encode(frame))
        for container, stream in zip(containers, streams, strict=True):
            container.mux(stream.encode(None))


def _coded(container: av.container.OutputContainer, spec: SessionSpec) -> av.VideoStream:
    key = str(round(spec.key_s * FPS))
    options = {"preset": "veryfast", "g": key, "keyint_min": key, "sc_threshold": "0"}
    stream = container.add_stream("libx264", rate=FPS, options=options)
    assert isinstance(stream, av.VideoStream)
    context = stream.codec_context
    context.width, context.height, context.pix_fmt = *spec.size, "yuv420p"
    context.time_base = stream.time_base = Fraction(1, TICKS * FPS.numerator)
    context.bit_rate = BITS_PER_S
    return stream


def _heard(spec: SessionSpec, trace: CarTrace, timing: Timing) -> Callable[[float, float], NDArray[np.float32]]:
    def heard(begin_s: float, end_s: float) -> NDArray[np.float32]:
        samples_s = np.arange(round(begin_s * AUDIO_HZ), round(end_s * AUDIO_HZ)) / AUDIO_HZ
        return hear(spec, trace, timing.true_s(samples_s))

    return heard


def _put_together(path: Path, takes: list[Path], starts_s: list[float], whole_s: float,
                  heard: Callable[[float, float], NDArray[np.float32]]) -> None:  # fmt: skip
    """Take after take, each from its lead before a lap start to that of the next; sound as stereo at 48 kHz."""
    with av.open(str(path), "w") as container:
        with av.open(str(takes[0])) as source:
            video = container.add_stream_from_template(source.streams.video[0])
        audio = container.add_stream("aac", rate=SOUND_HZ)
        assert isinstance(audio, av.AudioStream)
        audio.codec_context.layout = "stereo"
        resampler = av.AudioResampler(format="fltp", layout="stereo", rate=SOUND_HZ)
        turns = [(take, start - lead) for start, (take, lead) in zip(
            starts_s, itertools.cycle(zip(takes, LEADS_S, strict=True)))]  # fmt: skip
        turns = [(takes[-1], 0.0), *(turn for turn in turns if turn[1] < whole_s)]
        for (take, begin_s), end_s in zip(turns, [*(t[1] for t in turns[1:]), whole_s], strict=True):
            _copy_packets(take, container, video, begin_s, end_s)
            mono = np.ascontiguousarray(heard(begin_s, end_s)[np.newaxis])
            frame = av.AudioFrame.from_ndarray(mono, format="fltp", layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = AUDIO_HZ, round(begin_s * AUDIO_HZ), Fraction(1, AUDIO_HZ)
            for made in resampler.resample(frame):
                container.mux(audio.encode(made))
        container.mux(audio.encode(None))


def _copy_packets(
    take: Path, container: av.container.OutputContainer, video: av.VideoStream, begin_s: float, end_s: float
) -> None:
    """The take from `begin_s` on; it stops a few frames early, so that stamps ascend in decoding order, too."""
    with av.open(str(take)) as source:
        for packet in source.demux(video=0):
            if packet.dts is None or packet.pts is None or packet.time_base is None:
                continue
            shift = round(begin_s / packet.time_base)
            if (packet.pts + shift) * packet.time_base >= end_s - 4 / FPS:
                return
            packet.pts, packet.dts = packet.pts + shift, packet.dts + shift
            packet.stream = video
            container.mux(packet)


def decode_small(recording: Path) -> float:
    """Seconds that decoding every frame to small grey pictures takes, for the whole, measured on a part."""
    length_s = open_recording(recording).duration_s

    def decode() -> str:
        with av.open(str(recording)) as container:
            stream = container.streams.video[0]
            stream.thread_type = "AUTO"
            for frame in container.decode(stream):
                frame.reformat(*SMALL, format="gray").to_ndarray()
                if frame.time is not None and frame.time >= DECODED_S:
                    break
        return ""

    return _timed(decode)[0] * length_s / DECODED_S


def _timed(work: Callable[[], str]) -> tuple[float, str]:
    """Processor time, and what the work says."""
    begin = time.process_time()
    words = work()
    return time.process_time() - begin, words


def measure(what: str, recording: Path, log: Path) -> dict[str, object]:
    """One measurement: seconds and what came out."""
    if what == "decode":
        return {"seconds": decode_small(recording), "words": "", "peak_mb": peak_mb()}
    if what == "open":
        seconds, words = _timed(lambda: f"{len(open_recording(recording).frames)} frames")
        return {"seconds": seconds, "words": words, "peak_mb": peak_mb()}
    opened, known = open_recording(recording), open_log(log)

    def clock() -> str:
        fit = align(opened, known, use_picture=PICTURE[what]).fit
        return f"{'sure' if fit.sure else 'unsure'}: {fit.basis} {' '.join(fit.doubts)}"

    seconds, words = _timed(clock)
    return {"seconds": seconds, "words": words, "peak_mb": peak_mb()}


PICTURE = {"sound": False, "sound and sight": None, "sound, motion and sight": True}
"""What is measured -> what `align` is told about the picture."""


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
    kinds = ("decode", "open", *PICTURE)
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
    print(f"{'':24s} {'CPU s':>8s} {'to decoding all':>16s} {'peak MB':>8s}")
    for kind in kinds:
        ratio = median(
            one["seconds"] / whole["seconds"] for one, whole in zip(found[kind], found["decode"], strict=True)
        )
        share = f"1/{1 / ratio:.0f}" if ratio < 0.5 else f"{ratio:.2f}"
        seconds, peak = median(o["seconds"] for o in found[kind]), max(o["peak_mb"] for o in found[kind])
        print(f"{kind:24s} {seconds:8.1f} {share:>16s} {peak:8.0f}   {words[kind]}")


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], Path(sys.argv[2]), Path(sys.argv[3]))))
