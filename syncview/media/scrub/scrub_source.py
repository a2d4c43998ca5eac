"""Gives the picture of any moment at once, and the exact one as soon as it can be had."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

import av

from syncview.errors import MediaError, SyncviewError
from syncview.media.scrub.key_decoder import KeyDecoder
from syncview.media.scrub.media_fault import damaged_frame, fault_of
from syncview.media.scrub.picture_ring import KeptPicture, PictureRing
from syncview.media.scrub.pictures import PictureMaker, ScrubPicture
from syncview.media.scrub.playing import Playing
from syncview.media.scrub.proxy_builder import ProxyBuilder
from syncview.media.scrub.proxy_reader import ProxyReader
from syncview.media.scrub.source_decoder import SourceDecoder

if TYPE_CHECKING:
    from pathlib import Path

    import numpy as np
    from av.video.frame import VideoFrame
    from numpy.typing import NDArray

    from syncview.media.recording import Recording

MEMORY_BYTES = 256 << 20
PROXY_BYTES = 8 << 30
_AHEAD_S = 1.0
_NEAR_S = 2.0
"""A request this near to the one before tells the direction of a drag."""
Direction = Literal[-1, 0, 1]


@dataclass(frozen=True, slots=True)
class _Request:
    asked: int
    number: int
    asked_s: Fraction
    direction: int
    full: bool


@dataclass(frozen=True, slots=True)
class _Job:
    """Work of the slow thread for one request."""

    request: _Request
    wants_small: bool
    """The exact small picture is still owed."""


@dataclass(frozen=True, eq=False, slots=True)
class _Exact:
    """What the slow thread works with: two decoders, so that a look behind does not lose the place ahead."""

    maker: PictureMaker
    ahead: SourceDecoder
    behind: SourceDecoder

    def decoder_for(self, number: int, *, is_back: bool) -> SourceDecoder:
        """The one that is on its way to `number`, else the one for that direction."""
        first, second = (self.behind, self.ahead) if is_back else (self.ahead, self.behind)
        return second if second.can_go_on(number) and not first.can_go_on(number) else first

    def close(self) -> None:
        """Close the recording."""
        self.ahead.close()
        self.behind.close()


class ScrubSource:
    """Pictures of one recording for a playhead that moves; the newest request wins.

    `on_picture` is called from worker threads: for each request with a near picture where the exact one takes time,
    then with the exact one, then with the full one where it was asked for; never for a request that is not the newest
    any more (but a call may be under way while a new request comes in: compare `asked`). `on_fault` is called from
    worker threads with the project's errors; after one, further requests try again. Neither may wait for the thread
    that calls `close`.
    """

    def __init__(
        self,
        recording: Recording,
        *,
        on_picture: Callable[[ScrubPicture], None],
        on_fault: Callable[[SyncviewError], None],
        memory_bytes: int = MEMORY_BYTES,
        proxy_folder: Path | None = None,
        proxy_bytes: int = PROXY_BYTES,
    ) -> None:
        self._recording = recording
        self._on_picture = on_picture
        self._on_fault = on_fault
        self._ring = PictureRing(memory_bytes)
        self._builder = (
            None
            if proxy_folder is None
            else ProxyBuilder(recording, proxy_folder, proxy_bytes, on_fault=self._tell_fault)
        )
        self._changed = threading.Condition()
        self._delivering = threading.Lock()
        self._newest: _Request | None = None
        self._handled: _Request | None = None
        self._answered_exactly = 0
        self._job: _Job | None = None
        self._is_closing = False
        self._last_full: tuple[int, VideoFrame] | None = None
        self._here = PictureMaker(recording)
        self._here_lock = threading.Lock()
        self._full_lock = threading.Lock()
        self._full_decoder = SourceDecoder(recording)
        self._playing: Playing | None = None
        self._last_fault: str | None = None
        self._threads = [
            threading.Thread(target=self._answer_quickly, name="scrub pictures"),
            threading.Thread(target=self._answer_exactly, name="scrub exact"),
        ]
        for thread in self._threads:
            thread.start()
        if self._builder is not None:
            self._builder.start()

    # What the window calls.

    def frame_at(self, media_s: Fraction) -> int:
        """Number of the frame on screen at `media_s`; the first before the begin, the last from the end on."""
        frames = self._recording.frames
        if media_s < 0:
            return 0
        return len(frames) - 1 if media_s >= frames.end_s else frames.index_at(media_s)

    def ask(self, media_s: Fraction, *, direction: int = 0, full: bool = False) -> int:
        """Want the picture at `media_s`; returns the request's number, which its pictures carry.

        `direction` is -1, 0 or 1: where the playhead is dragged to, for reading ahead (0: from the last requests).
        With `full` a picture of the recording's own size follows the small one.
        """
        number = self.frame_at(media_s)
        with self._changed:
            last = self._newest
            self._newest = _Request(
                asked=1 if last is None else last.asked + 1,
                number=number,
                asked_s=media_s,
                direction=direction or self._direction(last, number),
                full=full,
            )
            if self._job is not None and (self._job.wants_small or self._job.request.full):
                self._job = None  # the running decode stops before its next packet
            self._changed.notify_all()
            return self._newest.asked

    def picture_now(self, media_s: Fraction) -> ScrubPicture | None:
        """The exact small picture if it is in memory; takes a fraction of a millisecond."""
        number = self.frame_at(media_s)
        kept = self._ring.get(number)
        if kept is None:
            return None
        with self._here_lock:
            return self._made(self._here, number, kept, _Request(0, number, media_s, 0, full=False))

    def full_picture(self, number: int) -> NDArray[np.uint8]:
        """Frame `number` in the recording's display size, exact, shape (rows, columns, 3); waits for the decoder.

        IndexError outside; MediaError when it is damaged, the file cannot be read, or the source is closed.
        """
        self._recording.frames.media_s(number)  # raises IndexError
        last = self._last_full
        with self._full_lock:
            if last is not None and last[0] == number:
                frame: VideoFrame | None = last[1]
            else:
                frame = self._decode_one(self._full_decoder, number)
            if frame is None:
                raise damaged_frame(self._recording, number)
            return PictureMaker(self._recording).full_rgb(frame)

    def play(self, begin_s: Fraction, *, speed: float = 1.0, full: bool = False) -> Playing:
        """Decode ahead from `begin_s` on for playing at `speed`; an earlier playing is stopped."""
        self.stop()
        self._playing = Playing(
            self._recording,
            begin=self.frame_at(begin_s),
            speed=speed,
            full=full,
            ring=self._ring,
            builder=self._builder,
            on_fault=self._tell_fault,
        )
        return self._playing

    def stop(self) -> None:
        """Stop playing."""
        if self._playing is not None:
            self._playing.stop()
            self._playing = None

    @property
    def memory_used_bytes(self) -> int:
        """Memory of the pictures kept."""
        return self._ring.used_bytes

    @property
    def proxy_share(self) -> float:
        """How much of the recording has small pictures on disk, 0 to 1."""
        return 0.0 if self._builder is None else self._builder.share

    def close(self) -> None:
        """Stop all work and wait for its threads and its process; a second call does nothing."""
        self.stop()
        with self._changed:
            self._is_closing = True
            self._job = None
            self._changed.notify_all()
        for thread in self._threads:
            thread.join()
        if self._builder is not None:
            self._builder.close()
        with self._full_lock:
            self._full_decoder.close()
        self._ring.clear()
        self._last_full = None

    # The quick thread: memory, small pictures on disk, key frames.

    def _answer_quickly(self) -> None:
        maker = PictureMaker(self._recording)
        reader = None if self._builder is None else ProxyReader(self._builder)
        keys = KeyDecoder(self._recording)
        try:
            while (request := self._next_request()) is not None:
                self._answer(request, maker, reader, keys)
        finally:
            keys.close()
            if reader is not None:
                reader.close()

    def _next_request(self) -> _Request | None:
        with self._changed:
            self._changed.wait_for(lambda: self._is_closing or self._newest is not self._handled)
            if self._is_closing:
                return None
            self._handled = self._newest
            return self._newest

    def _answer(self, request: _Request, maker: PictureMaker, reader: ProxyReader | None, keys: KeyDecoder) -> None:
        number = request.number
        kept = self._ring.get(number)
        if kept is None and reader is not None and (small := reader.picture(number)) is not None:
            kept = KeptPicture(small, is_proxy=True)
            self._ring.put(number, kept)
        if kept is not None:
            self._deliver(self._made(maker, number, kept, request))
        self._give_job(request, wants_small=kept is None)
        if kept is None:
            self._deliver_near(request, maker, reader, keys)
        if self._builder is not None:
            self._builder.near(number)

    def _deliver_near(
        self, request: _Request, maker: PictureMaker, reader: ProxyReader | None, keys: KeyDecoder
    ) -> None:
        """A picture from nearby, at best the key frame's, while the exact one is decoded."""
        number = request.number
        key = self._recording.frames.key_before(number)
        near = self._ring.nearest(number, begin=key or 0, end=2 * number - (key or 0) + 1)
        found: tuple[int, KeptPicture] | None = None
        if near is not None and (kept := self._ring.get(near)) is not None:
            found = near, kept
        elif reader is not None and (stored := reader.key_picture(number)) is not None:
            found = stored[0], KeptPicture(stored[1], is_proxy=True)
        elif key is not None and (frame := self._key_frame(keys, key)) is not None:
            found = key, KeptPicture(maker.small(frame), is_proxy=False)
        if found is not None:
            self._ring.put(*found)
            self._deliver(self._made(maker, *found, request))

    def _key_frame(self, keys: KeyDecoder, key: int) -> VideoFrame | None:
        try:
            return keys.frame(key)
        except (SyncviewError, av.FFmpegError, OSError) as error:
            keys.close()
            self._tell_fault(fault_of(self._recording, error))
            return None

    # The slow thread: exact frames from the recording, and reading ahead.

    def _give_job(self, request: _Request, *, wants_small: bool) -> None:
        with self._changed:
            if self._newest is not request:
                return
            if wants_small or request.full:
                self._job = _Job(request, wants_small)
            elif self._job is None or not self._is_on_the_way(self._job.request, request):
                self._job = _Job(request, wants_small=False)
            else:
                return
            self._changed.notify_all()

    def _is_on_the_way(self, running: _Request, request: _Request) -> bool:
        """True when the reading ahead for `running` also serves `request`."""
        reach = self._ahead_count()
        gone = request.number - running.number
        return running.direction == request.direction and abs(gone) <= reach // 2 and gone * running.direction >= 0

    def _answer_exactly(self) -> None:
        worker = _Exact(PictureMaker(self._recording), SourceDecoder(self._recording), SourceDecoder(self._recording))
        try:
            while (job := self._next_job()) is not None:
                try:
                    self._do(job, worker)
                except (SyncviewError, av.FFmpegError, OSError) as error:
                    worker.close()
                    self._end_job(job)
                    self._tell_fault(fault_of(self._recording, error))
        finally:
            worker.close()

    def _next_job(self) -> _Job | None:
        with self._changed:
            self._changed.wait_for(lambda: self._is_closing or self._job is not None)
            return None if self._is_closing else self._job

    def _end_job(self, job: _Job) -> None:
        with self._changed:
            if self._job is job:
                self._job = None

    def _do(self, job: _Job, worker: _Exact) -> None:
        """The exact pictures that are owed, then reading ahead, which only a request elsewhere stops."""
        if job.wants_small or job.request.full:
            self._decode_exact(job, worker)
            with self._changed:
                if self._job is job:
                    self._job = _Job(_without_full(job.request), wants_small=False)
            return
        for begin, end in self._ahead_spans(job.request):
            self._read_ahead(job, begin, end, worker)
        self._end_job(job)

    def _decode_exact(self, job: _Job, worker: _Exact) -> None:
        request = job.request
        number = request.number
        wants_small = job.wants_small and not self._came_meanwhile(request, worker)
        if self._last_full is None or self._last_full[0] != number:
            if not (wants_small or request.full):
                return
            if not self._decoded_to(job, worker):
                if self._job is job:
                    self._tell_fault(damaged_frame(self._recording, number))
                return
        assert self._last_full is not None  # `_decoded_to` keeps it
        frame = self._last_full[1]
        if wants_small:
            kept = KeptPicture(worker.maker.small(frame), is_proxy=False)
            self._ring.put(number, kept)
            self._deliver(self._made(worker.maker, number, kept, request))
        if request.full:
            self._deliver(self._made_full(worker.maker, number, frame, request))

    def _came_meanwhile(self, request: _Request, worker: _Exact) -> bool:
        """True when reading ahead had the picture while it was asked for; it is handed over."""
        kept = self._ring.get(request.number)
        if kept is None:
            return False
        self._deliver(self._made(worker.maker, request.number, kept, request))
        return True

    def _decoded_to(self, job: _Job, worker: _Exact) -> bool:
        """Decode the frame that `job` wants and keep it; False when that was stopped or the frame is damaged."""
        number = job.request.number
        is_back = job.request.direction < 0 and job.wants_small
        begin = self._begin_before(number) if is_back else number
        decoder = worker.decoder_for(begin, is_back=is_back)
        for place, frame in decoder.frames_from(begin, stop=lambda: self._job is not job):
            if place == number:
                self._last_full = (number, frame)
            if place >= number:
                return place == number
            self._ring.put(place, KeptPicture(worker.maker.small(frame), is_proxy=False))
        return False

    def _begin_before(self, number: int) -> int:
        """Where to begin for a drag backwards: all from here on is kept on the way to `number`."""
        key = self._recording.frames.key_before(number) or 0
        return max(key, number - self._ahead_count(), 0)

    def _ahead_count(self) -> int:
        """How many frames are read ahead: a second's worth, but not more than a quarter of the memory."""
        size = self._here.small_width * self._here.small_height * 3 // 2
        rate = float(self._recording.nominal_rate)
        return max(0, min(round(rate * _AHEAD_S), self._ring.budget_bytes // (4 * size)))

    def _ahead_spans(self, request: _Request) -> list[tuple[int, int]]:
        """Spans begin <= n < end that the next requests will probably want."""
        number, ahead = request.number, self._ahead_count()
        forward = (number + 1, number + 1 + ahead)
        behind = (number - ahead, number)
        short = ahead // 4
        if request.direction > 0:
            return [forward]
        if request.direction < 0:
            return [behind]
        return [(number + 1, number + 1 + short), (number - short, number)]

    def _read_ahead(self, job: _Job, begin: int, end: int, worker: _Exact) -> None:
        is_back = end <= job.request.number
        begin, end = max(begin, 0), min(end, len(self._recording.frames))
        missing = [n for n in range(begin, end) if not self._is_there(n)]
        if not missing or (is_back and missing[-1] < (begin + end) // 2):
            return  # going back means decoding from a key frame again: many frames at a time
        decoder = worker.decoder_for(missing[0], is_back=is_back)
        for place, frame in decoder.frames_from(missing[0], stop=lambda: self._job is not job):
            if place <= missing[-1]:
                self._ring.put(place, KeptPicture(worker.maker.small(frame), is_proxy=False))
            if place >= missing[-1]:
                return

    def _is_there(self, number: int) -> bool:
        if self._ring.has(number):
            return True
        return self._builder is not None and self._builder.is_made(self._builder.plan.chunk_of(number).name)

    # Both threads.

    def _direction(self, last: _Request | None, number: int) -> int:
        if last is None or last.number == number:
            return 0 if last is None else last.direction
        times_s = self._recording.frames.times_s
        if abs(times_s[number] - times_s[last.number]) > _NEAR_S:
            return 0
        return 1 if number > last.number else -1

    def _made(self, maker: PictureMaker, number: int, kept: KeptPicture, request: _Request) -> ScrubPicture:
        rgb = maker.small_rgb(kept.small)
        return self._picture(number, rgb, request, is_proxy=kept.is_proxy, is_full=False)

    def _made_full(self, maker: PictureMaker, number: int, frame: VideoFrame, request: _Request) -> ScrubPicture:
        return self._picture(number, maker.full_rgb(frame), request, is_proxy=False, is_full=True)

    def _picture(
        self, number: int, rgb: NDArray[np.uint8], request: _Request, *, is_proxy: bool, is_full: bool
    ) -> ScrubPicture:
        return ScrubPicture(
            number=number,
            media_s=self._recording.frames.media_s(number),
            rgb=rgb,
            is_exact=number == request.number,
            is_proxy=is_proxy,
            is_full=is_full,
            asked_s=request.asked_s,
            asked=request.asked,
        )

    def _deliver(self, picture: ScrubPicture) -> None:
        """Hand over, unless a newer request came or a better picture went out already."""
        with self._delivering:
            with self._changed:
                if self._is_closing or self._newest is None or self._newest.asked != picture.asked:
                    return
                if not picture.is_exact and self._answered_exactly == picture.asked:
                    return
                if picture.is_exact:
                    self._answered_exactly = picture.asked
                    self._last_fault = None
            self._on_picture(picture)

    def _tell_fault(self, fault: SyncviewError) -> None:
        """Hand over a fault, the same one once until a picture could be had again."""
        with self._changed:
            if self._is_closing or self._last_fault == str(fault):
                return
            self._last_fault = str(fault)
        self._on_fault(fault)

    def _decode_one(self, decoder: SourceDecoder, number: int) -> VideoFrame | None:
        if self._is_closing:
            raise MediaError("the recording is being closed", "Open it again.", where=self._recording.path)
        try:
            for place, frame in decoder.frames_from(number, stop=lambda: self._is_closing):
                return frame if place == number else None
        except (SyncviewError, av.FFmpegError, OSError) as error:
            decoder.close()
            raise fault_of(self._recording, error) from error
        return None


def _without_full(request: _Request) -> _Request:
    return _Request(request.asked, request.number, request.asked_s, request.direction, full=False)
