"""Ten seconds of dragging the playhead, 60 events a second: how soon each is answered, and what stays at the end."""

from __future__ import annotations

import resource
import shutil
import threading
import time
from pathlib import Path

import numpy as np

from syncview.media.recording import Recording, open_recording
from syncview.media.scrub.pictures import ScrubPicture
from syncview.media.scrub.scrub_source import ScrubSource
from tests.bench.desk_clip import long_clip
from tests.media.scrub.shown import read_bars

EVENTS, RATE_HZ = 600, 60
FRAME_S = 1 / 60
MEMORY_BYTES = 128 << 20
REST_S = 30.0


def run(folder: Path) -> None:
    """Print a line for each state of the small pictures on disk, and each way of dragging."""
    recording = open_recording(long_clip(folder))
    proxies, fresh = folder / "small", folder / "fresh"
    states: tuple[tuple[str, Path | None, float], ...] = (
        ("no folder", None, 0.0),
        ("opened now", fresh, 0.0),
        ("opened 5 s ago", fresh, 5.0),
        ("all made", proxies, 0.0),
    )
    for what, place, after_s in states:
        for how, numbers in (("slow", _slow(recording)), ("wide", _wide(recording))):
            shutil.rmtree(fresh, ignore_errors=True)
            _drag(f"{what}, {how} drag", recording, place, numbers, after_s=after_s)
    shutil.rmtree(fresh, ignore_errors=True)


def _slow(recording: Recording) -> list[int]:
    """Forward and back over a corner at about real time."""
    middle = len(recording.frames) // 3
    return [middle + round(300 * np.sin(2 * np.pi * event / EVENTS)) for event in range(EVENTS)]


def _wide(recording: Recording) -> list[int]:
    """Over the whole recording and back."""
    last = len(recording.frames) - 1
    return [round(last * (0.5 - 0.5 * np.cos(2 * np.pi * event / EVENTS * 1.3))) for event in range(EVENTS)]


class _Hand:
    """Drags, and sees what comes."""

    def __init__(self, recording: Recording, folder: Path | None) -> None:
        self._recording = recording
        self._asked_at_s: dict[int, float] = {}
        self.waited_s: dict[int, float] = {}
        self.exact: set[int] = set()
        self.newest = 0
        self.last: ScrubPicture | None = None
        self.is_released = False
        self.stale_after_release = 0
        self.done = threading.Event()
        self.source = ScrubSource(
            recording,
            on_picture=self._take,
            on_fault=lambda fault: print("fault:", fault, flush=True),
            memory_bytes=MEMORY_BYTES,
            proxy_folder=folder,
        )

    def ask(self, number: int) -> None:
        """One event."""
        at_s = time.perf_counter()
        self.newest = self.source.ask(self._recording.frames.media_s(number))
        self._asked_at_s[self.newest] = at_s

    def release(self) -> None:
        """From now on only answers to the last event may come."""
        self.is_released = True
        if self.last is not None and self.last.asked == self.newest and self.last.is_exact:
            self.done.set()

    def _take(self, picture: ScrubPicture) -> None:
        now_s = time.perf_counter()
        while picture.asked not in self._asked_at_s:
            time.sleep(0.0001)  # `ask` has not come back yet
        self.waited_s.setdefault(picture.asked, now_s - self._asked_at_s[picture.asked])
        self.last = picture
        if picture.is_exact:
            self.exact.add(picture.asked)
        if self.is_released:
            self.stale_after_release += picture.asked != self.newest
            if picture.is_exact and picture.asked == self.newest:
                self.done.set()


def _drag(what: str, recording: Recording, folder: Path | None, numbers: list[int], *, after_s: float) -> None:
    hand = _Hand(recording, folder)
    time.sleep(after_s)
    if folder is not None and folder.name == "small":
        while hand.source.proxy_share < 1:
            time.sleep(0.05)
    most_bytes, work_s, begin_s = 0, time.process_time(), time.perf_counter()
    for event, number in enumerate(numbers):
        time.sleep(max(0.0, begin_s + event / RATE_HZ - time.perf_counter()))
        hand.ask(number)
        most_bytes = max(most_bytes, hand.source.memory_used_bytes)
    released_s = time.perf_counter()
    hand.release()
    settled = hand.done.wait(REST_S)
    rest_s, work_s = time.perf_counter() - released_s, time.process_time() - work_s
    time.sleep(0.3)
    hand.source.close()
    last = hand.last
    assert settled
    assert last is not None
    assert last.number == numbers[-1] == read_bars(last.rgb)
    assert most_bytes <= MEMORY_BYTES
    waits = [hand.waited_s.get(asked, np.inf) for asked in range(1, EVENTS + 1)]
    share = np.mean([wait <= FRAME_S for wait in waits])
    print(
        f"{what:26s} within a frame {share:6.1%} (goal 95 %), median {np.median(waits) * 1000:5.1f} ms,"
        f" exact {len(hand.exact) / EVENTS:6.1%}, no picture {np.isinf(waits).sum():3d},"
        f" stale after release {hand.stale_after_release}, exact after {rest_s * 1000:.0f} ms,"
        f" {most_bytes / 1e6:.0f} MB in memory, CPU {work_s:.1f} s,"
        f" peak of the process {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB",
        flush=True,
    )
