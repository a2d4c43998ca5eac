"""The recording's sound for playing at a speed: read and stretched in a thread, a little ahead of what is heard."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import av
import numpy as np

from syncview.errors import SyncviewError
from syncview.media.scrub.media_fault import fault_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from syncview.desk.picture.play_run import PlayRun
    from syncview.media.recording import Recording

AHEAD_S = 0.6
_ENDLESS = 1 << 60


@dataclass(frozen=True, slots=True)
class SoundForm:
    """How a sound card takes samples."""

    rate_hz: int
    is_float: bool
    """32-bit float; else 16-bit integers."""
    channels: int = 2

    @property
    def frame_bytes(self) -> int:
        """Bytes of one sample of all channels."""
        return self.channels * (4 if self.is_float else 2)


class PlayedSound:
    """Bytes for a sound card, in order, from the run's begin on. `close` ends its thread."""

    def __init__(
        self, recording: Recording, run: PlayRun, form: SoundForm, *, on_fault: Callable[[SyncviewError], None]
    ) -> None:
        self.form = form
        self._recording, self._run, self._on_fault = recording, run, on_fault
        self._most_bytes = round(AHEAD_S * form.rate_hz) * form.frame_bytes
        self._changed = threading.Condition()
        self._ready: deque[bytes] = deque()
        self._ready_bytes = 0
        self._is_closing = False
        self._is_made = False
        self._thread = threading.Thread(target=self._make, name="played sound")
        self._thread.start()

    def take(self, most_bytes: int) -> bytes:
        """Up to that many bytes, whole samples; fewer when they are not there yet."""
        most_bytes -= most_bytes % self.form.frame_bytes
        taken: list[bytes] = []
        with self._changed:
            while self._ready and most_bytes > 0:
                block = self._ready.popleft()
                if len(block) > most_bytes:
                    self._ready.appendleft(block[most_bytes:])
                    block = block[:most_bytes]
                taken.append(block)
                most_bytes -= len(block)
                self._ready_bytes -= len(block)
            self._changed.notify_all()
        return b"".join(taken)

    @property
    def is_ready(self) -> bool:
        """True when there is enough to begin with."""
        return self._is_made or self._ready_bytes >= self._most_bytes // 3

    @property
    def is_over(self) -> bool:
        """True when all has been taken."""
        return self._is_made and not self._ready

    def close(self) -> None:
        """End the thread and wait for it."""
        with self._changed:
            self._is_closing = True
            self._ready.clear()
            self._changed.notify_all()
        self._thread.join()

    def _make(self) -> None:
        try:
            for block in heard_blocks(self._recording, self._run, self.form.rate_hz):
                if not self._put(_packed(block, self.form)):
                    return
        except (SyncviewError, av.FFmpegError, OSError) as error:
            self._on_fault(fault_of(self._recording, error))  # the picture plays on without sound
        finally:
            self._is_made = True

    def _put(self, block: bytes) -> bool:
        with self._changed:
            self._ready.append(block)
            self._ready_bytes += len(block)
            self._changed.wait_for(lambda: self._is_closing or self._ready_bytes < self._most_bytes)
            return not self._is_closing


def heard_blocks(recording: Recording, run: PlayRun, rate_hz: int) -> Iterator[NDArray[np.float32]]:
    """Stereo blocks, shape (2, n), at `rate_hz`, stretched to the run's speed; the first sample is at its begin."""
    from syncview.media.tempo import LEAD_S, PRE_ROLL_S, stretched

    track = recording.audio
    if track is None:
        return
    pre_s, lead_s = (Fraction(0), Fraction(0)) if run.speed == 1 else (PRE_ROLL_S, LEAD_S)
    length_s = run.length_s
    yield from stretched(
        _source_blocks(recording, run, before_s=pre_s + lead_s),
        rate_hz=track.rate_hz,
        rate_out_hz=rate_hz,
        tempo=run.speed,
        skip=round(pre_s / run.speed * rate_hz),
        count=_ENDLESS if length_s is None else round(length_s * rate_hz),
    )


def _source_blocks(recording: Recording, run: PlayRun, *, before_s: Fraction) -> Iterator[NDArray[np.float32]]:
    from syncview.lesson.engine_sound import in_stereo
    from syncview.media.sound import read_sound
    from syncview.media.tempo import POST_ROLL_S

    for begin_s, end_s in run.stretches():
        after_s = POST_ROLL_S if run.length_s is not None else Fraction(0)
        for block in read_sound(recording, begin_s - before_s, end_s + after_s):
            yield in_stereo(block)
        before_s = Fraction(0)


def _packed(block: NDArray[np.float32], form: SoundForm) -> bytes:
    """Interleaved samples as the card takes them; only what is above full scale is cut."""
    samples = block.T if form.channels == 2 else block.mean(axis=0, dtype=np.float32)[:, np.newaxis]
    samples = np.clip(samples, -1.0, 1.0)
    if form.is_float:
        return np.ascontiguousarray(samples, dtype="<f4").tobytes()
    return np.ascontiguousarray(np.rint(samples * 32767), dtype="<i2").tobytes()
