"""Pictures decoded ahead of a clock that runs elsewhere (sound or the display's)."""

from __future__ import annotations

import threading
from bisect import bisect_left
from collections import deque
from collections.abc import Callable, Generator
from fractions import Fraction
from typing import TYPE_CHECKING

import av

from syncview.errors import SyncviewError
from syncview.media.scrub.media_fault import fault_of
from syncview.media.scrub.picture_ring import KeptPicture
from syncview.media.scrub.pictures import PictureMaker, ScrubPicture
from syncview.media.scrub.proxy_reader import ProxyReader
from syncview.media.scrub.source_decoder import SourceDecoder

if TYPE_CHECKING:
    from collections.abc import Iterator

    from av.video.frame import VideoFrame

    from syncview.media.recording import Recording
    from syncview.media.scrub.picture_ring import PictureRing
    from syncview.media.scrub.proxy_builder import ProxyBuilder

SHOWN_RATE = 60
"""Pictures a second that a display takes; more are passed over at high speeds."""
_EARLY_S = 0.25 / SHOWN_RATE
"""A frame that comes so much earlier than the display's next turn is shown in it."""
_AHEAD_S = 0.5
_MOST_AHEAD, _MOST_AHEAD_FULL = 48, 12


class Playing:
    """Pictures in order from a frame on; `stop` ends its thread. Made by `ScrubSource.play`."""

    def __init__(
        self,
        recording: Recording,
        *,
        begin: int,
        speed: float,
        full: bool,
        ring: PictureRing,
        builder: ProxyBuilder | None,
        on_fault: Callable[[SyncviewError], None],
    ) -> None:
        if speed <= 0:
            raise ValueError(f"speed {speed} does not run forward")
        self._recording = recording
        self._full = full
        self._ring = ring
        self._builder = builder
        self._on_fault = on_fault
        self._step_s = speed / SHOWN_RATE
        rate = float(recording.nominal_rate)
        most = _MOST_AHEAD_FULL if full else _MOST_AHEAD
        self._most = max(4, min(round(min(rate * speed, SHOWN_RATE) * _AHEAD_S), most))
        self._maker = PictureMaker(recording)
        self._changed = threading.Condition()
        self._ready: deque[tuple[int, KeptPicture | VideoFrame]] = deque()
        self._clock = begin
        self._is_stopping = False
        self._is_at_end = False
        self._thread = threading.Thread(target=self._run, args=(begin,), name="scrub playing")
        self._thread.start()

    def picture(self, media_s: Fraction) -> ScrubPicture | None:
        """The newest decoded picture due at `media_s`; None when there is none newer than the one given last."""
        frames = self._recording.frames
        last = len(frames) - 1
        number = last if media_s >= frames.end_s else frames.index_at(max(media_s, Fraction(0)))
        with self._changed:
            self._clock = max(self._clock, number)
            due: tuple[int, KeptPicture | VideoFrame] | None = None
            while self._ready and self._ready[0][0] <= number:
                due = self._ready.popleft()
            self._changed.notify_all()
        return None if due is None else self._made(*due, number, media_s)

    @property
    def ready_count(self) -> int:
        """Pictures decoded ahead: begin the clock once there are a few."""
        return len(self._ready)

    @property
    def is_filled(self) -> bool:
        """True when no more are decoded ahead until some are taken, or the end is reached."""
        return self._is_at_end or len(self._ready) >= self._most

    def stop(self) -> None:
        """End the thread and wait for it."""
        with self._changed:
            self._is_stopping = True
            self._changed.notify_all()
        self._thread.join()
        self._ready.clear()

    def _made(self, number: int, kept: KeptPicture | VideoFrame, due: int, media_s: Fraction) -> ScrubPicture:
        is_full = not isinstance(kept, KeptPicture)
        return ScrubPicture(
            number=number,
            media_s=self._recording.frames.media_s(number),
            rgb=self._maker.small_rgb(kept.small) if isinstance(kept, KeptPicture) else self._maker.full_rgb(kept),
            is_exact=number == due,
            is_proxy=isinstance(kept, KeptPicture) and kept.is_proxy,
            is_full=is_full,
            asked_s=media_s,
            asked=0,
        )

    def _run(self, begin: int) -> None:
        decoder = SourceDecoder(self._recording)
        reader = None if self._builder is None or self._full else ProxyReader(self._builder)
        try:
            for number, kept in self._pictures(begin, decoder, reader):
                if not self._push(number, kept):
                    break
        except (SyncviewError, av.FFmpegError, OSError) as error:
            self._on_fault(fault_of(self._recording, error))
        finally:
            self._is_at_end = True
            decoder.close()
            if reader is not None:
                reader.close()

    def _push(self, number: int, kept: KeptPicture | VideoFrame) -> bool:
        with self._changed:
            self._ready.append((number, kept))
            self._changed.wait_for(lambda: self._is_stopping or len(self._ready) < self._most)
            return not self._is_stopping

    def _pictures(
        self, begin: int, decoder: SourceDecoder, reader: ProxyReader | None
    ) -> Iterator[tuple[int, KeptPicture | VideoFrame]]:
        maker = PictureMaker(self._recording)
        number: int | None = begin
        while number is not None and not self._is_stopping:
            kept = None if self._full else self._stored(number, reader)
            if kept is not None:
                yield number, kept
                number = self._after(number)
                continue
            number = yield from self._decoded(number, decoder, maker)

    def _stored(self, number: int, reader: ProxyReader | None) -> KeptPicture | None:
        kept = self._ring.get(number)
        if kept is None and reader is not None and (small := reader.picture(number)) is not None:
            kept = KeptPicture(small, is_proxy=True)
        return kept

    def _decoded(
        self, number: int, decoder: SourceDecoder, maker: PictureMaker
    ) -> Generator[tuple[int, KeptPicture | VideoFrame], None, int | None]:
        """Pictures from the recording until small ones are on disk; gives the next number, None at the end."""
        wanted: int | None = number
        for place, frame in decoder.frames_from(number, stop=lambda: self._is_stopping):
            if wanted is None or place < wanted:
                continue
            if self._full:
                yield place, frame
            else:
                kept = KeptPicture(maker.small(frame), is_proxy=False)
                self._ring.put(place, kept)
                yield place, kept
            after = self._after(place)
            if after is None or self._is_made(after) or after > place + 8:
                return after
            wanted = after
        return None

    def _is_made(self, number: int) -> bool:
        return not self._full and self._builder is not None and self._builder.has_frame(number)

    def _after(self, number: int) -> int | None:
        """The next frame to show: at high speeds and when decoding is late some are passed over."""
        times_s = self._recording.frames.times_s
        due = bisect_left(times_s, times_s[number] + self._step_s - _EARLY_S)
        after = max(number + 1, due, min(self._clock, len(times_s) - 1))
        return after if after < len(times_s) else None
