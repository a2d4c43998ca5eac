"""Exact seeks, against PyAV's exact seek on the source (key frame, then decode forward, all cores).

PyAV's time ends with the decoded frame, the program's with the RGB picture handed over. Each of PyAV's seeks is
followed by the program's to the same frame, so that a busy machine slows both alike. CPU time is of all threads.
"""

from __future__ import annotations

import queue
import resource
import shutil
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import av
import numpy as np

from syncview.media.recording import Recording, open_recording
from syncview.media.scrub.pictures import ScrubPicture
from syncview.media.scrub.scrub_source import ScrubSource
from tests.bench.desk_clip import long_clip
from tests.media.scrub.shown import read_bars

SOURCE_SEEKS = 40
PROXY_SEEKS_EACH = 10
WAIT_S = 600.0


@dataclass(frozen=True, slots=True)
class Cost:
    """What one seek took."""

    wall_s: float
    work_s: float


class PlainSeek:
    """PyAV as its documentation has it, one container kept open."""

    def __init__(self, path: Path) -> None:
        self._container = av.open(str(path))
        self._stream = self._container.streams.video[0]
        self._stream.thread_type = "AUTO"

    def frame(self, pts: int) -> Cost:
        """Seek and decode up to the frame of that stamp."""
        wall_s, work_s = time.perf_counter(), time.process_time()
        self._container.seek(pts, stream=self._stream, backward=True)
        found = next(frame for frame in self._container.decode(self._stream) if frame.pts == pts)
        assert found.pts == pts
        return Cost(time.perf_counter() - wall_s, time.process_time() - work_s)

    def close(self) -> None:
        """Close the file."""
        self._container.close()


class Asking:
    """A source whose answers are timed."""

    def __init__(self, recording: Recording, folder: Path | None, *, memory_bytes: int) -> None:
        self.recording = recording
        self._came: queue.Queue[tuple[float, ScrubPicture]] = queue.Queue()
        self.source = ScrubSource(
            recording,
            on_picture=lambda picture: self._came.put((time.perf_counter(), picture)),
            on_fault=lambda fault: print("fault:", fault, flush=True),
            memory_bytes=memory_bytes,
            proxy_folder=folder,
        )

    def seek(self, number: int) -> tuple[float, Cost]:
        """Seconds to the first picture, and the cost up to the exact one; the frame shown is checked."""
        wall_s, work_s = time.perf_counter(), time.process_time()
        asked = self.source.ask(self.recording.frames.media_s(number))
        first_s: float | None = None
        while True:
            at_s, picture = self._came.get(timeout=WAIT_S)
            if picture.asked != asked:
                continue
            first_s = at_s - wall_s if first_s is None else first_s
            assert read_bars(picture.rgb) == picture.number
            if picture.is_exact:
                assert picture.number == number
                return first_s, Cost(at_s - wall_s, time.process_time() - work_s)


def run(folder: Path) -> None:
    """Print the table."""
    recording = open_recording(long_clip(folder))
    numbers = np.random.default_rng(3).integers(0, len(recording.frames), SOURCE_SEEKS).tolist()
    plain = PlainSeek(recording.path)
    _without_proxies(recording, plain, numbers)
    proxies = folder / "small"
    shutil.rmtree(proxies, ignore_errors=True)
    _building(recording, proxies)
    _with_proxies(recording, plain, numbers, proxies)
    plain.close()


def _without_proxies(recording: Recording, plain: PlainSeek, numbers: list[int]) -> None:
    own = Asking(recording, None, memory_bytes=0)
    base, first_s, exact = [], [], []
    for number in numbers:
        base.append(plain.frame(int(recording.frames.pts[number])))
        first, cost = own.seek(number)
        first_s.append(first)
        exact.append(cost)
    own.source.close()
    print(f"PyAV exact seek: median {_ms([c.wall_s for c in base])}, p95 {_ms([c.wall_s for c in base], 95)}")
    pairs = list(zip(base, first_s, exact, strict=True))
    print(f"no proxy, first picture: median {_ms(first_s)}, p95 {_ms(first_s, 95)}")
    print(f"    to PyAV: medians {median(first_s) / median(c.wall_s for c in base):.3f} (goal 0.1)")
    wall = [c.wall_s for c in exact]
    print(f"no proxy, exact frame: median {_ms(wall)}, p95 {_ms(wall, 95)}")
    print(
        f"    to PyAV: medians {median(wall) / median(c.wall_s for c in base):.2f}, paired"
        f" {median(e.wall_s / b.wall_s for b, _, e in pairs):.2f}, paired CPU (first picture included)"
        f" {median(e.work_s / b.work_s for b, _, e in pairs):.2f} (goal 0.5)",
        flush=True,
    )


def _building(recording: Recording, proxies: Path) -> None:
    wall_s, work_s = time.perf_counter(), _children_s()
    own = Asking(recording, proxies, memory_bytes=0)
    while own.source.proxy_share < 1 and time.perf_counter() - wall_s < WAIT_S:
        time.sleep(0.1)
    wall_s = time.perf_counter() - wall_s
    share = own.source.proxy_share
    own.source.close()
    work_s = _children_s() - work_s
    decode_s = time.process_time()
    with av.open(str(recording.path)) as container:
        container.streams.video[0].thread_type = "AUTO"
        count = sum(1 for _frame, _ in zip(container.decode(video=0), range(600), strict=False))
    decode_s = (time.process_time() - decode_s) / count * len(recording.frames)
    size = sum(path.stat().st_size for path in proxies.rglob("*.small"))
    length_s = float(recording.frames.end_s) * share
    print(
        f"proxies of {share:.0%}: {length_s / wall_s:.2f} x realtime, CPU to decoding alone"
        f" {work_s / (decode_s * share):.2f}, {size / length_s * 60 / 1e6:.0f} MB a minute,"
        f" {size / (recording.size_bytes * share):.2f} of the source",
        flush=True,
    )


def _with_proxies(recording: Recording, plain: PlainSeek, numbers: list[int], proxies: Path) -> None:
    own = Asking(recording, proxies, memory_bytes=0)
    while own.source.proxy_share < 1:
        time.sleep(0.05)
    base, exact = [], []
    draw = np.random.default_rng(4)
    for number in numbers:
        base.append(plain.frame(int(recording.frames.pts[number])))
        exact += [own.seek(int(n))[1] for n in draw.integers(0, len(recording.frames), PROXY_SEEKS_EACH)]
    own.source.close()
    wall = [c.wall_s for c in exact]
    theirs = [c.wall_s for c in base]
    print(f"PyAV exact seek: median {_ms(theirs)}, p95 {_ms(theirs, 95)}")
    print(f"proxy, exact picture: median {_ms(wall)}, p95 {_ms(wall, 95)}")
    print(
        f"    to PyAV: medians 1/{median(theirs) / median(wall):.0f}, p95 to its median"
        f" 1/{median(theirs) / np.percentile(wall, 95):.0f}, p95 to its p95"
        f" 1/{np.percentile(theirs, 95) / np.percentile(wall, 95):.0f}, CPU means"
        f" 1/{np.mean([c.work_s for c in base]) / np.mean([c.work_s for c in exact]):.0f} (goal 1/100)",
        flush=True,
    )


def _ms(seconds: list[float], percentile: float = 50) -> str:
    return f"{np.percentile(seconds, percentile) * 1000:.1f} ms"


def _children_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
