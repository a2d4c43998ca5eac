"""Decodes exact frames from the recording itself, and reads ahead while nothing is owed."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import av

from syncview.errors import SyncviewError
from syncview.media.scrub.media_fault import damaged_frame, fault_of
from syncview.media.scrub.picture_ring import KeptPicture, PictureRing
from syncview.media.scrub.pictures import PictureMaker
from syncview.media.scrub.source_decoder import SourceDecoder

if TYPE_CHECKING:
    from av.video.frame import VideoFrame

    from syncview.media.scrub.answers import Answers, Request
    from syncview.media.scrub.proxy_builder import ProxyBuilder

_AHEAD_S = 1.0
"""So much is read ahead in the direction of a drag."""
_HASTE_S = 0.04
"""So long the hand must rest in a wide drag before the exact frame is decoded."""


@dataclass(frozen=True, eq=False, slots=True)
class _Job:
    """Work for one request."""

    request: Request
    wants_small: bool
    """The exact small picture is still owed."""

    @property
    def is_owed(self) -> bool:
        """False when there is only reading ahead to do."""
        return self.wants_small or self.request.full


class ExactWorker:
    """The slow thread. Two decoders, so that a look behind does not lose the place ahead."""

    def __init__(self, answers: Answers, ring: PictureRing, builder: ProxyBuilder | None) -> None:
        self._answers = answers
        self._recording = answers.recording
        self._ring = ring
        self._builder = builder
        self._job: _Job | None = None
        self._last_full: tuple[int, VideoFrame] | None = None
        self._maker = PictureMaker(answers.recording)
        self._ahead = SourceDecoder(answers.recording)
        self._behind = SourceDecoder(answers.recording)
        self._thread = threading.Thread(target=self._run, name="scrub exact")

    def start(self) -> None:
        """Begin to wait for work."""
        self._thread.start()

    def join(self) -> None:
        """Wait for the end, after `Answers.close`."""
        self._thread.join()
        self._last_full = None

    def last_full(self, number: int) -> VideoFrame | None:
        """Frame `number` if it is the one decoded last."""
        last = self._last_full
        return last[1] if last is not None and last[0] == number else None

    def give_up_owed(self) -> None:
        """A newer request came: a running decode stops before its next packet. `Answers.changed` is held."""
        if self._job is not None and self._job.is_owed:
            self._job = None

    def give(self, request: Request, *, wants_small: bool) -> None:
        """Work for a request that the quick worker has seen, unless a newer one came meanwhile."""
        with self._answers.changed:
            if self._answers.newest is not request:
                return
            job = _Job(request, wants_small)
            if not job.is_owed and self._job is not None and self._is_on_the_way(self._job.request, request):
                return
            self._job = job
            self._answers.changed.notify_all()

    def _is_on_the_way(self, running: Request, request: Request) -> bool:
        """True when the reading ahead for `running` also serves `request`."""
        gone = request.number - running.number
        is_near = abs(gone) <= self._ahead_count() // 2 and gone * running.direction >= 0
        return is_near and running.direction == request.direction

    def _run(self) -> None:
        try:
            while (job := self._next_job()) is not None:
                try:
                    self._do(job)
                except (SyncviewError, av.FFmpegError, OSError) as error:
                    self._close_decoders()
                    self._end(job, then=None)
                    self._answers.tell_fault(fault_of(self._recording, error))
        finally:
            self._close_decoders()

    def _close_decoders(self) -> None:
        self._ahead.close()
        self._behind.close()

    def _next_job(self) -> _Job | None:
        answers = self._answers
        with answers.changed:
            answers.changed.wait_for(lambda: answers.is_closing or self._job is not None)
            return None if answers.is_closing else self._job

    def _end(self, job: _Job, *, then: _Job | None) -> None:
        with self._answers.changed:
            if self._job is job:
                self._job = then

    def _is_over(self, job: _Job) -> bool:
        return self._job is not job or self._answers.is_closing

    def _is_replaced_soon(self, job: _Job) -> bool:
        with self._answers.changed:
            return self._answers.changed.wait_for(lambda: self._is_over(job), _HASTE_S)

    def _do(self, job: _Job) -> None:
        if job.is_owed:
            if job.request.is_hasty and self._is_replaced_soon(job):
                return  # what a wide drag runs over would be decoded in vain, and slow the near pictures down
            self._answer(job)
            self._end(job, then=_Job(replace(job.request, full=False), wants_small=False))
            return
        for begin, end in self._spans_ahead(job.request):
            self._read_ahead(job, begin, end)
        self._end(job, then=None)

    def _answer(self, job: _Job) -> None:
        request, number = job.request, job.request.number
        kept = self._ring.get(number) if job.wants_small else None
        if kept is not None:  # read ahead while it was asked for
            self._answers.deliver_small(self._maker, number, kept, request)
            if not request.full:
                return
        if self.last_full(number) is None and not self._decode(job):
            if not self._is_over(job):
                self._answers.tell_fault(damaged_frame(self._recording, number))
            return
        frame = self.last_full(number)
        assert frame is not None  # `_decode` keeps it
        if job.wants_small and kept is None:
            kept = KeptPicture(self._maker.small(frame), is_proxy=False)
            self._ring.put(number, kept)
            self._answers.deliver_small(self._maker, number, kept, request)
        if request.full:
            self._answers.deliver_full(self._maker, number, frame, request)

    def _decode(self, job: _Job) -> bool:
        """Decode the frame of `job` and keep it; False when that was stopped or the frame is damaged."""
        number = job.request.number
        is_back = job.request.direction < 0 and job.wants_small
        begin = self._begin_before(number) if is_back else number
        decoder = self._decoder_for(begin, is_back=is_back)
        for place, frame in decoder.frames_from(begin, stop=lambda: self._is_over(job)):
            if place == number:
                self._last_full = (number, frame)
            if place >= number:
                return place == number
            self._ring.put(place, KeptPicture(self._maker.small(frame), is_proxy=False))
        return False

    def _begin_before(self, number: int) -> int:
        """Where to begin for a drag backwards: all from here on is kept on the way to `number`."""
        key = self._recording.frames.key_before(number) or 0
        return max(key, number - self._ahead_count(), 0)

    def _decoder_for(self, number: int, *, is_back: bool) -> SourceDecoder:
        """The one that is on its way to `number`, else the one for that direction."""
        first, second = (self._behind, self._ahead) if is_back else (self._ahead, self._behind)
        return second if second.can_go_on(number) and not first.can_go_on(number) else first

    def _ahead_count(self) -> int:
        """How many frames are read ahead: a second's worth, but not more than a quarter of the memory."""
        size = self._maker.small_width * self._maker.small_height * 3 // 2
        rate = float(self._recording.nominal_rate)
        return max(0, min(round(rate * _AHEAD_S), self._ring.budget_bytes // (4 * size)))

    def _spans_ahead(self, request: Request) -> list[tuple[int, int]]:
        """Spans begin <= n < end that the next requests will probably want."""
        number, ahead = request.number, self._ahead_count()
        if request.direction > 0:
            return [(number + 1, number + 1 + ahead)]
        if request.direction < 0:
            return [(number - ahead, number)]
        return [(number + 1, number + 1 + ahead // 4), (number - ahead // 4, number)]

    def _read_ahead(self, job: _Job, begin: int, end: int) -> None:
        is_back = end <= job.request.number
        begin, end = max(begin, 0), min(end, len(self._recording.frames))
        missing = [n for n in range(begin, end) if not self._is_there(n)]
        if not missing or (is_back and missing[-1] < (begin + end) // 2):
            return  # going back means decoding from a key frame again: many frames at a time
        decoder = self._decoder_for(missing[0], is_back=is_back)
        for place, frame in decoder.frames_from(missing[0], stop=lambda: self._is_over(job)):
            if place <= missing[-1]:
                self._ring.put(place, KeptPicture(self._maker.small(frame), is_proxy=False))
            if place >= missing[-1]:
                return

    def _is_there(self, number: int) -> bool:
        return self._ring.has(number) or (self._builder is not None and self._builder.has_frame(number))
